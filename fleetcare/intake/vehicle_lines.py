"""Lines of JSON, a vehicle each, as `fleetcare forecast` takes them, and its answers as lines of JSON.

One object a line, UTF-8. Nothing is guessed: a key that is not known, a number in quotes or a day in other words is
refused, with the place where it stands, such as `readings[3]`.
"""

from __future__ import annotations

import difflib
import json
from collections.abc import Callable
from datetime import date
from functools import lru_cache
from typing import Any, TypeVar

from fleetcare.due.vehicle_lines import ServiceLine, VehicleDates, VehicleLine
from fleetcare.errors import BadInput, shown
from fleetcare.intake.dates import FIRST_YEAR, LAST_YEAR, parse_day
from fleetcare.intake.json_entries import bad, no_number, object_of_pairs
from fleetcare.language import saying
from fleetcare.quantities import DateSpan, MeterUnit
from fleetcare.usage.reading_walk import DialReading

MOST_BYTES = 32_000_000
"""Of one line."""
MOST_READINGS = 100_000
MOST_ENTRIES = 1_000
"""Services, trips or spells of one vehicle."""
LARGEST = 1e12
"""No dial has more than twelve digits."""

VEHICLE_KEYS = (
    *("id", "unit", "as_of", "in_service", "readings", "trips", "parked", "services"),
    *("max_per_day", "vouched", "digits", "rolls_over"),
)
SERVICE_KEYS = ("id", "due_at", "remaining", "not_after")

_NEEDED = ("id", "unit", "as_of", "services")
_UNITS = {unit.value: unit for unit in MeterUnit}
_FIRST, _LAST = date(FIRST_YEAR, 1, 1), date(LAST_YEAR, 12, 31)

T = TypeVar("T")


def parse_vehicle_line(line: bytes) -> VehicleLine:
    """The vehicle on one line. Raises BadInput; its `field` is the place in the line, empty for the line as a whole."""
    given = _object_in(line)
    for key in given:
        if key not in VEHICLE_KEYS:
            raise _unknown(key, VEHICLE_KEYS, "")
    for key in _NEEDED:
        if given.get(key) is None:
            raise bad(saying("The key {key} is missing.", key=key), _EXAMPLES[key], key)
    unit = given["unit"]
    if not isinstance(unit, str) or unit not in _UNITS:
        raise bad(saying("The unit is {value}.", value=_value(unit)), 'Write "km", "mi" or "h".', "unit")
    as_of = _day(given["as_of"], "as_of")
    readings = _readings(given, as_of)
    digits = given.get("digits")
    if digits is not None and (type(digits) is not int or not 3 <= digits <= 9):
        raise bad(
            saying("The dial has {value} digits.", value=_value(digits)), "Write a whole number from 3 to 9.", "digits"
        )
    rolls_over = given.get("rolls_over", False)
    if type(rolls_over) is not bool:
        raise bad(saying("rolls_over is {value}.", value=_value(rolls_over)), "Write true or false.", "rolls_over")
    if rolls_over and digits is None:
        raise bad("A dial that rolls over needs its digits.", 'Add "digits": 5, or as many as it has.', "rolls_over")
    most = given.get("max_per_day")
    if most is not None and not (_number(most, "max_per_day") > 0.0):
        raise bad("max_per_day is not more than nought.", "Write the most it can do in a day.", "max_per_day")
    in_service = given.get("in_service")
    return VehicleLine(
        name=_name(given["id"], "id"),
        unit=_UNITS[unit],
        as_of=as_of,
        services=_services(given),
        readings=readings,
        in_service=None if in_service is None else _no_later(_day(in_service, "in_service"), as_of, "in_service"),
        trips=_each(given, "trips", _trip),
        laid_up=_each(given, "parked", _spell),
        max_per_day=None if most is None else float(most),
        digits=digits,
        rolls_over=rolls_over,
    )


def answer_line(dates: VehicleDates) -> str:
    """The answer as one line of JSON without its end; days as 2026-03-31, null for never."""
    services = {name: [None if day is None else day.isoformat() for day in window] for name, window in dates.services}
    return _encode({"id": dates.name, "services": services, "suspect": list(dates.suspect)})


_encode = json.JSONEncoder().encode

_EXAMPLES = {
    "id": 'Write "id": "van 7".',
    "unit": 'Write "unit": "km", "mi" or "h".',
    "as_of": 'Write "as_of": "2026-03-31", the day of the question.',
    "services": 'Write "services": [{"id": "oil", "due_at": 90000}].',
}


