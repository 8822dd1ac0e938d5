"""One service line: its limits found and its questions asked, and its outlook once they are answered."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import NamedTuple

from fleetcare.book.rows import BookRow, IntervalBook, Limits
from fleetcare.due.after_events import MetEvent, dated_event, events_met, next_event_words
from fleetcare.due.asking import Answer, Questions
from fleetcare.due.by_meter import AskedLimit, answered_limit, ask_limit
from fleetcare.due.chain import dated_step, limit_steps, pace_step, readings_step, window_step
from fleetcare.due.counted_from import CountedFrom, counted_from
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.limit import LimitOutlook, dated_limit, first_of, give_days_for
from fleetcare.due.outlook import Cause, DueWindow, Figure, LineOutlook, NoDate, Step
from fleetcare.due.pace import Amount, TrackPace
from fleetcare.due.shorter_once import in_force_after
from fleetcare.due.telling import clock_question, row_sentences, since_sentence, spell_words, tag_sentences
from fleetcare.due.vehicle_state import has_open_end, moved_while_laid_up, stood_still
from fleetcare.fleet.component import Component, LineKey, LineStart
from fleetcare.fleet.duty import ALL_DAILY, DutyCycle
from fleetcare.fleet.tag_reading import tag_of
from fleetcare.language import later, tr, tr_book
from fleetcare.usage.mix import MixForecast
from fleetcare.usage.priors import Priors
from fleetcare.wear.distance_limit import DistanceLimit, distance_limit, plain_limit
from fleetcare.wear.time_limit import limits_in_force, time_limit
from fleetcare.wording import day_words
from fleetcare.work.record import WorkDone

_TOO = {
    "distance": later(
        "It has a limit by distance too, but {name} has no reading of that kind, so it cannot be counted."
    ),
    "hours": later("It has a limit by hours too, but {name} has no reading of that kind, so it cannot be counted."),
}
_HOURS_ALIKE = MixForecast(ALL_DAILY, 1.0)


@dataclass(frozen=True, slots=True)
class Rules:
    """What every vehicle is judged by on one day, and where questions go."""

    book: IntervalBook
    duties: Mapping[str, DutyCycle]
    priors: Priors
    today: date
    questions: Questions


@dataclass(frozen=True, slots=True)
class Situation:
    """One vehicle as far as it is known before its lines: its paces (None without a reading) and its mix ahead."""

    facts: VehicleFacts
    distance: TrackPace | None
    hours: TrackPace | None
    mix: MixForecast
    basis: str
    is_gone: bool


class Asked(NamedTuple):
    """A limit on a meter that waits for its answer. about: what is told before it, for example the event."""

    cause: Cause
    what: str
    about: str
    limit: AskedLimit


@dataclass(frozen=True, slots=True)
class LineCase:
    """One line with its questions asked. unread: a limit on a meter that has no reading. met: events that count."""

    component: Component
    row: BookRow
    since: CountedFrom
    dated: tuple[LimitOutlook, ...]
    asked: tuple[Asked, ...]
    unread: tuple[str, ...]
    met: tuple[MetEvent, ...]
    shortened: str = ""
    """Why this interval is shorter than the book's; empty if it is not."""
    cut_by: str = ""
    """Key of the finding that makes it so."""


