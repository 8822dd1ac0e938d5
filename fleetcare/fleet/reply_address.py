"""The address that answers to one reading request are sent to: it is told from others by the key in it."""

from __future__ import annotations

import re

from fleetcare.errors import BadInput, shown
from fleetcare.language import saying

KEY_PLACE = "{key}"
KEY_LENGTH = 32
_MOST_LOCAL = 64
"""Octets left of the @. Source: RFC 5321, 4.5.3.1.1."""
_PATTERN = re.compile(
    r"(?P<local>[A-Za-z0-9_.=+-]*\{key\}[A-Za-z0-9_.=+-]*)@(?P<domain>[A-Za-z0-9](?:[A-Za-z0-9.-]*[A-Za-z0-9])?)"
)
_KEY = f"[a-z2-7]{{{KEY_LENGTH}}}"


class ReplyAddresses:
    """Addresses made from a pattern such as `garage+{key}@garage.example` or `{key}@readings.garage.example`."""

    def __init__(self, pattern: str) -> None:
        """Raises BadInput for a pattern that makes no addresses."""
        found = _PATTERN.fullmatch(pattern)
        if found is None or ".." in pattern or found["local"][0] == "." or found["local"][-1] == ".":
            raise BadInput(
                saying("{pattern} makes no addresses for answers.", pattern=shown(pattern)),
                remedy="Write one with {key} left of the @, as garage+{key}@garage.example.",
                field="address",
            )
        if len(found["local"]) - len(KEY_PLACE) + KEY_LENGTH > _MOST_LOCAL:
            raise BadInput(
                saying("{pattern} makes addresses that are too long.", pattern=shown(pattern)),
                remedy=saying(
                    "Left of the @ there is room for {most_local} signs beside the key.",
                    most_local=_MOST_LOCAL - KEY_LENGTH,
                ),
                field="address",
            )
        self._pattern = pattern
        before, _, after = pattern.partition(KEY_PLACE)
        # What stands around it in a header never belongs to the address: it ends at anything but these.
        self._address = re.compile(
            rf"(?<![A-Za-z0-9_.=+-]){re.escape(before)}({_KEY}){re.escape(after)}(?![A-Za-z0-9.-])", re.IGNORECASE
        )

    def address(self, key: str) -> str:
        """The address with that key in it: 32 small letters and digits, as `chance.in_small_letters` makes them."""
        return self._pattern.replace(KEY_PLACE, key)

    def key_in(self, text: str) -> str:
        """The key in the first such address that stands in a text, in small letters; empty if there is none."""
        found = self._address.search(text)
        return "" if found is None else found[1].lower()
