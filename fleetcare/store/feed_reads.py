"""Keys and calendar feeds, read."""

from __future__ import annotations

from collections.abc import Iterable

import sqlalchemy as sa

from fleetcare.calendar_feed.calm import Shown
from fleetcare.calendar_feed.values import FeedBody, FeedContents, PublishedEntry, Revision
from fleetcare.fleet.access import AccessKey, Fetch, Purpose
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.feed_choice import FeedChoice
from fleetcare.store import feed_rows, translate_feeds
from fleetcare.store.gate import gated
from fleetcare.store.row_reads import KEY, RowReads, named_marks


class FeedReads(RowReads):
    """The part of `ReadView` that is about keys and what calendars show."""

    def key(self, key_hash: str, *, in_use: bool = False) -> AccessKey | None:
        """The key with that hash. in_use: unless it was revoked; its row then stays in the database.

        Turned into a value here, it took longer than a key that never was, and so gave away that it once was one.
        """
        query = sa.select(KEY).where(KEY.c.hash == gated(key_hash))
        row = self._connection.execute(query.where(KEY.c.revoked_at.is_(None)) if in_use else query).first()
        return None if row is None else translate_feeds.key(row)

    def keys(self, purpose: Purpose | None = None) -> tuple[AccessKey, ...]:
        """By moment of making, hash."""
        query = sa.select(KEY)
        if purpose is not None:
            query = query.where(KEY.c.purpose == purpose.value)
        ordered = query.order_by(*self._order(KEY.c.made_at, KEY.c.hash))
        return tuple(translate_feeds.key(row) for row in self._connection.execute(ordered))

    def fetches(self) -> dict[str, Fetch]:
        """By key hash."""
        return feed_rows.fetches(self._connection)

    def feed(self, person: str, mark: str = "") -> FeedBody | None:
        """What is served, joined."""
        return feed_rows.body(self._connection, person, mark)

    def feed_scopes(self) -> dict[tuple[str, str], tuple[str, tuple[str, ...]]]:
        """By person and mark."""
        return feed_rows.scopes(self._connection)

    def feed_contents(self, keys: Iterable[tuple[str, str]] | None = None) -> tuple[FeedContents, ...]:
        """By person, mark."""
        return feed_rows.contents(self._connection, keys)

    def published(self, person: str, mark: str = "") -> tuple[PublishedEntry, ...]:
        """By uid, withdrawn ones included."""
        return feed_rows.published(self._connection, person, mark)

    def revisions(self, ids: Iterable[int] | None = None) -> dict[int, Revision]:
        """By id, without their bytes."""
        return feed_rows.revisions(self._connection, ids)

    def revisions_of(self, uids: Iterable[str]) -> tuple[Revision, ...]:
        """By id, without their bytes."""
        return feed_rows.revisions_of(self._connection, uids)

    def shown_lines(self, marks: Iterable[str] | None = None) -> dict[LineKey, Shown]:
        """By line."""
        return feed_rows.shown_lines(self._of_marks(feed_rows.SHOWN, named_marks(marks)))

    def feed_choices(self) -> dict[str, FeedChoice]:
        """By person."""
        return feed_rows.choices(self._connection)

    def feeds_owed(self) -> frozenset[str]:
        """Marks of vehicles whose change stands in no calendar yet."""
        return feed_rows.owed(self._connection)

    def feed_era(self) -> int:
        """How many restores."""
        return feed_rows.era(self._connection)
