"""Calendars in the database: their revisions, what stands in each, and what calendars say of a line."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import sqlalchemy as sa
from sqlmodel import SQLModel

from fleetcare.calendar_feed.calm import Shown
from fleetcare.calendar_feed.values import FEED_END, FeedBody, FeedContents, PublishedEntry, Revision
from fleetcare.fleet.access import Fetch
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.feed_choice import FeedChoice
from fleetcare.store import feed_tables, translate_feeds
from fleetcare.store.gate import gated

AT_ONCE = 500
"""Ids or uids named in one statement."""


def _table(row: type[SQLModel]) -> sa.Table:
    return SQLModel.metadata.tables[str(row.__tablename__)]


FEED = _table(feed_tables.FeedRow)
REVISION = _table(feed_tables.RevisionRow)
SHOWN = _table(feed_tables.ShownLineRow)
CHOICE = _table(feed_tables.FeedChoiceRow)
FETCH = _table(feed_tables.FetchRow)
ERA = _table(feed_tables.FeedEraRow)
FAREWELL = _table(feed_tables.FarewellRow)
OWED = _table(feed_tables.FeedOwedRow)
_LIGHT = [REVISION.c[name] for name in translate_feeds.LIGHT]


def fetches(connection: sa.Connection) -> dict[str, Fetch]:
    """The last fetch noted, by key hash."""
    return dict(translate_feeds.fetch(row) for row in connection.execute(sa.select(FETCH)))


def scopes(connection: sa.Connection) -> dict[tuple[str, str], tuple[str, tuple[str, ...]]]:
    """What each feed was made for, by person and mark."""
    asked = sa.select(FEED.c.person, FEED.c.mark, FEED.c.form, FEED.c.marks)
    return dict(sorted(translate_feeds.scope(row) for row in connection.execute(asked)))


def contents(connection: sa.Connection, keys: Iterable[tuple[str, str]] | None) -> tuple[FeedContents, ...]:
    """Feeds (all if None), by person, mark."""
    wanted = None if keys is None else set(keys)
    if wanted is not None and len(wanted) <= AT_ONCE // 10:
        each = (contents_of(connection, person, mark) for person, mark in sorted(wanted))
        return tuple(one for one in each if one is not None)
    rows = connection.execute(sa.select(FEED))
    found = (translate_feeds.contents(row) for row in rows if wanted is None or (row.person, row.mark) in wanted)
    return tuple(sorted(found, key=lambda one: one.key))


def choices(connection: sa.Connection) -> dict[str, FeedChoice]:
    """What people want, by person."""
    return {row.person: translate_feeds.choice(row) for row in connection.execute(sa.select(CHOICE))}


def contents_of(connection: sa.Connection, person: str, mark: str) -> FeedContents | None:
    """One feed."""
    one = sa.select(FEED).where(FEED.c.person == gated(person), FEED.c.mark == gated(mark))
    row = connection.execute(one).first()
    return None if row is None else translate_feeds.contents(row)


def body(connection: sa.Connection, person: str, mark: str) -> FeedBody | None:
    """What is served for one feed, joined."""
    found = contents_of(connection, person, mark)
    if found is None:
        return None
    parts: dict[int, bytes] = {}
    for ids in _chunks(found.entries):
        query = sa.select(REVISION.c.id, REVISION.c.body).where(REVISION.c.id.in_(ids))
        parts.update((number, bytes(part)) for number, part in connection.execute(query))
    return joined(found, parts)


def joined(found: FeedContents, parts: dict[int, bytes]) -> FeedBody:
    """Head, the bytes of the entries in order, and tail. parts: bytes by id."""
    whole = b"".join((found.head, *(parts[number] for number in found.entries), FEED_END))
    return FeedBody(found.person, found.etag, found.modified_at, whole, found.mark)


def published(connection: sa.Connection, person: str, mark: str) -> tuple[PublishedEntry, ...]:
    """Everything that ever stood in one feed, by uid."""
    found = contents_of(connection, person, mark)
    if found is None:
        return ()
    withdrawn = dict(found.gone)
    entries = []
    for ids in _chunks((*found.entries, *found.aside, *withdrawn)):
        rows = connection.execute(sa.select(REVISION).where(REVISION.c.id.in_(ids)))
        entries += [translate_feeds.published(row, withdrawn.get(row.id)) for row in rows]
    return tuple(sorted(entries, key=lambda entry: entry.uid))


def revisions(connection: sa.Connection, ids: Iterable[int] | None) -> dict[int, Revision]:
    """Without their bytes, by id."""
    if ids is None:
        rows: Iterable[Any] = connection.execute(sa.select(*_LIGHT).order_by(REVISION.c.id))
        found = [translate_feeds.revision(tuple(row)) for row in rows]
    else:
        found = [
            translate_feeds.revision(tuple(row))
            for some in _chunks(sorted(set(ids)))
            for row in connection.execute(sa.select(*_LIGHT).where(REVISION.c.id.in_(some)).order_by(REVISION.c.id))
        ]
    return {each.id: each for each in found if each.id is not None}


def revisions_of(connection: sa.Connection, uids: Iterable[str]) -> tuple[Revision, ...]:
    """Of these entries, without their bytes, by id."""
    found = [
        translate_feeds.revision(tuple(row))
        for some in _chunks(sorted({gated(uid) for uid in uids}))
        for row in connection.execute(sa.select(*_LIGHT).where(REVISION.c.uid.in_(some)))
    ]
    return tuple(sorted(found, key=lambda each: each.id or 0))


def shown_lines(rows: Iterable[Any]) -> dict[LineKey, Shown]:
    """By line."""
    return dict(sorted((translate_feeds.shown(row) for row in rows), key=lambda each: each[0]))


def era(connection: sa.Connection) -> int:
    """0 if there never was a restore."""
    return int(connection.execute(sa.select(ERA.c.era)).scalar_one_or_none() or 0)


def owed(connection: sa.Connection) -> frozenset[str]:
    """Marks of vehicles whose change stands in no calendar yet."""
    return frozenset(connection.execute(sa.select(OWED.c.mark)).scalars())


def _chunks(values: Sequence[Any]) -> list[Sequence[Any]]:
    return [values[start : start + AT_ONCE] for start in range(0, len(values), AT_ONCE)]
