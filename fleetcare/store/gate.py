"""The last gate before the driver: text that one of the databases would not take, or would not give back."""

from __future__ import annotations

import math
from typing import TypeVar

from fleetcare.errors import BadInput

T = TypeVar("T")


def gated(value: T) -> T:
    """The value itself.

    Raises BadInput for text with NUL (PostgreSQL refuses it) or lone surrogates (no driver takes them).
    """
    if isinstance(value, str) and ("\0" in value or not (value.isascii() or _is_encodable(value))):
        raise BadInput("A text holds a sign that cannot be kept.", remedy="Type it anew.")
    return value


def gated_figure(value: float) -> float:
    """The figure itself. Raises BadInput for what is no number."""
    if not math.isfinite(value):
        raise BadInput("A figure is not a number.", remedy="Type it anew.")
    return value


def _is_encodable(text: str) -> bool:
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return True
