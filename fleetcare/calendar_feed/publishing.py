"""The ledger of what was published: which entries are new, changed or withdrawn, and which stay to the byte.

A published state of an entry is a revision, and revisions never change. Several feeds may hold one revision: what looks
the same in two feeds is written once, by the `Press`, and both refer to it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Generic, TypeVar
from urllib.parse import quote, urlsplit

from fleetcare.calendar_feed.place import place_key
from fleetcare.calendar_feed.plain_text import many_lines, one_line
from fleetcare.calendar_feed.render import digest_of, event_bytes, whole_second
from fleetcare.calendar_feed.values import FeedEntry, PublishedEntry, Revision
from fleetcare.calendar_feed.words import full_text
from fleetcare.errors import BadSettings, Clash
from fleetcare.language import saying
from fleetcare.quantities import DateSpan

ERA = 1000
"""Room for revisions between two restores from a backup (`next_era`)."""

_NAMESPACE = bytes.fromhex("8c5b0f6e6f0a5d0e9a4e2f1d7b3c4a59")
_SECOND = timedelta(seconds=1)
_PATH_SAFE = "/%?#=&+~"

R = TypeVar("R", bound=Revision)


@dataclass(frozen=True, slots=True)
class Draft:
    """An entry made ready: cleaned, with its UID, its address and the two hashes it is compared by."""

    entry: FeedEntry
    uid: str
    url: str
    time_hash: str
    content_hash: str
    related: tuple[str, ...] = ()
    """UIDs of the due services it is there for."""


@dataclass
class Press:
    """Writes each revision once, however many feeds hold it.

    known: revisions that are stored already. made: those it had to write, in order.
    era: how often the store was restored from a backup; counts start at a thousand times that.
    """

    stamp: datetime
    era: int = 0
    made: list[PublishedEntry] = field(default_factory=list)
    _by_look: dict[tuple[str, str], Revision] = field(default_factory=dict)

    def knows(self, revisions: Iterable[Revision]) -> None:
        """Takes in revisions that other feeds hold; of two that look alike, the newer one is taken up again."""
        for revision in revisions:
            self._enter(revision)

    def next(self, before: Revision | None, draft: Draft) -> Revision:
        """What stands in a feed for this entry, given what stood in it before (withdrawn or not; None: never).

        The revision before if it looks the same, else one that looks like the draft and is newer: somebody else's if
        there is one, else one written now. Revisions never go backwards in a feed: if the clock did, the last
        LAST-MODIFIED and one second is taken.
        """
        first = self.era * ERA
        if before is None:
            least, after = first, None
        else:
            returns = before.withdrawn_at is not None
            lost = before.sequence < first
            if before.content_hash == draft.content_hash and not returns and not lost:
                return before
            rises = returns or before.time_hash != draft.time_hash
            least, after = max(first, before.sequence + rises), before.modified_at
        known = self._by_look.get((draft.uid, draft.content_hash))
        if known is not None and known.sequence >= least and (after is None or known.modified_at > after):
            return known
        return self._write(before, draft, least)

    def _write(self, before: Revision | None, draft: Draft, sequence: int) -> PublishedEntry:
        created_at = self.stamp if before is None else before.created_at
        modified_at = self.stamp if before is None else max(self.stamp, before.modified_at + _SECOND)
        body = event_bytes(
            draft.entry,
            uid=draft.uid,
            url=draft.url,
            sequence=sequence,
            created_at=created_at,
            modified_at=modified_at,
            related=draft.related,
        )
        written = PublishedEntry(
            uid=draft.uid,
            sequence=sequence,
            created_at=created_at,
            modified_at=modified_at,
            content_hash=draft.content_hash,
            time_hash=draft.time_hash,
            digest=digest_of(body),
            size=len(body),
            sort_key=place_key(draft.uid, _written_days(draft.entry)),
            mark=draft.entry.mark,
            body=body,
        )
        self.made.append(written)
        self._enter(written)
        return written

    def _enter(self, revision: Revision) -> None:
        look = (revision.uid, revision.content_hash)
        other = self._by_look.get(look)
        if other is None or (other.modified_at, other.sequence) < (revision.modified_at, revision.sequence):
            self._by_look[look] = replace(revision, withdrawn_at=None) if revision.withdrawn_at else revision


@dataclass(frozen=True, slots=True)
class Published(Generic[R]):
    """What one feed holds after publishing. entries: all, withdrawn ones too, by uid. changed: those that moved."""

    entries: tuple[R, ...]
    changed: tuple[R, ...]

    @property
    def current(self) -> tuple[R, ...]:
        """Those that stand in the feed, by first day and uid."""
        return tuple(sorted((e for e in self.entries if e.withdrawn_at is None), key=lambda e: e.sort_key))


def publish(
    previous: Sequence[Revision], drafts: Sequence[Draft], press: Press, *, kept: Sequence[Revision] = ()
) -> Published[Revision]:
    """The next state of one feed.

    previous: everything that ever stood in it, in its last revision, withdrawn entries too. kept: those of them that
    nothing happened to; they stay without being looked at.

    An entry that looks the same keeps its revision. One that looks different gets a later LAST-MODIFIED, and a higher
    SEQUENCE if its days or its status changed or it was withdrawn in between (RFC 5545 3.8.7.3 and 3.8.7.4, RFC 5546
    2.1.4). Raises Clash if two entries are about the same thing.
    """
    known = {revision.uid: revision for revision in previous}
    now_there: dict[str, Revision] = {revision.uid: revision for revision in kept}
    for draft in drafts:
        if draft.uid in now_there:
            raise Clash(
                saying(
                    "Two entries of one feed are about the same thing: {seed}. Take one of them out.",
                    seed=draft.entry.seed,
                )
            )
        now_there[draft.uid] = press.next(known.get(draft.uid), draft)
    withdrawn = {
        uid: revision if revision.withdrawn_at is not None else replace(revision, withdrawn_at=press.stamp)
        for uid, revision in known.items()
        if uid not in now_there
    }
    everything = tuple(revision for _, revision in sorted((now_there | withdrawn).items()))
    return Published(everything, tuple(each for each in everything if known.get(each.uid) is not each))


def press_at(now: datetime, era: int = 0) -> Press:
    """A press that stamps with this moment. Raises ValueError if it has no zone."""
    return Press(whole_second(now), era)


def next_era(era: int, revisions: Iterable[Revision]) -> int:
    """The era after a restore from a backup: whatever is published next looks newer than what was since the backup.

    How often entries were revised since then, nobody knows; so every count starts anew at the next thousand, also of
    entries that the backup has not seen.
    """
    return max([era, *(revision.sequence // ERA for revision in revisions)]) + 1


def draft_of(entry: FeedEntry, *, garage_id: str, base: str) -> Draft:
    """An entry made ready. base: address that paths are put behind (`checked_base`); empty for no addresses.

    Its text is what a reader sees in full, and nothing in it is anything that a calendar cannot hold.
    Raises ValueError if the garage has no id.
    """
    if not garage_id:
        raise ValueError("a garage without an id cannot publish")
    title = one_line(entry.title) or entry.kind.value
    text = many_lines(full_text(entry))
    url = f"{base}{quote(entry.path, safe=_PATH_SAFE, errors='replace')}" if base and entry.path else ""
    alarms = [[alarm.days_before, alarm.at.total_seconds()] for alarm in entry.alarms]
    times = [] if entry.spell is None else [whole_second(at).isoformat() for at in entry.spell]
    time_hash = _hash(entry.days.first.isoformat(), entry.days.end.isoformat(), entry.tentative, *times)
    related = tuple(entry_uid(garage_id, seed) for seed in entry.serves)
    # What an entry does not have is left out, so that those published before it could be had keep their hash.
    more = [entry.blocks, alarms] if entry.blocks or alarms else []
    more += [list(related)] if related else []
    return Draft(
        entry=replace(entry, title=title, text=text),
        uid=entry_uid(garage_id, entry.seed),
        url=url,
        time_hash=time_hash,
        content_hash=_hash(time_hash, entry.kind.value, title, text, url, *more),
        related=related,
    )


@lru_cache(maxsize=100_000)
def entry_uid(garage_id: str, seed: str) -> str:
    """The UID of what an entry is about: the same in every feed of the garage and for all time, ASCII.

    Source: RFC 9562 5.5 (UUID version 5); RFC 5545 3.8.4.7.
    """
    name = json.dumps([garage_id, seed]).encode("ascii")
    digest = bytearray(hashlib.sha1(_NAMESPACE + name, usedforsecurity=False).digest()[:16])
    digest[6] = digest[6] & 0x0F | 0x50
    digest[8] = digest[8] & 0x3F | 0x80
    text = digest.hex()
    return f"{text[:8]}-{text[8:12]}-{text[12:16]}-{text[16:20]}-{text[20:]}@fleetcare"


def checked_base(base_url: str) -> str:
    """The address without a stroke at the end. Raises BadSettings if it cannot stand in a calendar."""
    base = base_url.rstrip("/")
    if base:
        parts = urlsplit(base)
        if not (
            parts.scheme in {"http", "https"}
            and parts.netloc
            and base.isascii()
            and base.isprintable()
            and " " not in base
        ):
            raise BadSettings(
                "The address of the pages cannot stand in a calendar.",
                remedy="Give it in full and in ASCII, such as https://garage.example.",
                field="base_url",
            )
    return base


def _written_days(entry: FeedEntry) -> DateSpan:
    """The days as the bytes have them, so that a feed is in order for whoever reads it: of a time, those of UTC."""
    if entry.spell is None:
        return entry.days
    begins, ends = map(whole_second, entry.spell)
    return DateSpan.of_days(begins.date(), ends.date())


def _hash(*parts: object) -> str:
    return hashlib.sha256(json.dumps(parts).encode("ascii")).hexdigest()
