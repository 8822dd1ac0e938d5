"""The one parser for days, and the one for instants.

Days (`parse_day`), after blanks around it are dropped; digits are ASCII:

    day    = iso / dotted / worded
    iso    = 4DIGIT "-" 2DIGIT "-" 2DIGIT                       ; 2026-03-31
    dotted = 1*2DIGIT "." [SP] 1*2DIGIT "." [SP] 4DIGIT         ; 31.3.2026: with points the day comes first
    worded = 1*2DIGIT ["."] SP month SP 4DIGIT                   ; 31 March 2026, 31 Mar 2026, any case

A day with strokes (3/4/2026) is 3 April to some and 4 March to others, so it is refused; so are years of two digits.
"""

from __future__ import annotations

import calendar
import re
from datetime import UTC, date, datetime
from functools import partial

from fleetcare.errors import BadInput, shown
from fleetcare.language import saying
from fleetcare.wording import MONTHS, month_name

FIRST_YEAR = 1900
LAST_YEAR = 2199

_ISO = re.compile(r"(?P<year>[0-9]{4})-(?P<month>[0-9]{2})-(?P<day>[0-9]{2})")
_DOTTED = re.compile(r"(?P<day>[0-9]{1,2})\. ?(?P<month>[0-9]{1,2})\. ?(?P<year>[0-9]{4})")
_WORDED = re.compile(r"(?P<day>[0-9]{1,2})\.? (?P<word>[A-Za-z]{3,9})\.?,? (?P<year>[0-9]{4})")
_STROKES = re.compile(r"(?P<one>[0-9]{1,2})[/-](?P<two>[0-9]{1,2})[/-](?P<year>[0-9]{4})")
_WITH_TIME = re.compile(r"(?P<day>[0-9]{4}-[0-9]{2}-[0-9]{2})[T ][0-9:.Z+-]+")
_INSTANT = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}:[0-9]{2}(?:\.[0-9]{1,6})?(?:Z|[+-][0-9]{2}:[0-9]{2})"
)
_MONTH_NUMBERS = {word: at for at, month in enumerate(MONTHS, 1) for word in (month.casefold(), month[:3].casefold())}
_MONTH_NUMBERS["sept"] = 9

_ASK = "Write it as 2026-03-31: year, month, day."


def parse_day(text: str, *, field: str = "date") -> date:
    """The day somebody wrote, by the grammar at the top of this file. Raises BadInput with what to write instead."""
    given = " ".join(text.split())
    if not given:
        raise BadInput("There is no day.", remedy=_ASK, field=field)
    if len(given) > 40:
        raise BadInput(saying("That is not a day: {given}.", given=shown(given, 20)), remedy=_ASK, field=field)
    found = _ISO.fullmatch(given) or _DOTTED.fullmatch(given)
    if found is not None:
        return _day(int(found["year"]), int(found["month"]), int(found["day"]), given, field)
    worded = _WORDED.fullmatch(given)
    if worded is not None and worded["word"].casefold() in _MONTH_NUMBERS:
        month = _MONTH_NUMBERS[worded["word"].casefold()]
        return _day(int(worded["year"]), month, int(worded["day"]), given, field)
    raise _not_a_day(given, field)


def parse_instant(text: str, *, field: str = "entered_at") -> datetime:
    """An instant with its offset, `2026-03-31T07:00:00Z`, in UTC. Raises BadInput."""
    given = text.strip()
    if _INSTANT.fullmatch(given):
        try:
            instant = datetime.fromisoformat(given).astimezone(UTC)
        except (ValueError, OverflowError):
            pass
        else:
            if FIRST_YEAR <= instant.year <= LAST_YEAR:
                return instant
    raise BadInput(
        saying("That is not a moment in time: {given}.", given=shown(given)),
        remedy="Write it as 2026-03-31T07:00:00Z, with Z or an offset such as +02:00.",
        field=field,
    )


def instant_words(instant: datetime) -> str:
    """An instant as files hold it, in UTC with Z; `parse_instant` reads it back."""
    return instant.astimezone(UTC).isoformat().replace("+00:00", "Z")


def _day(year: int, month: int, day: int, given: str, field: str) -> date:
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise BadInput(
            saying("The year of {given} cannot be right.", given=shown(given)),
            remedy=saying(
                "Years from {first_year} to {last_year} are taken.", first_year=FIRST_YEAR, last_year=LAST_YEAR
            ),
            field=field,
        )
    if not 1 <= month <= 12:
        raise BadInput(
            saying("There is no month {month}: {given}.", month=month, given=shown(given)), remedy=_ASK, field=field
        )
    days = calendar.monthrange(year, month)[1]
    if not 1 <= day <= days:
        raise BadInput(
            saying("There is no {day} {month_name} {year}.", day=day, month_name=partial(month_name, month), year=year),
            remedy=saying(
                "{month_name} {year} has {days} days.", month_name=partial(month_name, month), year=year, days=days
            ),
            field=field,
        )
    return date(year, month, day)


def _not_a_day(given: str, field: str) -> BadInput:
    strokes = _STROKES.fullmatch(given)
    if strokes is not None:
        one, two, year = int(strokes["one"]), int(strokes["two"]), int(strokes["year"])
        ways = {way for way in (_way(year, two, one), _way(year, one, two)) if way}
        if len(ways) == 2:
            first, second = sorted(ways)
            return BadInput(
                saying("{given} can be read in two ways.", given=shown(given)),
                remedy=saying("Write {first} or {second}: year, month, day.", first=first, second=second),
                field=field,
            )
        if ways:
            return BadInput(
                saying("{given} is not taken with strokes.", given=shown(given)),
                remedy=saying("Write {day}.", day=ways.pop()),
                field=field,
            )
    with_time = _WITH_TIME.fullmatch(given)
    if with_time is not None:
        return BadInput(
            saying("{given} is a moment, not a day.", given=shown(given)),
            remedy=saying("Write the day alone: {day}.", day=with_time["day"]),
            field=field,
        )
    return BadInput(saying("That is not a day: {given}.", given=shown(given)), remedy=_ASK, field=field)


def _way(year: int, month: int, day: int) -> str:
    """One way to read it, as it should be written; empty if there is no such day."""
    try:
        return date(year, month, day).isoformat()
    except ValueError:
        return ""
