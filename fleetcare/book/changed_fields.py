"""What a garage changed in a row of the book, told in the reader's language: the field, what stood, what stands.

`Override` keeps both in English words, as `settings/book_files.py` put them together; here they are taken apart again.
Whatever fits nothing here, such as a title or a note, is a text of a book.
"""

from __future__ import annotations

import re

from fleetcare.language import later, tr, tr_book
from fleetcare.wording import counted

_FIELDS = frozenset(
    (
        later("title"),
        later("short name"),
        later("components"),
        later("vehicles"),
        later("action"),
        later("source"),
        later("note"),
        later("proposed"),
        later("look first"),
        later("give"),
        later("mixing"),
        later("after"),
        later("distance"),
        later("months"),
        later("weeks"),
        later("hours"),
    )
)
_WITH_MODIFIER = " with a friction modifier"
_COUNT = re.compile(r"([\d\u2009]+) (day|week|month)s?")
_PRINTED = re.compile(r"(.+) \(printed beside it: ([^)]+)\)")


def field_words(field: str) -> str:
    """`title`, `repeat distance under towing`, as `Override.field` has it."""
    if field.endswith(_WITH_MODIFIER):
        return tr("{limit} with a friction modifier", limit=field_words(field.removesuffix(_WITH_MODIFIER)))
    if field.startswith("repeat "):
        return tr("repeat {limit}", limit=field_words(field.removeprefix("repeat ")))
    if field.startswith("first "):
        return tr("first {limit}", limit=field_words(field.removeprefix("first ")))
    if field.startswith("distance under "):
        return tr("distance under {duty}", duty=tr_book(field.removeprefix("distance under ")))
    return tr(field) if field in _FIELDS else field


def value_words(value: str) -> str:
    """`21 days`, `30 000 mi (printed beside it: 48 000 km)`, `nothing`, as `Override.was` and `.now` have it."""
    if value == "nothing":
        return tr("nothing")
    if found := _COUNT.fullmatch(value):
        number = int(found[1].replace("\u2009", ""))
        words = {"day": counted(number, "day"), "week": counted(number, "week"), "month": counted(number, "month")}
        return words[found[2]]
    if found := _PRINTED.fullmatch(value):
        return tr("{figure} (printed beside it: {other})", figure=found[1], other=found[2])
    return tr_book(value)
