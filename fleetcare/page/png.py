"""A drawing that stands alone as a picture in dots. Its letters are shapes, so no font of the machine is asked for."""

from __future__ import annotations

import resvg_py


def png_of(svg: str, *, zoom: int = 2) -> bytes:
    """The drawing as PNG. svg: a file as `lone` makes it. zoom: dots for each of its units, along and down."""
    return resvg_py.svg_to_bytes(svg_string=svg, zoom=float(zoom), skip_system_fonts=True)
