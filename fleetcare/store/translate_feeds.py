"""Between rows and values, for keys and calendars: the other file that knows both."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import Any

from fleetcare.calendar_feed.calm import Shown
from fleetcare.calendar_feed.values import FeedBody, FeedContents, PublishedEntry, Revision, number_of
from fleetcare.due.outlook import Cause, DueWindow
from fleetcare.fleet.access import AccessKey, Fetch, Purpose, Scope
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.feed_choice import FeedAlarm, FeedChoice, Topic, WindowDate
from fleetcare.store.cells import Columns, instant_or_none, instant_text
from fleetcare.store.gate import gated, gated_figure


def key_columns(key: AccessKey) -> Columns:
    """A key on its way in."""
    return {
        "hash": key.hash,
        "purpose": key.purpose.value,
        "person": key.person,
        "mark": key.mark,
        "made_at": instant_text(key.made_at),
        "expires_at": instant_or_none(key.expires_at),
        "revoked_at": instant_or_none(key.revoked_at),
        "name": key.name,
        "replaced_at": instant_or_none(key.replaced_at),
        "scope": key.scope.value,
    }


def key(row: Any) -> AccessKey:
    """A key on its way out."""
    return AccessKey(
        hash=row.hash,
        purpose=Purpose(row.purpose),
        person=row.person,
        mark=row.mark,
        made_at=_instant(row.made_at),
        expires_at=_instant_or_none(row.expires_at),
        revoked_at=_instant_or_none(row.revoked_at),
        name=row.name,
        replaced_at=_instant_or_none(row.replaced_at),
        scope=Scope(row.scope),
    )


def fetch_columns(key_hash: str, fetch: Fetch) -> Columns:
    """A fetch on its way in."""
    return {"hash": key_hash, "at": instant_text(fetch.at), "reader": fetch.reader}


def fetch(row: Any) -> tuple[str, Fetch]:
    """A key hash with its fetch, on its way out."""
    return row.hash, Fetch(_instant(row.at), row.reader)


def contents_columns(contents: FeedContents) -> Columns:
    """What stands in a feed, on its way in."""
    return {
        "person": contents.person,
        "mark": contents.mark,
        "etag": contents.etag,
        "modified_at": instant_text(contents.modified_at),
        "head": contents.head,
        "form": contents.form,
        "marks": _texts(contents.marks),
        "entries": json.dumps(contents.entries, separators=(",", ":")),
        "aside": json.dumps(contents.aside, separators=(",", ":")),
        "gone": json.dumps([[number, instant_text(at)] for number, at in contents.gone], separators=(",", ":")),
    }


def contents(row: Any) -> FeedContents:
    """What stands in a feed, on its way out."""
    return FeedContents(
        person=row.person,
        mark=row.mark,
        etag=row.etag,
        modified_at=_instant(row.modified_at),
        head=bytes(row.head),
        form=row.form,
        marks=_texts_of(row.marks),
        entries=tuple(json.loads(row.entries)),
        aside=tuple(json.loads(row.aside)),
        gone=tuple((number, _instant(at)) for number, at in json.loads(row.gone)),
    )


def scope(row: Any) -> tuple[tuple[str, str], tuple[str, tuple[str, ...]]]:
    """A feed with what it was made for, on its way out. row: person, mark, form, marks."""
    person, mark, form, marks = row
    return (person, mark), (form, _texts_of(marks))


def revision_columns(entry: PublishedEntry) -> Columns:
    """A revision on its way in."""
    return {
        "id": number_of(entry.digest),
        "uid": entry.uid,
        "sequence": entry.sequence,
        "created_at": instant_text(entry.created_at),
        "modified_at": instant_text(entry.modified_at),
        "content_hash": entry.content_hash,
        "time_hash": entry.time_hash,
        "digest": entry.digest,
        "size": entry.size,
        "sort_key": entry.sort_key,
        "mark": entry.mark,
        "body": entry.body,
    }


LIGHT = (
    *("id", "uid", "sequence", "created_at", "modified_at", "content_hash", "time_hash", "digest", "size", "sort_key"),
    "mark",
)
"""Columns of a revision without its bytes, in the order `revision` takes them."""


def revision(row: Any) -> Revision:
    """A revision without its bytes, on its way out. row: in the order of `LIGHT` (plain tuples, there may be many)."""
    number, uid, sequence, created_at, modified_at, content_hash, time_hash, digest, size, sort_key, mark = row
    return Revision(
        uid=uid,
        sequence=sequence,
        created_at=_instant(created_at),
        modified_at=_instant(modified_at),
        content_hash=content_hash,
        time_hash=time_hash,
        digest=digest,
        size=size,
        sort_key=sort_key,
        mark=mark,
        id=number,
    )


def published(row: Any, withdrawn_at: datetime | None) -> PublishedEntry:
    """A revision with its bytes, on its way out, as it stands in one feed."""
    return PublishedEntry(
        uid=row.uid,
        sequence=row.sequence,
        created_at=_instant(row.created_at),
        modified_at=_instant(row.modified_at),
        content_hash=row.content_hash,
        time_hash=row.time_hash,
        digest=row.digest,
        size=row.size,
        sort_key=row.sort_key,
        mark=row.mark,
        withdrawn_at=withdrawn_at,
        id=row.id,
        body=bytes(row.body),
    )


def shown_columns(line: LineKey, shown: Shown) -> Columns:
    """What calendars say of a line, on its way in."""
    return {
        "mark": line.mark,
        "component": line.component,
        "service": line.service,
        "early": shown.window.early.isoformat(),
        "likely": shown.window.likely.isoformat(),
        "late": shown.window.late.isoformat(),
        "cause": shown.window.cause.value,
        "worn": _figure(shown.worn),
        "pace": _figure(shown.pace_km_per_day),
    }


def shown(row: Any) -> tuple[LineKey, Shown]:
    """A line with what calendars say of it, on its way out."""
    early, likely, late = (date.fromisoformat(day) for day in (row.early, row.likely, row.late))
    return LineKey(row.mark, row.component, row.service), Shown(
        DueWindow(early, likely, late, Cause(row.cause)),
        None if row.worn is None else float(row.worn),
        None if row.pace is None else float(row.pace),
    )


def choice_columns(person: str, choice: FeedChoice) -> Columns:
    """A choice on its way in."""
    return {
        "person": person,
        "topics": _texts(topic.value for topic in choice.topics),
        "dates": _texts(which.value for which in choice.dates),
        "marks": _texts(choice.marks),
        "alarms": json.dumps(
            [[gated(alarm.name), alarm.days_before, int(alarm.at.total_seconds())] for alarm in choice.alarms],
            ensure_ascii=False,
            separators=(",", ":"),
        ),
    }


def choice(row: Any) -> FeedChoice:
    """A choice on its way out."""
    return FeedChoice(
        topics=tuple(Topic(topic) for topic in json.loads(row.topics)),
        dates=tuple(WindowDate(which) for which in json.loads(row.dates)),
        marks=tuple(json.loads(row.marks)),
        alarms=tuple(FeedAlarm(name, days, timedelta(seconds=at)) for name, days, at in json.loads(row.alarms)),
    )


def farewell_columns(key_hash: str, body: FeedBody) -> Columns:
    """A farewell on its way in."""
    return {
        "hash": key_hash,
        "etag": body.etag,
        "modified_at": instant_text(body.modified_at),
        "body": body.body,
    }


def instant(text: str) -> datetime:
    """An instant on its way out."""
    return _instant(text)


def _figure(value: float | None) -> str | None:
    return None if value is None else repr(gated_figure(float(value)))


def _texts(values: Iterable[str]) -> str:
    return json.dumps([gated(value) for value in values], ensure_ascii=False, separators=(",", ":"))


@lru_cache(maxsize=4096)
def _texts_of(text: str) -> tuple[str, ...]:
    return tuple(json.loads(text))


@lru_cache(maxsize=4096)
def _instant(text: str) -> datetime:
    return datetime.fromisoformat(text)


def _instant_or_none(text: str | None) -> datetime | None:
    return None if text is None else _instant(text)
