"""The style sheet: one file for every page, put together once from the parts in `style/`, in the order of their names.

One room, one part, so that what belongs to a page is found and removed in one place. The order matters: what holds for
phones and for paper comes last and overrules what stands before it.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

PARTS = Path(__file__).parent / "style"
STYLE_SHEET = "fleetcare.css"
"""Its name among the static files; `fonts/` in it is beside it there."""


@cache
def style_sheet() -> str:
    """The text of the style sheet."""
    return "".join(part.read_text("utf-8") for part in sorted(PARTS.glob("*.css")))
