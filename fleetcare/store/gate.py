"""The last gate before the driver: text that one of the databases would not take, or would not give back."""

from __future__ import annotations

from typing import TypeVar

from fleetcare.errors import BadInput

T = TypeVar("T")


def gated(value: T) -> T:
    """The value itself.

    Raises BadInput for text with NUL (PostgreSQL refuses it) or lone surrogates (no driver takes them).
    """
    if isinstance(value, str) and ("\0" in value or any("\ud800" <= sign <= "\udfff" for sign in value)):
        raise BadInput("A text holds a sign that cannot be kept.", remedy="Type it anew.")
    return value
