"""A finding that waits is settled, put off, or looked at again with another look to come."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from functools import partial
from zoneinfo import ZoneInfo

from fleetcare.actions.gather import Rules, garage_day, garage_of
from fleetcare.actions.ports import Change, ReadView, Store, WriteUnit
from fleetcare.actions.settle import Settled, settle
from fleetcare.errors import BadFinding, Clash, NotFound
from fleetcare.figures import kept_day
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.people import Garage
from fleetcare.language import saying
from fleetcare.wording import day_words
from fleetcare.work.findings import Follow
from fleetcare.work.found import Found, found_where_it_is, settled
from fleetcare.work.open_findings import (
    WaitingFinding,
    cut_otherwise,
    finding_key,
    interval_cuts,
    look_later,
    open_findings,
    put_off,
    seen_again,
)

FINDING = "finding"
"""What the log calls whatever happens to one."""


class Reply(StrEnum):
    """What somebody says of a finding."""

    SETTLED = "settle"
    PUT_OFF = "put-off"
    """Nobody looked; the look comes later, for a reason."""
    LOOKED = "look-again"
    """Somebody looked, and wants to look once more."""
    CUT = "cut"
    """The interval is cut to another part of itself."""


@dataclass(frozen=True, slots=True)
class Answered:
    """What came of it: the finding as it stood, and where its vehicle stands now."""

    finding: WaitingFinding
    settled: Settled


def _findings_in(view: ReadView) -> tuple[WaitingFinding, ...]:
    """All findings that wait or cut an interval short, under the vehicle where their component is now."""
    found = found_where_it_is(view.found(), view.moves())
    return (*open_findings(found, view.work()), *interval_cuts(found))


def answer_finding(
    store: Store,
    rules: Rules,
    key: str,
    reply: Reply,
    *,
    note: str,
    by_day: date | None = None,
    share: Decimal | None = None,
    shown: str | None = None,
    now: datetime,
    who: str,
    base_url: str,
) -> Answered:
    """Says what was seen of a finding, or why it can wait, and until when. One transaction, or nothing.

    by_day: needed if it is looked at later. share: needed to cut the interval otherwise, in per cent. shown: its state
    on the page somebody answered from; None does not ask. Raises NotFound, Clash (somebody else was first; it says who
    and with what), BadFinding (no words, no day, a day or a part that cannot be).
    """
    if not note.strip():
        raise BadFinding("Nothing is said of what was seen, or why.", remedy="Say it in a few words.", field="note")
    if reply in (Reply.PUT_OFF, Reply.LOOKED) and by_day is None:
        raise BadFinding("The day to look again is missing.", remedy="Give the day, such as 2026-05-12.", field="by")
    with store.write(Change(who, f"finding {key}: {reply.value.replace('-', ' ')}", now)) as unit:
        garage = garage_of(unit)
        today = garage_day(garage, now)
        finding = next((each for each in _findings_in(unit) if each.key == key), None)
        if finding is None or (shown is not None and finding.state != shown):
            raise _somebody_was_first(unit, key, finding, garage, today)
        if reply is Reply.SETTLED:
            follow = None
            told = (
                saying("taken back: {note}", note=note.strip())
                if finding.cuts
                else saying("settled: {note}", note=note.strip())
            )
        elif reply is Reply.CUT or by_day is None:
            follow = cut_otherwise(finding, share=share)
            told = saying("the interval is cut to {share} % of itself: {note}", share=share, note=note.strip())
        else:
            follow = look_later(finding, by_day=by_day, today=today)
            told = saying("look again by {day}: {note}", day=kept_day(by_day), note=note.strip())
        subject = _put_in_place(unit, finding, reply, note.strip(), follow, today=today, who=who)
        unit.log_change(subject, FINDING, finding.words, told)
        marks = tuple(sorted({finding.line.mark, finding.origin.line.mark}))
        return Answered(finding, settle(unit, rules, now=now, base_url=base_url, marks=marks))


def _put_in_place(
    unit: WriteUnit,
    finding: WaitingFinding,
    reply: Reply,
    note: str,
    follow: Follow | None,
    *,
    today: date,
    who: str,
) -> str:
    """Writes the answer; the subject under which the log has it. follow: what follows now, None if nothing does."""
    origin = finding.origin
    by_day = None if follow is None else follow.look_by(finding.on)
    if not isinstance(origin, Found):
        stored = next(each for each in unit.work((origin.line.mark,)) if each.id == origin.id)
        before = stored.findings[finding.place]
        after = replace(before, settled_on=today) if follow is None else replace(before, look_again_on=by_day)
        findings = tuple(after if place == finding.place else each for place, each in enumerate(stored.findings))
        assert stored.id is not None  # it was read from the store
        # A record is not added to; the same work with the answer beside what was found takes its place.
        unit.take_back_work((stored.id,))
        unit.add_work((replace(stored, findings=findings, id=None),))
        return str(origin.line)
    first = next(each for each in unit.found() if (each.order, each.position) == (origin.order, origin.position))
    said: str = note
    if by_day is not None and reply is Reply.PUT_OFF:
        said = saying("put off until {day}: {note}", day=kept_day(by_day), note=note)
    if follow is not None and reply is Reply.CUT:
        said = saying("cut otherwise: {note}", note=note)
    unit.settle_found(settled(first, on=today, by=who, note=said))
    if follow is not None:
        place = 1 + max(each.position for each in unit.found() if each.order == first.order)
        if reply is Reply.LOOKED and by_day is not None:
            follow = replace(follow, days=(by_day - today).days)
            # It was looked at where the component is now, which may be another vehicle.
            anew = seen_again(origin, follow, on=today, by=who, note=note, position=place)
        else:
            anew = put_off(first, follow, position=place, decided=note)
        unit.add_found((anew,))
    return str(first.line)


def _somebody_was_first(
    unit: WriteUnit, key: str, finding: WaitingFinding | None, garage: Garage, today: date
) -> Clash | NotFound:
    """Who was, when, and with what; NotFound for a finding that never was."""
    line = finding.origin.line if finding is not None else _line_of(unit, key)
    if line is None:
        return NotFound("finding", key, [each.key for each in _findings_in(unit)])
    last = next((each for each in unit.log(str(line), 20) if each.what == FINDING), None)
    if last is None:
        return Clash("Somebody else answered that finding meanwhile. Here it is as it is now.")
    people = {person.key: person.first_name for person in unit.people()}
    at = last.change.at.astimezone(ZoneInfo(garage.zone))
    day = "" if at.date() == today else saying(" on {day}", day=partial(day_words, at.date(), today))
    who = people.get(last.change.who, last.change.who)
    return Clash(
        saying(
            "{who} answered that finding at {at}{day}: {after}. Here it is as it is now.",
            who=who,
            at=f"{at:%H:%M}",
            day=day,
            after=last.after,
        )
    )


def _line_of(unit: WriteUnit, key: str) -> LineKey | None:
    for each in unit.found():
        if f"{each.order:04d}-{each.position}" == key:
            return each.line
    for record in unit.work():
        if any(finding_key(record, place) == key for place in range(len(record.findings))):
            return record.line
    return None
