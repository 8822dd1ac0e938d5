"""What a plan that is taken changes of the one before, visit by visit, each with its cause; and as lines of the log."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

from fleetcare.bayplan.explain import Forbidden
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.wish import why_not_then
from fleetcare.fleet.bay_visit import BayVisit, VisitState
from fleetcare.fleet.component import LineKey

LOG_SUBJECT = "bay plan"
"""Under this subject the log keeps what plans have changed."""
TOLD_DAYS = 14
"""Visits so many days ahead stand in their mechanic's weekly letter, pencilled ones too, so people hear of a move."""
_NONE = "-"


class Cause(StrEnum):
    """Why a visit came, moved or went."""

    WISHED = "somebody wished it"
    NOBODY = "nobody is there on the old day"
    TAKEN = "the bay is taken on the old day"
    AWAY = "the vehicle is away on the old day"
    NOT_ABLE = "nobody may do it on the old day"
    OTHER_WORK = "other services are done in it now"
    ROOM = "it makes room for the wish"
    PRICE = "the plan as a whole costs less"
    DATES = "its services come due on other days"
    NEW = "what comes due had no day"
    JOINED = "its services are done in another visit"
    LEFT = "its services are left for a later plan"
    NOT_DUE = "nothing of it comes due in that time"


@dataclass(frozen=True, slots=True)
class PlanChange:
    """One visit that came (was is None), went (now is None) or moved. Instants are those of the first hand, UTC."""

    mark: str
    number: int
    was: datetime | None
    now: datetime | None
    cause: Cause


@dataclass(frozen=True, slots=True)
class LastPlan:
    """The plan that was taken last and changed something. who: key of the person, or what took it. at: UTC."""

    who: str
    at: datetime
    changes: tuple[PlanChange, ...]


def plan_changes(
    problem: BayProblem | None,
    *,
    before: Iterable[BayVisit],
    after: Sequence[BayVisit],
    gone: Sequence[BayVisit],
    left: Collection[LineKey],
    wished: tuple[str, int] | None,
    day_0: date,
    zone: ZoneInfo,
    held: Collection[date] = (),
    kept: Sequence[BayVisit] = (),
) -> tuple[PlanChange, ...]:
    """Visits whose first hand is elsewhere, that are new or that go, by mark and number.

    before: every visit as it stands. after, gone: as the plan has them. left: services that have no visit in it.
    wished: mark and number of the visit that it was made around. day_0: from which the problem's days are counted.
    held: days on which somebody would be there and no bay is free. kept: inked visits ahead, which do what they do.
    """
    old = {each.key: each for each in before if each.takes_place}
    found = []
    for visit in after:
        was = old.get(visit.key)
        if was is None:
            found.append(PlanChange(visit.mark, visit.number, None, visit.begins_at, Cause.NEW))
        elif was.begins_at != visit.begins_at:
            cause = Cause.WISHED if visit.key == wished else _why_moved(problem, was, visit, wished, day_0, zone, held)
            found.append(PlanChange(visit.mark, visit.number, was.begins_at, visit.begins_at, cause))
    elsewhere = {line for visit in (*after, *kept) for line in visit.lines}
    for visit in gone:
        lines = set(visit.lines)
        cause = Cause.JOINED if lines & elsewhere else Cause.LEFT if lines & set(left) else Cause.NOT_DUE
        found.append(PlanChange(visit.mark, visit.number, visit.begins_at, None, cause))
    return tuple(sorted(found, key=lambda each: (each.mark, each.number)))


def _why_moved(
    problem: BayProblem | None,
    was: BayVisit,
    visit: BayVisit,
    wished: tuple[str, int] | None,
    day_0: date,
    zone: ZoneInfo,
    held: Collection[date],
) -> Cause:
    names = [name for name in map(str, was.lines) if problem is not None and name in problem.service_by_name]
    day = (was.begins_at.astimezone(zone).date() - day_0).days
    # Of days beyond the time that is planned nobody knows who is there.
    if problem is not None and names and day < problem.days:
        barred: Mapping[Forbidden, Cause] = {
            Forbidden.NOBODY: Cause.NOBODY,
            Forbidden.AWAY: Cause.AWAY,
            Forbidden.SKILL: Cause.NOT_ABLE,
        }
        rule = why_not_then(problem, was.mark, names, day)
        if rule is Forbidden.NOBODY and day_0 + timedelta(days=day) in held:
            return Cause.TAKEN
        if rule in barred:
            return barred[rule]
    if set(was.lines) != set(visit.lines):
        return Cause.OTHER_WORK
    return Cause.PRICE if wished is None else Cause.ROOM


def told_from(was: BayVisit, now: BayVisit, *, today: date, zone: ZoneInfo) -> date | None:
    """The day people had counted on, if a plan moves the visit off it; what was told before and is not overtaken stays.

    People count on a day that is inked, that they were told of by a letter about a move, or that is so near that it
    stands in the weekly letter.
    """
    was_on, is_on = (each.begins_at.astimezone(zone).date() for each in (was, now))
    if was_on == is_on:
        return was.moved_from
    is_near = 0 <= (was_on - today).days <= TOLD_DAYS
    return was_on if was.state is VisitState.INKED or was.moved_from is not None or is_near else None


def log_line(change: PlanChange) -> tuple[str, str, str, str]:
    """Subject, what, before and after, as the log keeps it."""
    name = f"{change.mark}/{change.number}"
    was, now = (_NONE if at is None else at.isoformat() for at in (change.was, change.now))
    return LOG_SUBJECT, change.cause.value, f"{name} {was}", f"{name} {now}"


def logged_change(what: str, before: str, after: str) -> PlanChange | None:
    """The change that such a line is of; None for a line that is of none."""
    name, _, was = before.partition(" ")
    mark, _, number = name.rpartition("/")
    now = after.partition(" ")[2]
    if what not in set(Cause) or not number.isdigit() or not was or not now:
        return None
    first, second = (None if at == _NONE else datetime.fromisoformat(at) for at in (was, now))
    return PlanChange(mark, int(number), first, second, Cause(what))
