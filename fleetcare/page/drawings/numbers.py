"""How a coordinate is written: one decimal at most."""

from __future__ import annotations


def coordinate(value: float) -> str:
    """A coordinate with at most one decimal, without a trailing nought: `12`, `377.4`, `-0.5`."""
    text = f"{value:.1f}"
    return text.removesuffix(".0") if text != "-0.0" else "0"
