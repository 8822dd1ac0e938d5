"""From everything known of vehicles to when each of their services is due."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fleetcare.book.rows import IntervalBook
from fleetcare.due.asking import Questions
from fleetcare.due.counted_from import lines_of
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.follow_ups import look_cases
from fleetcare.due.line_case import LineCase, Rules, Situation, line_outlook, prepare_line
from fleetcare.due.line_inputs import VehicleInputs, vehicle_inputs
from fleetcare.due.measured_limits import limit_cases
from fleetcare.due.outlook import LineOutlook, VehicleOutlook
from fleetcare.due.pace import KnownPace, paces_of
from fleetcare.due.telling import basis_words
from fleetcare.due.track import distance_track, hours_track, mix_of
from fleetcare.due.vehicle_state import (
    held_readings,
    moved_while_laid_up,
    pace_with_trips,
    reading_wanted,
    reckoned_dial,
    stood_still,
)
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.duty import DutyCycle
from fleetcare.usage.priors import Priors
from fleetcare.work.moves import begun_there
from fleetcare.work.record import WorkDone

__all__ = [
    "VehicleFacts",
    "WorkedOut",
    "reckon_fleet",
    "reckon_vehicle",
    "work_out",
]


def reckon_vehicle(
    facts: VehicleFacts, *, book: IntervalBook, duties: Mapping[str, DutyCycle], priors: Priors, today: date
) -> VehicleOutlook:
    """Where one vehicle stands today; see `reckon_fleet`."""
    return reckon_fleet([facts], book=book, duties=duties, priors=priors, today=today)[0]


def reckon_fleet(
    fleet: Sequence[VehicleFacts],
    *,
    book: IntervalBook,
    duties: Mapping[str, DutyCycle],
    priors: Priors,
    today: date,
    with_steps: bool = True,
) -> tuple[VehicleOutlook, ...]:
    """Where each vehicle and each of its service lines stands today, in the order given; see `work_out`."""
    worked_out = work_out(fleet, book=book, duties=duties, priors=priors, today=today, with_steps=with_steps)
    return tuple(each.outlook for each in worked_out)


@dataclass(frozen=True, slots=True)
class WorkedOut:
    """Where a vehicle stands, and the inputs from which its dates can be had again."""

    outlook: VehicleOutlook
    inputs: VehicleInputs


def work_out(
    fleet: Sequence[VehicleFacts],
    *,
    book: IntervalBook,
    duties: Mapping[str, DutyCycle],
    priors: Priors,
    today: date,
    with_steps: bool = True,
    known: Mapping[str, Sequence[KnownPace]] | None = None,
) -> tuple[WorkedOut, ...]:
    """Where each vehicle and each of its service lines stands today, with the inputs of its dates, in the order given.

    Every line has a window or a reason why it has none. Readings and work dated after today are left out; bookings to
    come are not. One run of the pace filter and one of the due-date solver serve all vehicles at once, so that one
    vehicle and ten thousand take the same code. with_steps: False leaves out the sentences of `LineOutlook.steps`.
    known: by mark, how far paces were worked out before under these priors.
    Raises nothing for values that passed their own checks.
    """
    tracks = [(distance_track(facts, priors, today), hours_track(facts, priors, today)) for facts in fleet]
    before = [(known or {}).get(facts.vehicle.mark, ()) for facts in fleet]
    paces = paces_of(
        [track for pair in tracks for track in pair if track is not None],
        priors,
        [paces for paces, pair in zip(before, tracks, strict=True) for track in pair if track is not None],
    )
    rules = Rules(book, duties, priors, today, Questions(paces.of, priors))
    at_hand = iter(paces.of)
    prepared: list[tuple[Situation, list[LineCase]]] = []
    for facts, (distance, hours) in zip(fleet, tracks, strict=True):
        gone_on = facts.vehicle.out_of_fleet_on
        situation = Situation(
            facts=facts,
            distance=next(at_hand) if distance is not None else None,
            hours=next(at_hand) if hours is not None else None,
            mix=mix_of(distance, facts.vehicle.usual_split, priors),
            basis=basis_words(facts.vehicle, distance, today, priors),
            is_gone=gone_on is not None and gone_on <= today,
        )
        prepared.append((situation, _line_cases(situation, rules)))
    answers = rules.questions.answers()
    found = []
    for situation, cases in prepared:
        lines = tuple(line_outlook(case, situation, answers, rules, with_steps=with_steps) for case in cases)
        inputs = vehicle_inputs(situation, cases, lines, today)
        found.append(WorkedOut(_vehicle_outlook(situation, lines, rules), inputs))
    return tuple(found)


def _line_cases(situation: Situation, rules: Rules) -> list[LineCase]:
    vehicle = situation.facts.vehicle
    work: defaultdict[LineKey, list[WorkDone]] = defaultdict(list)
    for record in sorted(situation.facts.work, key=lambda record: (record.on, record.id or 0)):
        if record.on <= rules.today:
            work[record.line].append(record)
    cases = []
    for component in vehicle.components:
        begun = begun_there(vehicle.mark, component.key, situation.facts.moves)
        for row, start in lines_of(vehicle, component, rules.book):
            # Records of what stood in its place before belong to another component.
            own = [r for r in work[LineKey(vehicle.mark, component.key, row.key)] if begun is None or r.on >= begun]
            cases.append(prepare_line(situation, component, row, start, own, rules))
    return [*cases, *look_cases(situation, rules), *limit_cases(situation, rules)]


def _vehicle_outlook(situation: Situation, lines: tuple[LineOutlook, ...], rules: Rules) -> VehicleOutlook:
    facts, today = situation.facts, rules.today
    distance = situation.distance.track if situation.distance else None
    hours = situation.hours.track if situation.hours else None
    checked = distance.checked if distance is not None else None
    return VehicleOutlook(
        vehicle=facts.vehicle,
        today=today,
        last_reading=checked.last if checked is not None else None,
        reckoned_dial=reckoned_dial(situation.distance, today),
        pace_km_per_day=pace_with_trips(situation.distance),
        readings_used=len(checked.readings) if checked is not None else 0,
        basis=situation.basis,
        mix=situation.mix.split,
        lines=lines,
        wanted=reading_wanted(facts, distance, rules.priors, today),
        held=held_readings(facts, distance, hours),
        standing=stood_still(facts, (distance, hours), today),
        moved=moved_while_laid_up(facts, (distance, hours), today),
    )
