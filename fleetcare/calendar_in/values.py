"""From what the child process says to values. It read a stranger's file, so nothing it says is taken on trust."""

from __future__ import annotations

import json
import re
from datetime import date, datetime, timedelta
from typing import Any

from fleetcare.calendar_in.expanding import NOTE, TITLE, Task
from fleetcare.calendar_in.told import from_parts
from fleetcare.errors import CalendarTrouble
from fleetcare.fleet.busy import CalendarCopy, CalendarEvent
from fleetcare.quantities import DateSpan

NOT_UNDERSTOOD = CalendarTrouble("It could not be read.", remedy="Open it in a calendar program and export it anew.")
MOST_NOTICES = 40
_ID = re.compile(r"[0-9a-f]{32}")


def copy_from(answer: bytes, task: Task, *, read_on: date) -> CalendarCopy:
    """The copy that the child's answer describes. Raises CalendarTrouble: the refusal, or an answer that is none."""
    try:
        given = json.loads(answer)
        if "refused" in given:
            raise CalendarTrouble(from_parts(given["refused"]), remedy="What was read before stays.")
        events = tuple(_event(each) for each in _list(given["events"], task.limits.entries))
        notices = tuple(from_parts(each) for each in _list(given["notices"], MOST_NOTICES))
        shown_from = None if given["shown_from"] is None else _day_or_none(given["shown_from"])
    except (KeyError, TypeError, ValueError, OverflowError, RecursionError) as odd:
        raise CalendarTrouble(NOT_UNDERSTOOD.what, remedy=NOT_UNDERSTOOD.remedy) from odd
    return CalendarCopy(read_on, DateSpan(task.first, task.end), events, shown_from, notices)


def _event(given: Any) -> CalendarEvent:
    begins_at, ends_at = _instant(given["begins_at"]), _instant(given["ends_at"])
    if (begins_at is None) != (ends_at is None) or (begins_at and ends_at and ends_at < begins_at):
        raise ValueError("half a time")
    own_id = _text(given["id"], 32)
    if not _ID.fullmatch(own_id):
        raise ValueError("no id")
    return CalendarEvent(
        id=own_id,
        days=DateSpan(_day(given["first"]), _day(given["end"])),
        begins_at=begins_at,
        ends_at=ends_at,
        title=_text(given["title"], TITLE),
        note=_text(given["note"], NOTE),
        is_busy=_truth(given["busy"]),
        is_cancelled=_truth(given["cancelled"]),
        is_single=_truth(given["single"]),
    )


def _list(given: Any, most: int) -> list[Any]:
    if not isinstance(given, list) or len(given) > most:
        raise ValueError("no list, or too long")
    return given


def _text(given: Any, most: int) -> str:
    """Text that every database keeps: no NUL, no half characters."""
    if not isinstance(given, str) or len(given) > most:
        raise ValueError("no text, or too long")
    return given.replace("\0", "").encode("utf-8", "replace").decode("utf-8")


def _truth(given: Any) -> bool:
    if not isinstance(given, bool):
        raise TypeError("neither true nor false")
    return given


def _day(given: Any) -> date:
    return date.fromisoformat(_text(given, 10))


def _day_or_none(given: Any) -> date | None:
    try:
        return _day(given)
    except ValueError:  # 31 February as the day of some event is no reason to refuse the others
        return None


def _instant(given: Any) -> datetime | None:
    if given is None:
        return None
    instant = datetime.fromisoformat(_text(given, 40))
    if instant.utcoffset() != timedelta(0):
        raise ValueError("not UTC")
    return instant
