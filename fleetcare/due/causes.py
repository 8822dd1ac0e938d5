"""Why a due window moved: kept in the log with its figures, told in the reader's language.

Before migration 0017 the English alone was kept, and the log keeps it for ever. Each sentence was made from one of
`CAUSES`, so it is taken apart again where it is told. Whatever fits none of them stands as it is.
"""

from __future__ import annotations

import re
from datetime import date
from functools import cache

from fleetcare.due.telling import dated_words
from fleetcare.figures import kept_day
from fleetcare.language import FromBook, Saying, later, saying, tr, tr_book
from fleetcare.language.tongue import ENGLISH_MONTHS

CAUSES = (
    later("the reading of {day}"),
    later("a reading of {mark} taken back"),
    later("a held reading of {mark} settled"),
    later("the work of {day} ({service})"),
    later("sheet {sheet} handed in"),
    later("sheet {sheet} put back"),
    later("finding {finding} settled"),
    later("laid up from {day} until further notice"),
    later("laid up from {day} to {last_day}"),
    later("let out on {day}"),
    later("{event} on {day}"),
    later("{event} taken back"),
    later("spell taken back"),
    later("calendar {calendar} read"),
    later("calendar {calendar} taken away"),
    later("{part} of {vehicle} fitted"),
    later("{part} of {vehicle} to {there}"),
    later("{vehicle} put on the road"),
    later("{vehicle} changed"),
    later("{vehicle} sold or given away"),
    later("{vehicle} is back"),
    later("{service}: as in the book"),
    later("tag: {tag}"),
    later("brought in from {file}"),
    later("taken up again from a backup"),
    later("forecast fitted to this garage"),
    later("the start of the program"),
    later("worked out again by command"),
    later("the demo begins"),
    later("a new day"),
    later("{booking}, {day}"),
)
"""What the log can name; of two that fit the first one counts."""
_DAYS = ("day", "last_day")
_FROM_BOOKS = ("service", "event", "part", "tag")
_DAY = re.compile(rf"(\d{{1,2}}) ({'|'.join(ENGLISH_MONTHS)}) (\d{{4}})")


def cause(text: str, **facts: object) -> Saying:
    """One of `CAUSES` with its facts, as text in English whatever language is in force; days are given as days.

    Raises ValueError for a text that is none of them, since nobody could tell it in another language.
    """
    if text not in CAUSES:
        raise ValueError(f"{text!r} is none of the causes that can be told again.")
    return saying(text, **{name: _kept(name, fact) for name, fact in facts.items()})


def _kept(name: str, fact: object) -> object:
    if isinstance(fact, date):
        return kept_day(fact)
    return FromBook(fact) if name in _FROM_BOOKS and isinstance(fact, str) else fact


def cause_told(why: str) -> str:
    """What the log has as a cause, in the language in force."""
    if isinstance(why, Saying):
        return tr(why)
    if why in CAUSES:  # without facts, though it may look like another with one
        return tr(why)
    for text, pattern in _patterns():
        found = pattern.fullmatch(why)
        if found is not None:
            return tr(text, **{name: _fact_told(name, fact) for name, fact in found.groupdict().items()})
    return why


@cache
def _patterns() -> tuple[tuple[str, re.Pattern[str]], ...]:
    return tuple((text, _pattern(text)) for text in CAUSES)


def _pattern(text: str) -> re.Pattern[str]:
    parts = re.split(r"\{(\w+)\}", text)
    return re.compile(
        "".join(
            (f"(?P<{part}>{_DAY.pattern if part in _DAYS else '.+'})" if place % 2 else re.escape(part))
            for place, part in enumerate(parts)
        )
    )


def _fact_told(name: str, fact: str) -> str:
    if name in _DAYS:
        found = _DAY.fullmatch(fact)
        assert found is not None  # the pattern of the whole has it in it
        return dated_words(date(int(found[3]), ENGLISH_MONTHS.index(found[2]) + 1, int(found[1])))
    return tr_book(fact) if name in _FROM_BOOKS else fact
