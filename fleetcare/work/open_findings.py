"""Findings that wait for somebody, of either sort: those of a sheet, and those told with a record of work."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from fleetcare.errors import BadFinding
from fleetcare.fleet.component import LineKey
from fleetcare.language import saying
from fleetcare.work.findings import LONGEST_AHEAD_DAYS, Follow, FollowKind
from fleetcare.work.found import Found, finding_number, found_words
from fleetcare.work.record import WorkDone

LEAST_SHARE, MOST_SHARE = 5, 95
"""Per cent of an interval it can be cut to on the page: less is no interval, more no cut. Our own rule, no source."""


@dataclass(frozen=True, slots=True)
class WaitingFinding:
    """A finding that nobody settled. key: names it in addresses, `0147-1` for the first one of sheet 147.

    line: under which its look stands among the due dates, or of the service it was found with. follow: None where
    nobody said what follows. origin: what it is kept as; place: among the findings of a record, from 0 on.
    """

    key: str
    line: LineKey
    words: str
    on: date
    by: str
    note: str
    follow: Follow | None
    origin: Found | WorkDone
    place: int = 0

    @property
    def sheet(self) -> int:
        """Number of the sheet it stands on, 0 if it came without one."""
        return self.origin.order if isinstance(self.origin, Found) else 0

    @property
    def look_by(self) -> date | None:
        """The day by which to look again, None if a distance alone says when, or nothing."""
        return None if self.follow is None else self.follow.look_by(self.on)

    @property
    def holds(self) -> bool:
        """True if the vehicle must not be driven because of it."""
        return self.follow is not None and self.follow.kind is FollowKind.HOLD

    @property
    def cuts(self) -> bool:
        """True if it does nothing but cut an interval short."""
        return self.follow is not None and self.follow.kind is FollowKind.SHORTEN

    @property
    def state(self) -> str:
        """Changes when somebody settles it or puts it off; a form that was shown another state is an old one."""
        return f"{self.key}:{self.look_by or ''}"


def finding_key(record: WorkDone, place: int) -> str:
    """The key of a finding told with a record; it stays the same through an export and an import."""
    value = "" if record.at is None else f"{record.at.normalize():f}"
    told = "\x1f".join((*record.line, record.on.isoformat(), value, str(place)))
    return hashlib.sha256(told.encode()).hexdigest()[:12]


def open_findings(found: Iterable[Found], work: Iterable[WorkDone]) -> tuple[WaitingFinding, ...]:
    """All that wait, those by which a vehicle must not be driven first, then by day to look again, day, key."""
    waiting = [_of_sheet(each) for each in found if each.is_open]
    waiting += [
        WaitingFinding(
            finding_key(record, place),
            record.line,
            finding.text,
            record.on,
            record.by,
            "",
            None if finding.look_again_on is None else _by_day(record.on, finding.look_again_on),
            record,
            place,
        )
        for record in work
        for place, finding in enumerate(record.findings)
        if finding.settled_on is None
    ]
    return in_waiting_order(waiting)


def interval_cuts(found: Iterable[Found]) -> tuple[WaitingFinding, ...]:
    """The findings that cut an interval short and were not taken back, by day, then key. They wait for nobody."""
    cuts = [each for each in found if each.settled_on is None and each.follow.kind is FollowKind.SHORTEN]
    return tuple(sorted(map(_of_sheet, cuts), key=lambda each: (each.on, each.key)))


def in_waiting_order(findings: Iterable[WaitingFinding]) -> tuple[WaitingFinding, ...]:
    """The order of `open_findings`."""
    return tuple(sorted(findings, key=lambda each: (not each.holds, each.look_by or date.max, each.on, each.key)))


def cut_otherwise(finding: WaitingFinding, *, share: Decimal | None) -> Follow:
    """What follows from a finding that cuts the interval to another part of itself; share: in per cent.

    Raises BadFinding for a finding that cuts none, and a part that is none.
    """
    if not finding.cuts or finding.follow is None:
        raise BadFinding(
            "That finding cuts no interval.", remedy="Settle it, or say when to look again.", field="share"
        )
    if share is None or not LEAST_SHARE <= share <= MOST_SHARE:
        raise BadFinding(
            "The part of the interval is missing." if share is None else saying("{share} % is no part.", share=share),
            remedy=saying("Give it in per cent, from {low} to {high}.", low=LEAST_SHARE, high=MOST_SHARE),
            field="share",
        )
    return replace(finding.follow, factor=share / 100)


def look_later(finding: WaitingFinding, *, by_day: date, today: date) -> Follow:
    """What follows from a finding that is to be looked at again by that day instead. Counted from the day it was found.

    Raises BadFinding: a day that is over or too far ahead, or a vehicle that must not be driven.
    """
    if finding.holds:
        raise BadFinding(
            "A vehicle that must not be driven is not put off.",
            remedy="Settle the finding once it was seen to.",
            field="by",
        )
    if finding.cuts:
        raise BadFinding(
            "An interval that is cut short is not put off.",
            remedy="Take the finding back, or cut the interval to another part.",
            field="by",
        )
    if by_day < today:
        raise BadFinding("That day is over.", remedy="Give today or a day ahead.", field="by")
    if (by_day - min(finding.on, today)).days > LONGEST_AHEAD_DAYS:
        raise BadFinding("That is too far ahead to look again.", remedy="Give a day within ten years.", field="by")
    todo = finding.follow.todo if finding.follow is not None else ""
    return Follow(FollowKind.LOOK_AGAIN, days=(by_day - finding.on).days, todo=todo)


def put_off(found: Found, follow: Follow, *, position: int, decided: str) -> Found:
    """The finding that takes the place of one on the same sheet whose look comes later; decided: why."""
    open_again = replace(found, settled_on=None, settled_by="", settled_note="")
    return replace(open_again, follow=follow, decided=decided, position=position)


def seen_again(found: Found, follow: Follow, *, on: date, by: str, note: str, position: int) -> Found:
    """The finding that takes the place of one on the same sheet that was looked at; nobody read the dial for it."""
    return replace(
        found,
        on=on,
        by=by,
        note=note,
        follow=follow,
        decided="",
        position=position,
        at=None,
        meter=None,
        photos=(),
        settled_on=None,
        settled_by="",
        settled_note="",
    )


def _of_sheet(found: Found) -> WaitingFinding:
    return WaitingFinding(
        finding_number(found), found.line, found_words(found), found.on, found.by, found.note, found.follow, found
    )


def _by_day(found_on: date, day: date) -> Follow:
    # A record may name any day, one before the work included; what is past is due at once.
    return Follow(FollowKind.LOOK_AGAIN, days=min(max((day - found_on).days, 0), LONGEST_AHEAD_DAYS))
