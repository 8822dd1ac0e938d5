"""A person settles a reading that is held: it is right, it is wrong, or another value was meant."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from functools import partial

from fleetcare.actions.gather import Rules, facts_of, garage_day, garage_of, rules_in_force
from fleetcare.actions.ports import Change, Store
from fleetcare.actions.screening import screen
from fleetcare.actions.settle import Settled, settle
from fleetcare.due.causes import cause
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.judging import held_doubt, judge_reading
from fleetcare.due.meter_walk import walk_of
from fleetcare.errors import BadInput, BadReading, NotFound
from fleetcare.figures import kept_day, kept_dial
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import Saying, as_kept, saying, together
from fleetcare.meter.doubt import Doubt, DoubtKind, Refusal, Verdict, own_note
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.quantities import MeterUnit


class How(StrEnum):
    """What a person says of a held reading."""

    RIGHT = "right"
    """The dial showed it; it is used."""
    WRONG = "wrong"
    """It is set aside for good."""
    GUESS = "guess"
    """The value that was guessed was meant; that one stands in its place."""
    MEANT = "meant"
    """Another value was meant, which the person names; that one stands in its place."""


@dataclass(frozen=True, slots=True)
class SettledReading:
    """The reading that was held, as it stands now; `instead`: what was entered in its place."""

    vehicle: Vehicle
    reading: Reading
    instead: Reading | None
    settled: Settled


def held_reading(readings: Sequence[Reading], value: Decimal, on: date | None) -> Reading:
    """The held reading of that value, of that day if one is named. Raises NotFound; BadInput if there are several."""
    held = [reading for reading in readings if reading.state is ReadingState.HELD]
    found = [reading for reading in held if reading.value == value and on in (None, reading.on)]
    if not found:
        raise NotFound("held reading", str(value), [str(reading.value) for reading in held])
    if len(found) > 1:
        raise BadInput("More than one held reading shows that.", remedy="Name its day.", field="on")
    return found[0]


def settle_held(
    store: Store,
    rules: Rules,
    *,
    mark: str,
    reading_id: int,
    how: How,
    who: str,
    now: datetime,
    base_url: str,
    meant: Decimal | None = None,
    meant_unit: MeterUnit | None = None,
) -> SettledReading:
    """Settles one held reading and works its vehicle out again, in one transaction.

    meant: for `How.MEANT`, what the dial showed, in `meant_unit` (None: the unit of the held reading). Raises NotFound
    if there is no such reading, BadReading if it is not held, if it cannot be right (it runs against readings before
    and after it, or further than can be driven), or if there is no guess.
    """
    with store.write(Change(who, cause("a held reading of {mark} settled", mark=mark), now)) as unit:
        rules = rules_in_force(unit, rules)
        today = garage_day(garage_of(unit), now)
        facts = next(iter(facts_of(unit, (mark,))), None)
        reading = next((r for r in facts.readings if r.id == reading_id), None) if facts is not None else None
        if facts is None or reading is None:
            raise NotFound("reading", str(reading_id))
        if reading.state is not ReadingState.HELD:
            raise BadReading("That reading is not held.", remedy="There is nothing to settle.")
        vehicle = facts.vehicle
        meter = next(m for m in vehicle.meters if m.key == reading.meter)
        note, instead = own_note(reading.note), None
        if how is How.RIGHT:
            _refuse_impossible(vehicle, judge_reading(facts, reading, rules.priors, today=today))
            unit.set_reading_state(reading_id, ReadingState.USED, note, vouched_by=who or "somebody")
            unit.log_change(mark, "reading", _in_words(reading), f"used: {who or 'somebody'} says that it is right")
        else:
            if how is How.MEANT:
                instead = _instead(facts, reading, meant, meant_unit, note, who, now)
                verdict = judge_reading(_without(facts, reading), instead, rules.priors, today=today)
                _refuse_impossible(vehicle, verdict)
            elif how is How.GUESS:
                walked = walk_of(facts, meter, rules.priors)
                doubt = held_doubt(walked, walked.readings.index(reading), vehicle)
                if doubt is None or doubt.guess is None:
                    raise BadReading("There is no good guess at what was meant.", remedy="Enter what the dial showed.")
                instead = _instead(facts, reading, doubt.guess.value, None, note, who, now)
            told = _set_aside(who, instead)
            unit.set_reading_state(reading_id, ReadingState.SUPERSEDED, together(note, told))
            unit.log_change(mark, "reading", _in_words(reading), told)
            if instead is not None:
                if not unit.add_readings((instead,)):
                    raise BadReading(
                        saying("{reading} stands here already.", reading=_in_words(instead)),
                        remedy="Say that this one is wrong.",
                    )
                unit.log_change(mark, "reading", "", _in_words(instead))
        screen(unit, rules, facts_of(unit, (mark,)))
        settled = settle(unit, rules, now=now, base_url=base_url, marks=(mark,))
        stored = {r.id: r for r in unit.readings((mark,))}
        entered = next((r for r in stored.values() if instead is not None and r.identity == instead.identity), None)
        return SettledReading(vehicle, stored[reading_id], entered, settled)


def _instead(
    facts: VehicleFacts,
    held: Reading,
    value: Decimal | None,
    unit: MeterUnit | None,
    note: str,
    who: str,
    now: datetime,
) -> Reading:
    """What stands in place of a held reading. Raises BadReading."""
    if value is None:
        raise BadReading("What the dial showed is missing.", remedy="Type it, digits only.", field="meant")
    instead = replace(
        held,
        value=value,
        unit=unit or held.unit,
        state=ReadingState.USED,
        note=note,
        entered_at=now,
        by=who,
        vouched_by=who or "somebody",
        id=None,
    )
    if instead.identity == held.identity:
        raise BadReading("That is the reading that is held.", remedy="If it is right, say so.", field="meant")
    return instead


def _without(facts: VehicleFacts, reading: Reading) -> VehicleFacts:
    return replace(facts, readings=tuple(r for r in facts.readings if r.id != reading.id))


def _refuse_impossible(vehicle: Vehicle, verdict: Verdict) -> None:
    """No word of a person makes right what runs against its neighbours or further than can be driven."""
    if isinstance(verdict, Refusal) or (isinstance(verdict, Doubt) and verdict.kind is DoubtKind.BEYOND):
        raise BadReading(
            saying("{name}: {verdict}", name=vehicle.name, verdict=partial(verdict.sentence, vehicle.unit)),
            remedy="Say that it is wrong.",
        )


def _set_aside(who: str, instead: Reading | None) -> Saying:
    by = who or saying("somebody")
    if instead is None:
        return saying("set aside by {who}", who=by)
    told = saying(
        "set aside by {who} in favour of {reading}, read on {day}",
        who=by,
        reading=kept_dial(instead.value, instead.unit),
        day=kept_day(instead.on),
    )
    return as_kept(told, f"set aside by {by} in favour of {_in_words(instead)}")


def _in_words(reading: Reading) -> str:
    return f"{reading.value} {reading.unit.value} on {reading.on}"