def prepare_line(
    situation: Situation,
    component: Component,
    row: BookRow,
    start: LineStart,
    work: Sequence[WorkDone],
    rules: Rules,
) -> LineCase:
    """Finds the limits of a line and asks for the days of those on a meter. work: its records, oldest first."""
    facts, today, priors = situation.facts, rules.today, rules.priors
    since = counted_from(
        facts, component, row, start, work, distance=situation.distance, hours=situation.hours, today=today
    )
    dated: list[LimitOutlook] = []
    limits = limits_in_force(row.rule, is_first=since.is_first, has_modifier=_has_modifier(row, component))
    limits, why_shorter, cut_by = in_force_after(limits, component.key, since, facts.found)
    if since.look_is_due:
        dated.append(_look(since, rules))
        limits = Limits()
    by_time = time_limit(limits, since.on)
    if by_time is not None:
        give = give_days_for(by_time.days, row.give_days, priors)
        words = tr(
            "By date: {limit} after {anchor} is {due}, with {days} days of give to either side.",
            limit=by_time.words,
            anchor=day_words(since.on, today),
            due=day_words(by_time.due_on, today),
            days=give,
        )
        dated.append(
            dated_limit(Cause.DATE, by_time.due_on, since=since.on, today=today, give_days=give, told=(words,))
        )

    wanted: list[tuple[Cause, str, DistanceLimit, date, Amount | None, bool]] = []
    by_distance = distance_limit(limits, row.rule.mixing, rules.duties, fluid_grade=component.fluid_grade)
    if by_distance is not None:
        wanted.append((Cause.DISTANCE, "", by_distance, since.on, since.km, False))
    if limits.hours:
        wanted.append((Cause.HOURS, "", plain_limit(float(limits.hours)), since.on, since.hours, True))
    met = events_met(facts, component, row, since)
    for event in met:
        by_day = dated_event(event, row, since.on, today=today, priors=priors)
        if by_day is not None:
            dated.append(by_day)
        about = tr("After {event}: ", event=event.words(today))
        if event.rule.distance is not None:
            limit = plain_limit(event.rule.distance.in_km)
            wanted.append((Cause.EVENT, about, limit, event.on, _amount_on(situation.distance, event.on), False))
        if event.rule.hours is not None:
            limit = plain_limit(float(event.rule.hours))
            wanted.append((Cause.EVENT, about, limit, event.on, _amount_on(situation.hours, event.on), True))

    asked: list[Asked] = []
    unread: list[str] = []
    for cause, about, limit, on, amount, is_hours in wanted:
        pace = situation.hours if is_hours else situation.distance
        what = "hours" if is_hours else "distance"
        if pace is None or amount is None:
            unread.append(what)
            continue
        question = ask_limit(
            limit,
            pace,
            amount,
            on.toordinal(),
            _HOURS_ALIKE if is_hours else situation.mix,
            facts.vehicle.usual_split,
            rules.questions,
            priors,
            today=today.toordinal(),
            before=() if cause is Cause.EVENT else since.hours_before if is_hours else since.km_before,
        )
        asked.append(Asked(cause, what, about, question))
    return LineCase(component, row, since, tuple(dated), tuple(asked), tuple(unread), met, why_shorter, cut_by)


def line_outlook(
    case: LineCase, situation: Situation, answers: Sequence[Answer], rules: Rules, *, with_steps: bool = True
) -> LineOutlook:
    """The outlook of a line, once every question is answered."""
    today = rules.today
    on_meters = [
        answered_limit(asked.limit, answers[asked.limit.place], asked.cause, today=today.toordinal())
        for asked in case.asked
    ]
    found = None if situation.is_gone else first_of([*case.dated, *on_meters])
    first = found[0] if found else min([*on_meters, *case.dated], key=lambda limit: limit.likely, default=None)
    window = found[1] if found else None
    no_date = None if found else _why_none(case, situation, on_meters)
    known = first is not None and not situation.is_gone
    steps = _steps(case, situation, on_meters, window, no_date, rules) if with_steps else ()
    return LineOutlook(
        key=LineKey(situation.facts.vehicle.mark, case.component.key, case.row.key),
        row=case.row,
        component=case.component,
        today=today,
        window=window,
        no_date=no_date,
        q_read=first.q_read if first is not None and known else None,
        q_now=first.q_now if first is not None and known else None,
        per_day=first.per_day if first is not None and known else None,
        last_done_on=case.since.work.on if case.since.work else None,
        steps=steps,
        counted_on=case.since.on,
        cut_by=case.cut_by,
    )


def _has_modifier(row: BookRow, component: Component) -> bool:
    """Whether a friction modifier matters to that row and is in the component; its tag is read only if it matters."""
    matters = any(limits is not None and limits.with_modifier for limits in (row.rule.first, row.rule.repeat))
    return matters and tag_of(component).has_modifier


def _look(since: CountedFrom, rules: Rules) -> LimitOutlook:
    """A look at a line of unknown history, within weeks of the day it was set up."""
    priors = rules.priors
    likely = since.on + timedelta(days=priors.look_likely_days)
    late = since.on + timedelta(days=priors.look_late_days)
    words = tr(
        "The look is due from {first} on, at the latest {late}.",
        first=day_words(since.on, rules.today),
        late=day_words(late, rules.today),
    )
    return dated_limit(
        Cause.UNKNOWN_HISTORY,
        likely,
        since=since.on,
        today=rules.today,
        give_days=(late - likely).days,
        give_before=(likely - since.on).days,
        told=(words,),
    )


