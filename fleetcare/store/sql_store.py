"""The store on SQLite or PostgreSQL."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime

import sqlalchemy as sa

from fleetcare.actions.ports import Change, ReadView, WriteUnit
from fleetcare.calendar_feed.values import FeedBody
from fleetcare.fleet.access import Purpose
from fleetcare.store import translate
from fleetcare.store.engine import BUSY_TIMEOUT_S, connect, prepare_sqlite, reading, writing
from fleetcare.store.reading import SqlView
from fleetcare.store.troubles import troubles
from fleetcare.store.writing import SqlUnit

_FEED_BY_KEY = """
SELECT f.person, f.etag, f.modified_at, f.body FROM access_key k JOIN feed f ON f.person = k.person
WHERE k.hash = {0} AND k.purpose = {1} AND k.revoked_at IS NULL AND (k.expires_at IS NULL OR k.expires_at > {2})
"""


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
        self._one_at_a_time = threading.Lock()

    @contextmanager
    def read(self) -> Iterator[ReadView]:
        """One consistent view."""
        with reading(self._engine) as connection:
            yield SqlView(connection)

    @contextmanager
    def write(self, change: Change, *, typed: bool = True) -> Iterator[WriteUnit]:
        """One write unit, all or nothing."""
        with writing(self._engine, typed=typed) as connection:
            unit = SqlUnit(connection, change)
            yield unit
            unit.count_up()

    def feed_by_key(self, key_hash: str, now: datetime) -> FeedBody | None:
        """What a feed key opens now. The polling path: one statement on a kept connection, no layer in between."""
        if not key_hash.isascii() or "\0" in key_hash:
            return None
        asked = (key_hash, Purpose.FEED.value, translate.instant_text(now))
        with troubles():
            if self._is_sqlite:
                with self._poller() as connection:
                    row = connection.execute(_FEED_BY_KEY.format("?", "?", "?"), asked).fetchone()
            else:
                with self._engine.connect() as connection:
                    row = connection.exec_driver_sql(_FEED_BY_KEY.format("%s", "%s", "%s"), asked).first()
        return None if row is None else translate.feed(row)

    def close(self) -> None:
        """Closes every connection."""
        with self._one_at_a_time:
            for poller in self._idle_pollers:
                poller.close()
            self._idle_pollers.clear()
        self._engine.dispose()

    @contextmanager
    def _poller(self) -> Iterator[sqlite3.Connection]:
        """A kept connection for polls: as many as there ever were polls at one moment, whatever threads come and go."""
        with self._one_at_a_time:
            kept = self._idle_pollers.pop() if self._idle_pollers else None
        fresh = kept is None
        if kept is None:
            path = self._engine.url.database or ""
            kept = sqlite3.connect(path, isolation_level=None, check_same_thread=False, timeout=self._busy_timeout_s)
        try:
            if fresh:
                prepare_sqlite(kept, self._busy_timeout_s)
            yield kept
        except BaseException:
            kept.close()
            raise
        with self._one_at_a_time:
            self._idle_pollers.append(kept)
