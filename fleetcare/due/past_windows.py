"""The windows that would have been given on past days, each made from nothing but what was visible on that day."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from fleetcare.book.rows import BookRow, IntervalBook
from fleetcare.due.asking import Answer, Questions, Stage
from fleetcare.due.counted_from import CountedFrom, Origin, lines_of
from fleetcare.due.limit import LAST_DAY
from fleetcare.due.line_case import LineCase, Rules, Situation, line_outlook, prepare_line
from fleetcare.due.outlook import Cause
from fleetcare.due.pace import TrackPace, paces_of
from fleetcare.due.past_days import PastDay
from fleetcare.due.track import distance_track, hours_track, mix_of
from fleetcare.fleet.component import Component, LineKey, LineStart
from fleetcare.fleet.duty import DutyCycle
from fleetcare.fleet.vehicle import Meter
from fleetcare.language import saying
from fleetcare.quantities import DistanceUnit, km_from
from fleetcare.usage.priors import Priors
from fleetcare.wear.distance_limit import DistanceLimit

MILESTONE_DAYS = (30, 91, 182, 365)
"""A milestone lies as far ahead as the likely pace covers in so many days: a month, a quarter, half a year, a year."""
LEAST_UNITS = 5.0
"""Milestones nearer than so many units of the dial are left out: a dial shows whole units, and they would drown."""


class Kind(StrEnum):
    """What a past window was about."""

    SERVICE = "service"
    """A real service line with a limit by distance or hours."""
    MILESTONE = "milestone"
    """A set distance ahead on the dial; there are enough of them when few services fell due."""


@dataclass(frozen=True, slots=True)
class Way:
    """One way in which a window's day can come: wear 1 by `limit` of what that meter gained after `since`."""

    meter: str
    limit: DistanceLimit
    since: float


@dataclass(frozen=True, slots=True)
class PastWindow:
    """A window as it would have been given on a past day; days are ordinals.

    meter: key of the dial its day rests on, with the true amount `stood_at` it had on that day (km or hours).
    what: the short name of the service, or how far ahead the milestone lay. line: set for a service.
    readings: how many used readings of that dial were known. milestone: true amount to reach, None for a service.
    ways, due_on: for a service its limits on dials, and the first of its limits by date; the first of all is its day.
    """

    kind: Kind
    mark: str
    meter: str
    what: str
    line: LineKey | None
    given_on: int
    readings: int
    stood_at: float
    early: int
    likely: int
    late: int
    milestone: float | None = None
    ways: tuple[Way, ...] = ()
    due_on: int | None = None

    @property
    def horizon(self) -> int:
        """Days from the day it was given to its likely date."""
        return self.likely - self.given_on


def windows_given(
    days: Sequence[PastDay], *, book: IntervalBook, duties: Mapping[str, DutyCycle], priors: Priors
) -> tuple[PastWindow, ...]:
    """Every window that would have been given on these days, in their order; milestones before services.

    One run of the pace filter and one of the due-date solver serve all days at once, with the same code that makes
    today's dates. Left out, by what is visible on the day: services that were already due or limited by date alone,
    lines and components that were not there yet, dials that stood still for long, and trailers that go by bookings.
    """
    tracks = [(distance_track(day.facts, priors, day.on), hours_track(day.facts, priors, day.on)) for day in days]
    paces = paces_of([track for pair in tracks for track in pair if track is not None], priors)
    questions = Questions(paces.of, priors)
    at_hand = iter(paces.of)
    asked: list[_AskedDay] = []
    for day, (distance, hours) in zip(days, tracks, strict=True):
        gone_on = day.facts.vehicle.out_of_fleet_on
        situation = Situation(
            facts=day.facts,
            distance=next(at_hand) if distance is not None else None,
            hours=next(at_hand) if hours is not None else None,
            mix=mix_of(distance, day.facts.vehicle.usual_split, priors),
            basis="",
            is_gone=gone_on is not None and gone_on <= day.on,
        )
        if situation.is_gone:
            continue
        rules = Rules(book, duties, priors, day.on, questions)
        milestones = [
            each
            for pace in (situation.distance, situation.hours)
            if pace is not None
            for each in _ask_milestones(day, pace, questions, priors)
        ]
        asked.append(_AskedDay(day, situation, rules, milestones, list(_line_cases(day, situation, rules))))
    answers = questions.answers()
    return tuple(window for each in asked for window in _answered(each, answers))


@dataclass(frozen=True, slots=True)
class _AskedMilestone:
    pace: TrackPace
    days: int
    amount: float
    place: int


@dataclass(frozen=True, slots=True)
class _AskedDay:
    day: PastDay
    situation: Situation
    rules: Rules
    milestones: list[_AskedMilestone]
    lines: list[LineCase]


# Milestones


def _ask_milestones(day: PastDay, pace: TrackPace, questions: Questions, priors: Priors) -> Iterator[_AskedMilestone]:
    """Puts the question for each milestone of a dial that was read on the day."""
    track = pace.track
    meter, ordinal = track.meter, day.on.toordinal()
    if meter is None or not _was_read(pace, day) or track.has_stood(priors.no_use_days):
        return
    trips = tuple((track.running_since_last(trip.ordinal), trip.km) for trip in track.trips_ahead())
    for days in MILESTONE_DAYS:
        amount = pace.reckoned(ordinal + days) - track.last_amount
        if amount >= LEAST_UNITS * _unit_of(meter):
            stage = Stage(0.0, amount, 1.0, trips=trips)
            yield _AskedMilestone(pace, days, amount, questions.ask(pace.row, (stage,), today=0.0))