def _amount_on(pace: TrackPace | None, on: date) -> Amount | None:
    return None if pace is None else pace.amount_on(on.toordinal())


def _why_none(case: LineCase, situation: Situation, on_meters: Sequence[LimitOutlook]) -> NoDate:
    if situation.is_gone:
        return NoDate.OUT_OF_FLEET
    if on_meters or case.dated:
        never = all(math.isinf(limit.likely) for limit in (*on_meters, *case.dated))
        worn = any(asked.limit.per_unit > 0 for asked in case.asked)
        waits = any(has_open_end(spell) for spell in situation.facts.vehicle.laid_up)
        return NoDate.NO_USE if waits or (never and not worn) else NoDate.BEYOND
    if case.unread:
        return NoDate.NO_READING
    if case.row.rule.after and not case.met:
        return NoDate.NO_EVENT
    # Months or weeks that end after the last day of the calendar.
    return NoDate.BEYOND


def _steps(
    case: LineCase,
    situation: Situation,
    on_meters: Sequence[LimitOutlook],
    window: DueWindow | None,
    no_date: NoDate | None,
    rules: Rules,
) -> tuple[Step, ...]:
    """The way from readings to dates."""
    facts, today = situation.facts, rules.today
    vehicle = facts.vehicle
    told = [Step(text, "rule") for text in (*row_sentences(case.row), *tag_sentences(case.row, case.component))]
    if situation.is_gone:
        gone = vehicle.out_of_fleet_on or today
        out = tr(
            "{name} is out of the fleet since {day}, so nothing is due.", name=vehicle.name, day=day_words(gone, today)
        )
        return (*told, Step(out))
    tracks = [pace.track if pace is not None else None for pace in (situation.distance, situation.hours)]
    for pace, is_hours in ((situation.distance, False), (situation.hours, True)):
        if pace is not None and any((asked.what == "hours") is is_hours for asked in case.asked):
            told.append(readings_step(facts, pace.track, today))
            told.append(pace_step(facts, pace, tr("from its hour meter") if is_hours else situation.basis, today))
    standing, moved = stood_still(facts, tracks, today), moved_while_laid_up(facts, tracks, today)
    question = clock_question(vehicle, standing, moved, today) if case.asked else ""
    if question:
        told.append(Step(f"{vehicle.name} {question}", "question"))
    if case.asked:
        told.extend(
            Step(
                tr("It is laid up {spell}; use does not go on in that time.", spell=spell_words(spell, today)),
                "laid up",
            )
            for spell in sorted(vehicle.laid_up)
            if spell.end > today
        )
    told.append(Step(since_sentence(case.since, vehicle, today), "since", (Figure("counted from", case.since.on),)))
    if case.shortened:
        told.append(Step(case.shortened, "shortened"))
    for asked, outlook in zip(case.asked, on_meters, strict=True):
        told.extend(
            limit_steps(asked.limit, outlook, vehicle, situation.mix.split, today, what=asked.what, about=asked.about)
        )
    told.extend(Step(tr(_TOO[what], name=vehicle.name)) for what in case.unread)
    told.extend(dated_step(limit) for limit in case.dated)
    if window is not None:
        told.append(window_step(window, len(case.asked) + len(case.dated), today))
        told.extend(map(Step, _worth_reading(window, situation, rules)))
    elif no_date is NoDate.NO_EVENT:
        events = ", ".join(tr_book(after.event) for after in case.row.rule.after)
        told.append(Step(tr("It waits for its event ({events}).", events=events)))
        told.extend(map(Step, next_event_words(facts, case.row, today=today, priors=rules.priors)))
    elif no_date is not None:
        told.append(Step(tr("No date: {reason}.", reason=tr(no_date.value))))
    return tuple(told)


def _worth_reading(window: DueWindow, situation: Situation, rules: Rules) -> Sequence[str]:
    """A hint when the window is wide for its distance and the last reading is not of today."""
    ahead = (window.likely - rules.today).days
    pace = situation.distance
    if window.cause is not Cause.DISTANCE or pace is None or ahead < rules.priors.give_min_days:
        return ()
    if (window.late - window.early).days <= rules.priors.ask_ratio * ahead:
        return ()
    if pace.track.last_ordinal >= rules.today.toordinal():
        return ()
    return (tr("A fresh reading would narrow this window."),)
