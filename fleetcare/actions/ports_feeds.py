"""What actions need of a store about keys and what calendars show."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Protocol

from fleetcare.calendar_feed.calm import Shown
from fleetcare.calendar_feed.values import FeedBody, FeedContents, PublishedEntry, Revision
from fleetcare.fleet.access import AccessKey, Fetch, Purpose
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.feed_choice import FeedChoice


class FeedsRead(Protocol):
    """The part of `ReadView` that is about keys and what calendars show."""

    def key(self, key_hash: str, *, in_use: bool = False) -> AccessKey | None:
        """The key with that hash. in_use: not one that was revoked; asking for it takes as long as for none at all."""
        ...

    def keys(self, purpose: Purpose | None = None) -> tuple[AccessKey, ...]:
        """By moment of making, hash."""
        ...

    def fetches(self) -> dict[str, Fetch]:
        """The last fetch that was noted, by key hash."""
        ...

    def feed(self, person: str, mark: str = "") -> FeedBody | None:
        """What is served for one feed, joined from its revisions."""
        ...

    def feed_scopes(self) -> dict[tuple[str, str], tuple[str, tuple[str, ...]]]:
        """What every feed was last made for, form and marks, by person and mark."""
        ...

    def feed_contents(self, keys: Iterable[tuple[str, str]] | None = None) -> tuple[FeedContents, ...]:
        """What stands in these feeds (all that were ever made if None), by person, mark."""
        ...

    def published(self, person: str, mark: str = "") -> tuple[PublishedEntry, ...]:
        """Everything that ever stood in one feed, in its last revision; withdrawn ones included, by uid."""
        ...

    def revisions(self, ids: Iterable[int] | None = None) -> dict[int, Revision]:
        """Revisions without their bytes (all if None), by id."""
        ...

    def revisions_of(self, uids: Iterable[str]) -> tuple[Revision, ...]:
        """Every revision kept of these entries, without their bytes, by id."""
        ...

    def shown_lines(self, marks: Iterable[str] | None = None) -> dict[LineKey, Shown]:
        """What calendars say of each line, by line key."""
        ...

    def feed_choices(self) -> dict[str, FeedChoice]:
        """What people want in their calendars, by person; those who never chose are not in it."""
        ...

    def feeds_owed(self) -> frozenset[str]:
        """Marks of vehicles whose change stands in no calendar yet (`bring_feeds_up`)."""
        ...

    def feed_era(self) -> int:
        """How often the feeds were taken up again after a restore from a backup."""
        ...


class FeedsWrite(FeedsRead, Protocol):
    """The part of `WriteUnit` that is about keys and what calendars show."""

    def put_key(self, key: AccessKey) -> None: ...

    def revoke_keys(self, at: datetime, *, purpose: Purpose, person: str = "", mark: str = "") -> int:
        """Revokes keys of that purpose with that person and mark; returns how many."""
        ...

    def use_up_key(self, key_hash: str, at: datetime) -> bool:
        """Revokes one key if it is not revoked yet; True if it was this call that did."""
        ...

    def add_revisions(self, entries: Sequence[PublishedEntry]) -> tuple[int, ...]:
        """Stores revisions; returns their ids in the same order."""
        ...

    def drop_revisions(self, ids: Iterable[int]) -> None:
        """Forgets revisions that no feed holds or remembers any more."""
        ...

    def put_feed(self, contents: FeedContents) -> None:
        """What is served for a feed from now on."""
        ...

    def put_shown_lines(self, shown: dict[LineKey, Shown]) -> None:
        """Stores these, leaves the others."""
        ...

    def drop_shown_lines(self, lines: Iterable[LineKey]) -> None:
        """Forgets these."""
        ...

    def put_feed_choice(self, person: str, choice: FeedChoice) -> None:
        """New, or in place of what that person chose before."""
        ...

    def owe_feeds(self, marks: Iterable[str]) -> None:
        """Keeps in mind that the change of these vehicles stands in no calendar yet."""
        ...

    def feeds_given(self, marks: Iterable[str] | None = None) -> None:
        """Strikes these off (all if None): calendars show how they stand now."""
        ...

    def put_feed_era(self, era: int) -> None: ...

    def put_farewell(self, key_hash: str, body: FeedBody) -> None:
        """What the address of a replaced key answers with."""
        ...