def _unit_of(meter: Meter) -> float:
    """One unit of the dial in km or hours."""
    distance = meter.unit.distance
    return 1.0 if distance is None else km_from(1.0, DistanceUnit(distance))


def _milestone_window(day: PastDay, asked: _AskedMilestone, answer: Answer) -> PastWindow | None:
    track = asked.pace.track
    last, end = track.clock.at(track.last_ordinal), float(LAST_DAY.toordinal())
    days = (max(track.clock.ordinal_at(last + days), float(track.last_ordinal)) for days in answer.days)
    early, likely, late = (math.floor(min(day, end) + 0.5) for day in days)
    if track.meter is None or track.checked is None or likely >= end or likely <= track.last_ordinal:
        return None
    return PastWindow(
        kind=Kind.MILESTONE,
        mark=day.facts.vehicle.mark,
        meter=track.meter.key,
        what=saying("{days} days ahead", days=asked.days),
        line=None,
        given_on=track.last_ordinal,
        readings=len(track.checked.readings),
        stood_at=track.last_amount,
        early=early,
        likely=likely,
        late=late,
        milestone=track.last_amount + asked.amount,
    )


# Services


def _line_cases(day: PastDay, situation: Situation, rules: Rules) -> Iterator[LineCase]:
    """The lines with a limit on a dial that was read on the day, not reached by then, each with its questions asked."""
    vehicle = day.facts.vehicle
    work = sorted(day.facts.work, key=lambda record: (record.on, record.id or 0))
    for component in vehicle.components:
        for row, start in lines_of(vehicle, component, rules.book):
            if not _has_meter_limit(row):
                continue
            key = LineKey(vehicle.mark, component.key, row.key)
            done = [record for record in work if record.line == key]
            case = prepare_line(situation, component, row, start, done, rules)
            if (
                case.asked
                and _was_there(case.since, component, start, day)
                and all(asked.limit.used < 1.0 for asked in case.asked)
                and any(_was_read(asked.limit.pace, day) for asked in case.asked)
                and all(not asked.limit.pace.track.from_bookings for asked in case.asked)
            ):
                yield case


def _has_meter_limit(row: BookRow) -> bool:
    rule = row.rule
    limits = [limits for limits in (rule.repeat, rule.first) if limits is not None]
    return any(each.distance or each.hours or each.by_duty for each in limits) or any(
        after.distance is not None or after.hours is not None for after in rule.after
    )


def _was_there(since: CountedFrom, component: Component, start: LineStart, day: PastDay) -> bool:
    """The line was there on the day: work had been done, or it had been set up, or its component had been fitted."""
    if since.origin is Origin.WORK:
        return True
    if since.origin is Origin.NEW:
        return since.on <= day.on and (component.fitted_on is None or component.fitted_on <= day.on)
    known = start.entered_on or day.facts.vehicle.entered_on
    return known is None or known <= day.on


def _was_read(pace: TrackPace, day: PastDay) -> bool:
    """Its dial was read on the day, and the reading fits those before it."""
    return _key(pace) in day.meters and pace.track.last_ordinal == day.on.toordinal()


def _key(pace: TrackPace) -> str:
    return pace.track.meter.key if pace.track.meter is not None else ""


def _service_window(asked: _AskedDay, case: LineCase, answers: Sequence[Answer]) -> PastWindow | None:
    outlook = line_outlook(case, asked.situation, answers, asked.rules, with_steps=False)
    window, given_on = outlook.window, asked.day.on.toordinal()
    if window is None or window.likely.toordinal() <= given_on or not _is_by_meter(window.cause, case):
        return None
    first = next(
        (
            limit.limit.pace
            for limit in case.asked
            if limit.cause is window.cause and _was_read(limit.limit.pace, asked.day)
        ),
        None,
    )
    if first is None:
        return None
    track = first.track
    return PastWindow(
        kind=Kind.SERVICE,
        mark=outlook.key.mark,
        meter=_key(first),
        what=case.row.short,
        line=outlook.key,
        given_on=given_on,
        readings=len(track.checked.readings) if track.checked is not None else 0,
        stood_at=track.last_amount,
        early=window.early.toordinal(),
        likely=window.likely.toordinal(),
        late=window.late.toordinal(),
        ways=tuple(Way(_key(each.limit.pace), each.limit.limit, each.limit.since.value) for each in case.asked),
        due_on=min((round(limit.likely) for limit in case.dated), default=None),
    )


def _is_by_meter(cause: Cause, case: LineCase) -> bool:
    """The limit that comes first is one on a dial, so that there was something to forecast."""
    if cause is Cause.EVENT:
        return all(limit.cause is not Cause.EVENT for limit in case.dated)
    return cause in (Cause.DISTANCE, Cause.HOURS)


def _answered(asked: _AskedDay, answers: Sequence[Answer]) -> Iterator[PastWindow]:
    for milestone in asked.milestones:
        window = _milestone_window(asked.day, milestone, answers[milestone.place])
        if window is not None:
            yield window
    for case in asked.lines:
        window = _service_window(asked, case, answers)
        if window is not None:
            yield window
