"""The store on SQLite or PostgreSQL."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from fleetcare.actions.ports import Change, ReadView, WriteUnit
from fleetcare.calendar_feed.values import FEED_END, FeedBody, FeedStamp
from fleetcare.fleet.access import Fetch
from fleetcare.language import as_written_down
from fleetcare.store import cells, feed_rows, translate_feeds
from fleetcare.store.engine import BUSY_TIMEOUT_S, connect, prepare_sqlite, reading, writing
from fleetcare.store.known_vehicles import KnownVehicles
from fleetcare.store.reading import SqlView
from fleetcare.store.troubles import troubles
from fleetcare.store.whole_copy import Progress, copy_in, copy_out
from fleetcare.store.writing import SqlUnit

_STAMP = """
SELECT f.etag, f.modified_at, k.replaced_at, k.expires_at, k.person, k.mark, EXISTS (SELECT 1 FROM feed_owed)
FROM access_key k LEFT JOIN feed f ON f.person = k.person AND f.mark = k.mark
WHERE k.hash = {0} AND k.purpose = 'feed' AND k.revoked_at IS NULL
"""


_STAMP_SQLITE = _STAMP.format("?")
_CONTENTS = "SELECT etag, modified_at, head, entries FROM feed WHERE person = ? AND mark = ?"
_PARTS = "SELECT id, body FROM revision WHERE id IN (SELECT value FROM json_each(?))"
_MOST_BYTES_KEPT = 32_000_000
"""Bytes of entries that a process keeps at hand for feeds that changed; some 40 000 entries."""
_POLLER_CACHE_KIB = 8192
"""A feed of 1 000 entries and what leads to it fit in."""

Row = tuple[Any, ...]


def open_store(url: str, *, busy_timeout_s: float = BUSY_TIMEOUT_S) -> SqlStore:
    """The store at that database address, its tables up to date; a missing SQLite file and its folder are made.

    busy_timeout_s: how long to wait for another program's write. Raises what `connect` raises.
    """
    return SqlStore(connect(url, busy_timeout_s=busy_timeout_s), busy_timeout_s)


class SqlStore:
    """Implements the `Store` port."""

    def __init__(self, engine: sa.Engine, busy_timeout_s: float = BUSY_TIMEOUT_S) -> None:
        self._engine = engine
        self._busy_timeout_s = busy_timeout_s
        self._is_sqlite = engine.dialect.name == "sqlite"
        self._idle_pollers: list[sqlite3.Connection] = []
        self._bytes: dict[int, bytes] = {}
        self._bytes_kept = 0
        self._vehicles_known = KnownVehicles()

    @contextmanager
    def read(self) -> Iterator[ReadView]:
        """One consistent view."""
        with reading(self._engine) as connection:
            yield SqlView(connection, self._vehicles_known)

    @contextmanager
    def write(self, change: Change, *, typed: bool = True) -> Iterator[WriteUnit]:
        """One write unit, all or nothing."""
        # What is stored is told in no reader's language; letters and calendars are, and say so themselves.
        with as_written_down(), writing(self._engine, typed=typed) as connection:
            unit = SqlUnit(connection, change)
            yield unit
            unit.count_up()

    def feed_stamp(self, key_hash: str, now: datetime) -> FeedStamp | None:
        """What a feed key opens now. The polling path: one statement on a kept connection, no layer in between."""
        row = self._key_row(key_hash)
        if row is None:
            return None
        etag, modified_at, replaced_at, expires_at, _, _, is_owed = row
        if expires_at is not None and expires_at <= cells.instant_text(now):
            return None
        if replaced_at is not None:
            body = self._farewell(key_hash)
            return None if body is None else FeedStamp(body.etag, body.modified_at)
        return None if etag is None else FeedStamp(etag, translate_feeds.instant(modified_at), bool(is_owed))

    def feed_by_key(self, key_hash: str, now: datetime) -> FeedBody | None:
        """The same with its bytes, of one moment."""
        row = self._key_row(key_hash)
        if row is None:
            return None
        _, _, replaced_at, expires_at, person, mark, _ = row
        if expires_at is not None and expires_at <= cells.instant_text(now):
            return None
        if replaced_at is not None:
            body = self._farewell(key_hash)
            return None if body is None else replace(body, person=person, mark=mark)
        if self._is_sqlite:
            with troubles():
                return self._joined(person, mark)
        with reading(self._engine) as connection:
            return feed_rows.body(connection, person, mark)

    def note_fetch(self, key_hash: str, fetch: Fetch) -> None:
        """Keeps when a feed was last fetched, unless as late a fetch is noted already."""
        with self.read() as view:
            before = view.fetches().get(key_hash)
        if before is not None and before.at >= fetch.at:
            return
        with writing(self._engine, typed=False) as connection:
            SqlUnit(connection, Change("reader", "fetched", fetch.at)).put_fetch(key_hash, fetch)

    def _key_row(self, key_hash: str) -> Row | None:
        if not key_hash.isascii() or "\0" in key_hash:
            return None
        if not self._is_sqlite:
            with troubles(), self._engine.connect() as connection:
                found = connection.exec_driver_sql(_STAMP.format("%s"), (key_hash,)).first()
            return None if found is None else tuple(found)
        poller = self._poller()
        try:
            row: Row | None = poller.execute(_STAMP_SQLITE, (key_hash,)).fetchone()
        except sqlite3.Error:
            poller.close()
            # Only here: what makes a trouble of an error costs as much as the look itself.
            with troubles():
                raise
        self._idle_pollers.append(poller)
        return row

    def _joined(self, person: str, mark: str) -> FeedBody | None:
        """A feed on SQLite: two statements in one look, its entries picked by their ids."""
        connection = self._poller()
        try:
            connection.execute("BEGIN")
            row = connection.execute(_CONTENTS, (person, mark)).fetchone()
            parts = [] if row is None else self._parts(connection, json.loads(row[3]))
            connection.execute("COMMIT")
        except BaseException:
            connection.close()
            raise
        self._idle_pollers.append(connection)
        if row is None:
            return None
        etag, modified_at, head, _ = row
        body = b"".join((head, *parts, FEED_END))
        return FeedBody(person, etag, translate_feeds.instant(modified_at), body, mark)

    def _parts(self, connection: sqlite3.Connection, numbers: list[int]) -> list[bytes]:
        """The bytes of these revisions. Those that were read before are at hand: a number stands for its bytes."""
        known = self._bytes
        if missing := [number for number in numbers if number not in known]:
            if self._bytes_kept > _MOST_BYTES_KEPT:
                # A new one, not an emptied one: another thread may be looking at it.
                known = self._bytes = {}
                missing, self._bytes_kept = numbers, 0
            found = dict(connection.execute(_PARTS, (json.dumps(missing),)))
            known.update(found)
            self._bytes_kept += sum(map(len, found.values()))
        return [known[number] for number in numbers]

    def _farewell(self, key_hash: str) -> FeedBody | None:
        table = feed_rows.FAREWELL
        with troubles(), self._engine.connect() as connection:
            row = connection.execute(sa.select(table).where(table.c.hash == key_hash)).first()
        if row is None:
            return None
        return FeedBody("", row.etag, translate_feeds.instant(row.modified_at), bytes(row.body))

    def copy_to(self, path: Path, progress: Progress = lambda done, of: None) -> None:
        """Writes all that is committed now into a new SQLite file; others may read and write meanwhile."""
        copy_out(self._engine, path, progress=progress)

    def take_in(self, path: Path, progress: Progress = lambda done, of: None) -> None:
        """Puts the rows of such a file into this store, which must be empty: all of them, or none."""
        copy_in(path, self._engine, progress=progress)

    def close(self) -> None:
        """Closes every connection."""
        while self._idle_pollers:
            self._idle_pollers.pop().close()
        self._engine.dispose()

    def _poller(self) -> sqlite3.Connection:
        """A kept connection for polls: as many as there ever were polls at one moment, whatever threads come and go."""
        try:
            return self._idle_pollers.pop()
        except IndexError:
            pass
        path = self._engine.url.database or ""
        with troubles():
            made = sqlite3.connect(path, isolation_level=None, check_same_thread=False, timeout=self._busy_timeout_s)
            try:
                prepare_sqlite(made, self._busy_timeout_s)
                made.execute(f"PRAGMA cache_size=-{_POLLER_CACHE_KIB}")
            except BaseException:
                made.close()
                raise
        return made