def _object_in(line: bytes) -> dict[str, Any]:
    try:
        given = _decode(line.decode("utf-8"))
    except UnicodeDecodeError as error:
        raise bad(saying("Byte {start} is not UTF-8.", start=error.start + 1), "Save the file as UTF-8.", "") from None
    except json.JSONDecodeError as error:
        what = error.msg[:1].lower() + error.msg[1:]
        raise bad(
            saying("This is not JSON: {what} at character {pos}.", what=what, pos=error.pos + 1),
            "Write one object in braces a line.",
            "",
        ) from None
    except RecursionError:
        raise bad("The brackets nest too deep.", "Write one object in braces a line.", "") from None
    except ValueError:
        raise bad("A number has too many digits.", "Write numbers as a dial shows them.", "") from None
    if not isinstance(given, dict):
        raise bad("The line is no object.", 'Write one object in braces a line: {"id": ...}.', "")
    return given


_decode = json.JSONDecoder(object_pairs_hook=object_of_pairs, parse_constant=no_number).decode


def _readings(given: dict[str, Any], as_of: int) -> tuple[DialReading, ...]:
    listed = _list(given, "readings", MOST_READINGS)
    marks = _list(given, "vouched", MOST_READINGS)
    vouched = frozenset([mark for mark in marks if type(mark) is int])
    found: list[DialReading] = []
    last = 0
    for place, entry in enumerate(listed):
        on, value = _pair(entry, "readings", place)
        if not last <= on <= as_of:
            raise _out_of_order(entry[0], on, last, f"readings[{place}]")
        last = on
        found.append(DialReading(on, value, place in vouched))
    for place, mark in enumerate(marks):
        if type(mark) is not int or not 0 <= mark < len(listed):
            words = saying("{value} is no place of a reading.", value=_value(mark))
            raise bad(words, "Write places as they stand in readings, from 0.", f"vouched[{place}]")
    return tuple(found)


def _out_of_order(given: str, on: int, last: int, field: str) -> BadInput:
    if on < last:
        was = date.fromordinal(last).isoformat()
        return bad(
            saying("{given} comes after {was} in the list.", given=given, was=was),
            "Write readings by day, the oldest first.",
            field,
        )
    return bad(saying("{given} lies after as_of.", given=given), "Leave the reading out, or move as_of.", field)


def _services(given: dict[str, Any]) -> tuple[ServiceLine, ...]:
    found: dict[str, ServiceLine] = {}
    for place, entry in enumerate(_list(given, "services", MOST_ENTRIES)):
        field = f"services[{place}]"
        if not isinstance(entry, dict):
            raise bad(
                saying("A service is {value}.", value=_value(entry)), 'Write {"id": "oil", "due_at": 90000}.', field
            )
        for key in entry:
            if key not in SERVICE_KEYS:
                raise _unknown(key, SERVICE_KEYS, field)
        if entry.get("id") is None:
            raise bad("The key id is missing.", 'Write {"id": "oil", "due_at": 90000}.', field)
        name = _name(entry["id"], f"{field}.id")
        if name in found:
            raise bad(
                saying("Two services are called {name}.", name=shown(name, 40)),
                "Give each a name of its own.",
                f"{field}.id",
            )
        due_at, remaining, not_after = entry.get("due_at"), entry.get("remaining"), entry.get("not_after")
        if due_at is None and remaining is None and not_after is None:
            raise bad("Nothing says when it is due.", 'Add "due_at", "remaining" or "not_after".', field)
        if due_at is not None:
            due_at = _number(due_at, f"{field}.due_at")
            if due_at < 0.0:
                raise bad("A dial never shows less than nought.", "Write what it shows when due.", f"{field}.due_at")
        if remaining is not None:
            remaining = _number(remaining, f"{field}.remaining")
        if not_after is not None:
            not_after = _day(not_after, f"{field}.not_after")
        found[name] = ServiceLine(name, due_at, remaining, not_after)
    return tuple(found.values())


def _trip(entry: Any, place: int) -> tuple[int, float]:
    on, far = _pair(entry, "trips", place)
    if far < 0.0:
        raise bad("A trip cannot be shorter than nought.", "Write its distance.", f"trips[{place}]")
    return on, far


