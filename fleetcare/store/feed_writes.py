"""Keys and calendar feeds, written."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

import sqlalchemy as sa

from fleetcare.calendar_feed.calm import Shown
from fleetcare.calendar_feed.values import FeedBody, FeedContents, PublishedEntry, number_of
from fleetcare.errors import Clash
from fleetcare.fleet.access import AccessKey, Fetch, Purpose
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.feed_choice import FeedChoice
from fleetcare.store import cells, feed_rows, translate_feeds
from fleetcare.store.feed_reads import FeedReads
from fleetcare.store.gate import gated
from fleetcare.store.row_reads import KEY
from fleetcare.store.row_writes import RowWrites


class FeedWrites(RowWrites, FeedReads):
    """The part of `WriteUnit` that is about keys and what calendars show."""

    def put_key(self, key: AccessKey) -> None:
        """A key; one that was revoked stays so."""
        before = self.key(key.hash)
        row = translate_feeds.key_columns(key)
        if before is not None and before.revoked_at is not None:
            row["revoked_at"] = cells.instant_text(before.revoked_at)
        self._put(KEY, row)

    def revoke_keys(self, at: datetime, *, purpose: Purpose, person: str = "", mark: str = "") -> int:
        """Ends the keys of that purpose with that person and mark; how many."""
        table = KEY
        theirs = (table.c.purpose == purpose.value, table.c.person == gated(person), table.c.mark == gated(mark))
        alive = (*theirs, table.c.revoked_at.is_(None))
        return self._run(sa.update(table).where(*alive).values(revoked_at=cells.instant_text(at)))

    def use_up_key(self, key_hash: str, at: datetime) -> bool:
        """Ends one key; True if it was this call that did."""
        table = KEY
        alive = (table.c.hash == gated(key_hash), table.c.revoked_at.is_(None))
        return self._run(sa.update(table).where(*alive).values(revoked_at=cells.instant_text(at))) == 1

    def add_revisions(self, entries: Sequence[PublishedEntry]) -> tuple[int, ...]:
        """Their ids, in the same order."""
        rows = {number_of(entry.digest): translate_feeds.revision_columns(entry) for entry in entries}
        there = self.revisions(rows)
        if any(there[number].digest != rows[number]["digest"] for number in there):
            raise Clash("Two entries of a calendar cannot be told apart. Change one of their texts.")
        self._add(feed_rows.REVISION, [row for number, row in rows.items() if number not in there])
        return tuple(number_of(entry.digest) for entry in entries)

    def drop_revisions(self, ids: Iterable[int]) -> None:
        """Forgets these."""
        table = feed_rows.REVISION
        wanted = sorted(ids)
        for start in range(0, len(wanted), feed_rows.AT_ONCE):
            self._run(sa.delete(table).where(table.c.id.in_(wanted[start : start + feed_rows.AT_ONCE])))

    def put_feed(self, contents: FeedContents) -> None:
        """What is served from now on."""
        self._put(feed_rows.FEED, translate_feeds.contents_columns(contents))

    def put_shown_lines(self, shown: dict[LineKey, Shown]) -> None:
        """These; the others stay."""
        self._put(feed_rows.SHOWN, *(translate_feeds.shown_columns(line, each) for line, each in shown.items()))

    def drop_shown_lines(self, lines: Iterable[LineKey]) -> None:
        """Forgets these."""
        table = feed_rows.SHOWN
        for line in lines:
            same = (table.c.mark == line.mark, table.c.component == line.component, table.c.service == line.service)
            self._run(sa.delete(table).where(*same))

    def put_feed_choice(self, person: str, choice: FeedChoice) -> None:
        """What that person wants from now on."""
        self._put(feed_rows.CHOICE, translate_feeds.choice_columns(person, choice))

    def owe_feeds(self, marks: Iterable[str]) -> None:
        """The change of these vehicles stands in no calendar yet."""
        self._add_new(feed_rows.OWED, [{"mark": gated(mark)} for mark in sorted(set(marks))])

    def feeds_given(self, marks: Iterable[str] | None = None) -> None:
        """It does now; of all if None."""
        table, wanted = feed_rows.OWED, None if marks is None else sorted(set(marks))
        if wanted is None:
            self._run(sa.delete(table))
            return
        for start in range(0, len(wanted), feed_rows.AT_ONCE):
            self._run(sa.delete(table).where(table.c.mark.in_(wanted[start : start + feed_rows.AT_ONCE])))

    def put_feed_era(self, era: int) -> None:
        """How many restores there were."""
        self._put(feed_rows.ERA, {"id": 1, "era": era})

    def put_fetch(self, key_hash: str, fetch: Fetch) -> None:
        """The last fetch by a key; it counts as no write."""
        wrote = self.wrote
        self._put(feed_rows.FETCH, translate_feeds.fetch_columns(key_hash, fetch))
        self.wrote = wrote

    def put_farewell(self, key_hash: str, body: FeedBody) -> None:
        """What a replaced address answers with."""
        self._put(feed_rows.FAREWELL, translate_feeds.farewell_columns(key_hash, body))
