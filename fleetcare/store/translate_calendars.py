"""Between rows and values, for calendars read by their URL: the third file that knows both."""

from __future__ import annotations

import json
from datetime import date, datetime
from typing import Any

from fleetcare.fleet.busy import CalendarCopy, CalendarEvent, CalendarOwner, CalendarSource
from fleetcare.quantities import DateSpan
from fleetcare.store.cells import Columns, instant_or_none
from fleetcare.store.gate import gated
from fleetcare.store.sentences import kept_text, told_again

_WRITTEN_AS = 1
"""Version of the JSON; a copy written in another way is read again from its calendar, not guessed at."""


def calendar_columns(source: CalendarSource) -> Columns:
    """A calendar on its way in."""
    return {
        "key": source.key,
        "owner_kind": source.owner_kind.value,
        "owner": source.owner,
        "url": source.url,
        "may_be_private": source.may_be_private,
        "etag": source.etag,
        "last_modified": source.last_modified,
        "tried_at": instant_or_none(source.tried_at),
        "good_at": instant_or_none(source.good_at),
        "failures": source.failures,
        "trouble": str(source.trouble),
        "trouble_said": kept_text(source.trouble),
        "last_copy": None if source.copy is None else copy_text(source.copy),
    }


def calendar(row: Any) -> CalendarSource:
    """A calendar on its way out."""
    return CalendarSource(
        key=row.key,
        owner_kind=CalendarOwner(row.owner_kind),
        owner=row.owner,
        url=row.url,
        may_be_private=row.may_be_private,
        etag=row.etag,
        last_modified=row.last_modified,
        tried_at=_instant(row.tried_at),
        good_at=_instant(row.good_at),
        failures=row.failures,
        trouble=told_again(row.trouble, row.trouble_said),
        copy=None if row.last_copy is None else copy_from_text(row.last_copy),
    )


def copy_text(copy: CalendarCopy) -> str:
    """The last good copy as stored."""
    events = [
        [
            gated(event.id),
            event.days.first.isoformat(),
            event.days.end.isoformat(),
            instant_or_none(event.begins_at),
            instant_or_none(event.ends_at),
            gated(event.title),
            gated(event.note),
            event.is_busy,
            event.is_cancelled,
            event.is_single,
        ]
        for event in copy.events
    ]
    whole = {
        "as": _WRITTEN_AS,
        "read_on": copy.read_on.isoformat(),
        "seen": [copy.seen.first.isoformat(), copy.seen.end.isoformat()],
        "shown_from": None if copy.shown_from is None else copy.shown_from.isoformat(),
        "notices": [[gated(str(notice)), gated(kept_text(notice))] for notice in copy.notices],
        "events": events,
    }
    return json.dumps(whole, ensure_ascii=False, separators=(",", ":"))


def copy_from_text(text: str) -> CalendarCopy | None:
    """The last good copy from what is stored; None if another version of the program wrote it in another way."""
    given = json.loads(text)
    if given["as"] != _WRITTEN_AS:
        return None
    return CalendarCopy(
        read_on=date.fromisoformat(given["read_on"]),
        seen=DateSpan(*map(date.fromisoformat, given["seen"])),
        events=tuple(
            CalendarEvent(
                own_id,
                DateSpan(date.fromisoformat(first), date.fromisoformat(end)),
                _instant(begins_at),
                _instant(ends_at),
                title,
                note,
                is_busy,
                is_cancelled,
                is_single,
            )
            for own_id, first, end, begins_at, ends_at, title, note, is_busy, is_cancelled, is_single in given["events"]
        ),
        shown_from=None if given["shown_from"] is None else date.fromisoformat(given["shown_from"]),
        notices=tuple(_notice(each) for each in given["notices"]),
    )


def _notice(given: Any) -> str:
    # A version before this one kept its English alone.
    return given if isinstance(given, str) else told_again(*given)


def _instant(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)
