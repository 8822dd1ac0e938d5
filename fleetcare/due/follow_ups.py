"""Looks that follow from findings, as lines among the others."""

from __future__ import annotations

from datetime import date

from fleetcare.book.rows import BookRow, IntervalRule, Limits, Status
from fleetcare.due.by_meter import ask_limit
from fleetcare.due.counted_from import CountedFrom, Origin, amount_at
from fleetcare.due.limit import LimitOutlook, dated_limit, give_days_for
from fleetcare.due.line_case import Asked, LineCase, Rules, Situation
from fleetcare.due.outlook import Cause, LineOutlook
from fleetcare.fleet.component import Component
from fleetcare.language import from_books, tr
from fleetcare.quantities import PrintedDistance
from fleetcare.wear.distance_limit import plain_limit
from fleetcare.wording import day_words, sentence
from fleetcare.work.findings import FollowKind
from fleetcare.work.found import Found, found_words, look_of
from fleetcare.work.record import WorkDone

_HOLD = "do not drive"
_LONGEST_SHORT = 24
"""Short names of lines are no longer than that: calendar entries begin with them."""


def look_cases(situation: Situation, rules: Rules) -> list[LineCase]:
    """A line for every finding that somebody still has to look at, by sheet and place on it."""
    return [
        prepare_look(situation, found, rules)
        for found in sorted(situation.facts.found, key=lambda each: (each.order, each.position))
        if found.is_open and found.on <= rules.today
    ]


def prepare_look(situation: Situation, found: Found, rules: Rules) -> LineCase:
    """The line of one look: by its day, by its distance, or at once where the vehicle must not be driven."""
    facts, today = situation.facts, rules.today
    component = facts.vehicle.component(found.component) or Component(found.component, "", found.component)
    row = _row(found, component, today)
    follow, dated, asked, unread = found.follow, list[LimitOutlook](), list[Asked](), list[str]()
    record = WorkDone(found.line, found.on, found.at, found.meter, found.by)
    since = CountedFrom(
        origin=Origin.FINDING,
        on=found.on,
        km=amount_at(situation.distance, found.on, record),
        hours=None,
        work=None,
        look_is_due=False,
        is_first=False,
        told=tr("Counted from the finding of {day}.", day=day_words(found.on, today)),
    )
    by_day = follow.look_by(found.on)
    if follow.kind is FollowKind.HOLD:
        told = tr("Found on {day}; it is not driven until somebody settles it.", day=day_words(found.on, today))
        dated.append(dated_limit(Cause.EVENT, found.on, since=found.on, today=today, give_days=0, told=(told,)))
    elif by_day is not None:
        days = (by_day - found.on).days
        give = min(days, give_days_for(days, None, rules.priors))
        told = tr("To be looked at by {day}, from {days} days before on.", day=day_words(by_day, today), days=give)
        dated.append(
            dated_limit(Cause.DATE, by_day, since=found.on, today=today, give_days=0, give_before=give, told=(told,))
        )
    if follow.distance is not None:
        if situation.distance is None or since.km is None:
            unread.append("distance")
        else:
            limit = PrintedDistance.of(follow.distance, follow.unit)
            question = ask_limit(
                plain_limit(limit.in_km),
                situation.distance,
                since.km,
                found.on.toordinal(),
                situation.mix,
                facts.vehicle.usual_split,
                rules.questions,
                rules.priors,
                today=today.toordinal(),
            )
            asked.append(Asked(Cause.DISTANCE, "distance", "", question))
    return LineCase(component, row, since, tuple(dated), tuple(asked), tuple(unread), ())


def is_hold(line: LineOutlook) -> bool:
    """True if the line says that the vehicle must not be driven until a finding is settled."""
    return look_of(line.key) is not None and line.row.short.startswith(_HOLD)


def _row(found: Found, component: Component, today: date) -> BookRow:
    """The line's row: made for this finding, so that pages, letters and calendars show it as any other line."""
    follow, holds = found.follow, found.follow.kind is FollowKind.HOLD
    distance = None if follow.distance is None else PrintedDistance.of(follow.distance, follow.unit)
    sheet, on = f"{found.order:04d}", day_words(found.on, today)
    source = (
        from_books("a finding of {day} by {who}, sheet {sheet}", day=on, who=found.by, sheet=sheet)
        if found.by
        else from_books("a finding of {day}, sheet {sheet}", day=on, sheet=sheet)
    )
    words = found_words(found)
    return BookRow(
        key=found.line.service,
        title=(
            from_books("Do not drive: {component}. {found}", component=component.title, found=words)
            if holds
            else from_books("Look again: {component}. {found}", component=component.title, found=words)
        ),
        short=_short(found, holds=holds),
        components=(component.kind,),
        vehicles=(),
        rule=IntervalRule(repeat=Limits(distance=distance)),
        source=source,
        status=Status.GARAGE,
        action=sentence(follow.todo),
        note=_note(found),
    )


def _note(found: Found) -> str:
    if not found.decided:
        return found.note
    if not found.note:
        return from_books("Decided otherwise than the book says: {decided}.", decided=found.decided)
    return from_books("{note} Decided otherwise than the book says: {decided}.", note=found.note, decided=found.decided)


def _short(found: Found, *, holds: bool) -> str:
    """`look: magnet, 0147-2`, never longer than a short name may be, and no other look has it."""
    what, number = _HOLD if holds else "look", f"{found.order:04d}-{found.position}"
    tail = f", {number}"
    room = _LONGEST_SHORT - len(what) - len(tail) - 2
    if room <= 2:
        return f"{what}{tail}"[-_LONGEST_SHORT:]
    written = f"{what}: {found.kind[:room].rstrip('-')}{tail}"
    if holds:
        return from_books("do not drive: {kind}, {number}", written, kind=found.kind, number=number)
    return from_books("look: {kind}, {number}", written, kind=found.kind, number=number)
