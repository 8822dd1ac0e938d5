"""The one text gate: everything somebody typed passes it before it becomes a value."""

from __future__ import annotations

import unicodedata

from fleetcare.errors import BadInput, shown
from fleetcare.language import saying

LIMITS: dict[str, int] = {
    "key": 60,
    "mark": 6,
    "name": 120,
    "title": 120,
    "mail": 254,
    "vin": 40,
    "fluid_grade": 80,
    "fact": 200,
    "description": 2000,
    "note": 2000,
    "finding": 2000,
}
"""Most characters by field, counted after NFC; any other field has the limit of a name."""

_JOINERS = "\u200c\u200d"
"""Zero-width joiners: the only unseen characters that spell something (Persian words, joined emoji)."""
_LINE_BREAKS = "\n\r\u0085\u2028\u2029"


def clean_text(text: str, *, field: str = "name", limit: int | None = None, required: bool = False) -> str:
    """The text as it is kept: in Unicode normal form C, without blanks around it, on one line.

    field: what it is, for the limit on its length and for `BadInput.field`. limit: in place of that limit.
    Raises BadInput for a control character (C0, C1), a line break inside, U+2028, U+2029, NUL, half a surrogate pair, a
    sign that changes the direction of writing, another unseen sign, a noncharacter, `=?` in a name or title (mail
    programs decode what follows it), a text longer than the limit, and an empty one where `required`.
    Source of the classes: Unicode 15, UAX #44 general categories; UAX #9 for the direction signs.
    """
    most = limit if limit is not None else LIMITS.get(field, LIMITS["name"])
    label = saying(field.replace("_", " "))
    if len(text) > most * 4 + 64:  # normal form C makes a text at most three times as long or short; do not even try
        raise BadInput(
            saying("The {label} is too long.", label=label),
            remedy=saying("At most {most} characters, please.", most=most),
            field=field,
        )
    clean = unicodedata.normalize("NFC", text).strip()
    for place, sign in enumerate(clean, start=1):
        if " " <= sign <= "~":
            continue
        trouble = _trouble(sign)
        if trouble:
            raise BadInput(
                saying(
                    "The {label} holds {trouble} (U+{ord}) as character {place}: {clean}.",
                    label=label,
                    trouble=trouble,
                    ord=f"{ord(sign):04X}",
                    place=place,
                    clean=shown(clean),
                ),
                remedy="Type it again without that, on one line.",
                field=field,
            )
    if field in ("name", "title") and "=?" in clean:
        raise BadInput(
            saying("The {label} holds “=?”: {clean}.", label=label, clean=shown(clean)),
            remedy="Leave that out.",
            field=field,
        )
    if len(clean) > most:
        raise BadInput(
            saying("The {label} is {clean} characters long.", label=label, clean=len(clean)),
            remedy=saying("At most {most}, please.", most=most),
            field=field,
        )
    if required and not clean:
        raise BadInput(saying("The {label} is empty.", label=label), remedy="Write something there.", field=field)
    return clean


def _trouble(sign: str) -> str:
    """What is wrong with one character, in words; empty if nothing is."""
    if sign in _LINE_BREAKS:
        return saying("a line break")
    category = unicodedata.category(sign)
    if category == "Cs":
        return saying("half a character")
    if category in ("Cc", "Zl", "Zp"):
        return saying("a control character")
    if category == "Cf" and sign not in _JOINERS:
        return saying("a sign that cannot be seen")
    code = ord(sign)
    if code & 0xFFFE == 0xFFFE or 0xFDD0 <= code <= 0xFDEF:
        return saying("something that is no character")
    return ""
