"""One language as a value: its texts, the names of its days and months, and how it writes numbers and dates."""

from __future__ import annotations

import string
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

Number = int | float | Decimal

ENGLISH_WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
ENGLISH_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def _one_or_more(count: Number) -> int:
    return 0 if count == 1 else 1


@dataclass(frozen=True, slots=True)
class Names:
    """Names of days (from Monday) and months (from January), long and short, as they stand in a date."""

    weekdays: tuple[str, ...]
    weekdays_short: tuple[str, ...]
    months: tuple[str, ...]
    months_short: tuple[str, ...]


_ENGLISH_NAMES = Names(
    ENGLISH_WEEKDAYS,
    tuple(day[:3] for day in ENGLISH_WEEKDAYS),
    ENGLISH_MONTHS,
    tuple(month[:3] for month in ENGLISH_MONTHS),
)


@dataclass(frozen=True, slots=True)
class Tongue:
    """A language. code: as in `lang`. texts: by context ("" for none) and English text; counted: the forms by number.

    form_of: which of the forms a number asks for. decimal: the sign before decimals. Patterns of days have the parts
    `{weekday}`, `{day}`, `{month}` and `{year}`.
    """

    code: str
    name: str
    texts: Mapping[tuple[str, str], str] = field(default_factory=dict)
    counted: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    form_of: Callable[[Number], int] = _one_or_more
    decimal: str = "."
    quotes: tuple[str, str] = ("“", "”")
    names: Names = _ENGLISH_NAMES
    day_and_month: str = "{day} {month}"
    with_year: str = "{date} {year}"
    with_weekday: str = "{weekday} {date}"
    with_weekday_short: str = "{weekday} {date}"
    dative: Mapping[str, str] = field(default_factory=dict)
    keeps_capitals: bool = False
    """True where nouns have a capital inside a sentence, too."""
    told: Callable[[str], str] = field(default=str)
    """What is done to every text that was found; the tests mark them by it."""

    def said(self, text: str, context: str = "") -> str:
        """The text in this language, not yet filled in; the English one if there is none."""
        return self.told(self.texts.get((context, text)) or text)

    def said_of(self, one: str, more: str, count: Number) -> str:
        """The form for this many, not yet filled in; the English one if there is none."""
        forms = self.counted.get(one)
        if forms and all(forms):
            return self.told(forms[self.form_of(count)])
        return self.told(one if count == 1 else more)

    def filled(self, text: str, facts: Mapping[str, object]) -> str:
        """The text with its facts in their places."""
        if "!d" in text and facts:
            return _Filling(self.dative).vformat(text, (), facts)
        # The same, four times as quick, and a page fills some hundreds.
        return text.format_map(facts) if facts else text


class _Filling(string.Formatter):
    """`str.format`, and `{name!d}` for a fact in the dative."""

    def __init__(self, dative: Mapping[str, str]) -> None:
        self._dative = dative

    def convert_field(self, value: Any, conversion: Any) -> Any:
        if conversion == "d":
            return in_case(str(value), self._dative)
        return super().convert_field(value, conversion)


def in_case(text: str, endings: Mapping[str, str]) -> str:
    """The text with each word that has another form in this case in that form; the others stay."""
    return " ".join(endings.get(word, word) for word in text.split(" "))


def joined_in(tongue: Tongue, words: Sequence[str], last: str) -> str:
    """A list as a sentence has it, with the last word before its last item."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {tongue.said(last)} {words[-1]}"


ENGLISH = Tongue("en", "English")
