"""The ledger of what was published to one person: which entries are new, changed or withdrawn, and which stay."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from urllib.parse import quote, urlsplit

from fleetcare.calendar_feed.calm import calm_days, calm_window
from fleetcare.calendar_feed.place import place_days, place_key, place_window
from fleetcare.calendar_feed.plain_text import many_lines, one_line
from fleetcare.calendar_feed.render import event_bytes, whole_second
from fleetcare.calendar_feed.values import FeedEntry, PublishedEntry
from fleetcare.calendar_feed.words import full_text
from fleetcare.errors import BadSettings, Clash

ERA = 1000
"""Room for revisions between two restores from a backup (`after_restore`)."""

_NAMESPACE = bytes.fromhex("8c5b0f6e6f0a5d0e9a4e2f1d7b3c4a59")
_SECOND = timedelta(seconds=1)
_PATH_SAFE = "/%?#=&+~"


@dataclass(frozen=True, slots=True)
class Published:
    """What the ledger holds after publishing. entries: all, withdrawn ones included, by uid. changed: to be stored."""

    entries: tuple[PublishedEntry, ...]
    changed: tuple[PublishedEntry, ...]

    @property
    def current(self) -> tuple[PublishedEntry, ...]:
        """Those that stand in the feed, by first day and uid."""
        return tuple(sorted((e for e in self.entries if e.withdrawn_at is None), key=lambda e: e.sort_key))


def publish(
    previous: Sequence[PublishedEntry],
    entries: Sequence[FeedEntry],
    *,
    garage_id: str,
    base_url: str,
    now: datetime,
) -> Published:
    """The next state of one person's ledger.

    previous: everything published to this person so far, withdrawn entries too. base_url: what the paths of entries are
    put behind; empty for no addresses. now: aware, any zone.

    An entry that looks the same keeps its bytes. One that looks different gets a later LAST-MODIFIED, and a higher
    SEQUENCE if its days or its status changed or it was withdrawn in between (RFC 5545 3.8.7.3 and 3.8.7.4, RFC 5546
    2.1.4). Days that rest on a due window move only if the move is news (`calm`). Revisions never go backwards: if the
    clock did, the last LAST-MODIFIED and one second is taken.

    Raises Clash if two entries have one seed, BadSettings if the base address cannot stand in a calendar, ValueError if
    `now` has no zone or the garage no id.
    """
    if not garage_id:
        raise ValueError("a garage without an id cannot publish")
    stamp = whole_second(now)
    known = {entry.uid: entry for entry in previous}
    first_sequence = _era_of(previous)
    base = _checked_base(base_url)
    standing: dict[str, PublishedEntry] = {}
    for entry in entries:
        uid = entry_uid(garage_id, entry.seed)
        if uid in standing:
            raise Clash(f"Two entries of one feed are about the same thing: {entry.seed}. Take one of them out.")
        standing[uid] = _step(known.get(uid), entry, uid, base=base, stamp=stamp, first_sequence=first_sequence)
    withdrawn = {
        uid: entry if entry.withdrawn_at is not None else replace(entry, withdrawn_at=stamp)
        for uid, entry in known.items()
        if uid not in standing
    }
    everything = tuple(entry for _, entry in sorted((standing | withdrawn).items()))
    return Published(everything, tuple(entry for entry in everything if known.get(entry.uid) is not entry))


def after_restore(previous: Sequence[PublishedEntry]) -> tuple[PublishedEntry, ...]:
    """A ledger from a backup, so that whatever is published next looks newer than what was published since the backup.

    How often entries were revised since then, nobody knows; so every count is lifted to the next thousand, and every
    entry counts as changed once. Entries that this ledger has not seen start at that thousand as well.
    """
    lifted = _era_of(previous) + ERA
    return tuple(replace(entry, sequence=lifted, content_hash="", time_hash="") for entry in previous)


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


def _step(
    before: PublishedEntry | None,
    entry: FeedEntry,
    uid: str,
    *,
    base: str,
    stamp: datetime,
    first_sequence: int,
) -> PublishedEntry:
    entry = _cleaned(_calmed(before, entry, today=stamp.date()))
    url = f"{base}{quote(entry.path, safe=_PATH_SAFE, errors='replace')}" if base and entry.path else ""
    time_hash = _hash(entry.days.first.isoformat(), entry.days.end.isoformat(), entry.tentative)
    content_hash = _hash(time_hash, entry.kind.value, entry.title, entry.text, url)
    if before is None:
        sequence, created_at, modified_at = first_sequence, stamp, stamp
    else:
        returns = before.withdrawn_at is not None
        if before.content_hash == content_hash and not returns:
            return before
        rises = returns or before.time_hash != time_hash
        sequence, created_at = before.sequence + rises, before.created_at
        modified_at = max(stamp, before.modified_at + _SECOND)
    return PublishedEntry(
        uid=uid,
        sequence=sequence,
        created_at=created_at,
        modified_at=modified_at,
        content_hash=content_hash,
        time_hash=time_hash,
        body=event_bytes(entry, uid=uid, url=url, sequence=sequence, created_at=created_at, modified_at=modified_at),
        sort_key=place_key(uid, entry.days, entry.window),
    )


def _calmed(before: PublishedEntry | None, entry: FeedEntry, *, today: date) -> FeedEntry:
    if entry.window is None or before is None or before.withdrawn_at is not None:
        return entry
    window = place_window(before.sort_key, entry.window.cause)
    if window is None:
        return entry
    return replace(
        entry,
        days=calm_days(place_days(before.sort_key), entry.days, today=today),
        window=calm_window(window, entry.window, today=today),
    )


def _cleaned(entry: FeedEntry) -> FeedEntry:
    """With the text a reader sees in full, and nothing in it that a calendar cannot hold."""
    return replace(entry, title=one_line(entry.title) or entry.kind.value, text=many_lines(full_text(entry)))


def _checked_base(base_url: str) -> str:
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


def _era_of(entries: Sequence[PublishedEntry]) -> int:
    return max((entry.sequence for entry in entries), default=0) // ERA * ERA


def _hash(*parts: object) -> str:
    return hashlib.sha256(json.dumps(parts).encode("ascii")).hexdigest()
