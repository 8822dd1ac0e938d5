"""The step after every write that touches readings: which of them are used, and which are held.

It walks the meters again in the writer's own transaction and stores what came of it, so that a reading may release one
that was held before, or show that one was wrong. Not an action: it is never called from outside.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from fleetcare.actions.gather import Rules, rules_in_force
from fleetcare.actions.ports import WriteUnit
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.judging import held_doubt
from fleetcare.due.meter_walk import MeterWalk, walk_of
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import later, saying
from fleetcare.meter.doubt import held_note, own_note, with_plain_blanks
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.usage.reading_judged import Verdict
from fleetcare.wording import day_words

AGAINST_LATER = later("It does not fit the readings after it.")


@dataclass(frozen=True, slots=True)
class Screened:
    """A reading that is held now or used again, and why."""

    vehicle: Vehicle
    reading: Reading
    why: str

    @property
    def is_held(self) -> bool:
        """True if it is held now, False if it is used again."""
        return self.reading.state is ReadingState.HELD


def screen(unit: WriteUnit, rules: Rules, fleet: Iterable[VehicleFacts]) -> tuple[Screened, ...]:
    """Walks the meters of these vehicles and stores which readings are held; those whose state changed, in order.

    fleet: as stored at this moment in the unit. Readings that another one supersedes, or that were taken back, stay as
    they are. Each change is logged.
    """
    rules = rules_in_force(unit, rules)
    found: list[Screened] = []
    for facts in fleet:
        for meter in facts.vehicle.meters:
            found += _stored(unit, facts, walk_of(facts, meter, rules.priors))
    return tuple(found)


def _stored(unit: WriteUnit, facts: VehicleFacts, walked: MeterWalk) -> list[Screened]:
    changed = []
    note: str
    for place, judged in enumerate(walked.walk.judged):
        reading = walked.readings[place]
        if judged.verdict is Verdict.HELD:
            state, why = ReadingState.HELD, _why_held(walked, place, facts.vehicle)
            note = held_note(reading.note, why)
        elif reading.state is ReadingState.USED:
            continue
        else:
            state, why, note = ReadingState.USED, _why_used(walked, place), own_note(reading.note)
        # A sentence of an earlier version has no figures, and is the same as text.
        if (state, note, type(note)) == (reading.state, reading.note, type(reading.note)):
            continue
        assert reading.id is not None  # it came from the store
        unit.set_reading_state(reading.id, state, note)
        if state is not reading.state:
            after = f"held: {with_plain_blanks(why)}" if state is ReadingState.HELD else why
            unit.log_change(reading.mark, "reading", _in_words(reading), after)
            changed.append(Screened(facts.vehicle, replace(reading, state=state, note=note), why))
    return changed


def _why_held(walked: MeterWalk, place: int, vehicle: Vehicle) -> str:
    doubt = held_doubt(walked, place, vehicle)
    return saying(AGAINST_LATER) if doubt is None else doubt.said(vehicle.unit)


def _why_used(walked: MeterWalk, place: int) -> str:
    reading = walked.readings[place]
    if reading.vouched_by:
        return f"used: {reading.vouched_by} says that it is right"
    later = [walked.readings[used] for used in walked.walk.used if walked.readings[used].on > reading.on]
    if not later:
        return "used: it fits the readings before it"
    on = later[0].on
    return f"released by the reading of {day_words(on, on.replace(year=max(1, on.year - 1), day=1))}"


def _in_words(reading: Reading) -> str:
    return f"{reading.value} {reading.unit.value} on {reading.on}"