def _spell(entry: Any, place: int) -> DateSpan:
    field = f"parked[{place}]"
    if not isinstance(entry, list) or len(entry) != 2:
        raise bad(
            saying("A spell is {value}.", value=_value(entry)),
            'Write ["2026-11-01", "2027-03-01"]: first day, day of return.',
            field,
        )
    first, end = _day(entry[0], field), _day(entry[1], field)
    if end <= first:
        raise bad("The day of return is not after the first day.", "Write first day, then day of return.", field)
    return DateSpan(date.fromordinal(first), date.fromordinal(end))


def _each(given: dict[str, Any], key: str, parse: Callable[[Any, int], T]) -> tuple[T, ...]:
    listed = _list(given, key, MOST_ENTRIES)
    return tuple([parse(entry, place) for place, entry in enumerate(listed)]) if listed else ()


def _list(given: dict[str, Any], key: str, most: int) -> list[Any]:
    found = given.get(key, [])
    if not isinstance(found, list):
        raise bad(
            saying("{key} is {value}.", key=key, value=_value(found)),
            saying('Write "{key}": [...], or leave it out.', key=key),
            key,
        )
    if len(found) > most:
        raise bad(
            saying("{key} has {found} entries.", key=key, found=len(found)),
            saying("At most {most} are taken.", most=most),
            key,
        )
    return found


def _pair(entry: Any, key: str, place: int) -> tuple[int, float]:
    """A day and a number."""
    if type(entry) is list and len(entry) == 2:
        day, number = entry
        # Nearly every entry is sound: its place is put into words only where it is not.
        if type(day) is str and (type(number) is float or type(number) is int) and -LARGEST < number < LARGEST:
            ordinal = _ordinal(day)
            if ordinal is not None:
                return ordinal, float(number)
        return _day(day, f"{key}[{place}]"), _number(number, f"{key}[{place}]")
    raise bad(saying("An entry is {value}.", value=_value(entry)), 'Write ["2026-03-31", 84210].', f"{key}[{place}]")


def _day(given: Any, field: str) -> int:
    """The ordinal of a day written as 2026-03-31."""
    if type(given) is not str:
        raise bad(
            saying("A day is {value}.", value=_value(given)), 'Write it as "2026-03-31": year, month, day.', field
        )
    ordinal = _ordinal(given)
    if ordinal is not None:
        return ordinal
    try:
        meant = parse_day(given)
    except BadInput as fault:
        raise bad(fault.what, fault.remedy, field) from None
    raise bad(
        saying("That is not how days are written here: {given}.", given=shown(given, 40)),
        saying('Write "{meant}".', meant=meant.isoformat()),
        field,
    )


@lru_cache(maxsize=20_000)
def _ordinal(given: str) -> int | None:
    """None if it is not written as 2026-03-31. Remembered: vehicles of one file are often read on the same days."""
    if len(given) == 10 and given[4] == given[7] == "-":
        try:
            day = date.fromisoformat(given)
        except ValueError:
            return None
        return day.toordinal() if _FIRST <= day <= _LAST else None
    return None


def _no_later(day: int, as_of: int, field: str) -> int:
    if day > as_of:
        raise bad(
            saying("{day} lies after as_of.", day=date.fromordinal(day).isoformat()),
            "Leave it out, or move as_of.",
            field,
        )
    return day


def _number(given: Any, field: str) -> float:
    if type(given) is not float and type(given) is not int:
        raise bad(saying("A number is {value}.", value=_value(given)), "Write a plain number, without quotes.", field)
    if not -LARGEST < given < LARGEST:
        raise bad("A number is longer than any dial.", "At most 12 digits are taken.", field)
    return float(given)


def _name(given: Any, field: str) -> str:
    if not isinstance(given, str) or not given.strip():
        raise bad(saying("The id is {value}.", value=_value(given)), "Write a text in quotes.", field)
    return given


def _unknown(key: str, known: tuple[str, ...], field: str) -> BadInput:
    close = difflib.get_close_matches(key[:80], known, n=1, cutoff=0.6)
    remedy = (
        saying("Did you mean {close}?", close=close[0])
        if close
        else saying("There are {known}.", known=", ".join(known))
    )
    return bad(saying("There is no key {key} here.", key=shown(key, 40)), remedy, field)


def _value(given: Any) -> str:
    """A value as the line has it, for a message; never long."""
    if given is None:
        return "null"
    if isinstance(given, bool):
        return "true" if given else "false"
    if isinstance(given, str):
        return shown(given, 40)
    if isinstance(given, list):
        return f"a list of {len(given)}"
    if isinstance(given, dict):
        return "an object"
    if isinstance(given, int) and not -LARGEST < given < LARGEST:
        return "a number that is too long"
    return shown(str(given), 40)
