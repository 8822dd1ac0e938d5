"""A vehicle is laid up for a spell, in which its clock stands, or let out again."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import partial
from itertools import pairwise

from fleetcare.actions.gather import Rules, facts_of, garage_of, vehicle_in
from fleetcare.actions.ports import Change, Store, WriteUnit
from fleetcare.actions.settle import Settled, settle
from fleetcare.due.causes import cause
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.telling import dated_words, spell_words
from fleetcare.due.vehicle_state import OPEN_FROM_YEAR, UNTIL_FURTHER_NOTICE, has_open_end, spell_on
from fleetcare.errors import BadInput
from fleetcare.fleet.naming import answers_for
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import saying
from fleetcare.meter.checking import check_meter
from fleetcare.meter.reading import Reading
from fleetcare.quantities import DateSpan
from fleetcare.usage.single_clock import FIRST_YEAR
from fleetcare.wording import day_words, meter_words

FIRST_FIELD, LAST_FIELD, OUT_FIELD = "from", "until", "out"
"""What a form, the command line and an error call the three days."""


@dataclass(frozen=True, slots=True)
class Given:
    """A spell as somebody gave it: its first day and its last one, None until further notice."""

    vehicle: str
    first: date
    last: date | None = None


@dataclass(frozen=True, slots=True)
class LaidUp:
    """How the vehicle stands now. spell: the one that was told or changed, None if it is taken back.

    known: it stood here so before, nothing was changed.
    """

    vehicle: Vehicle
    spell: DateSpan | None
    known: bool
    settled: Settled


def may_lay_up(person: Person, vehicle: Vehicle, garage: Garage) -> bool:
    """Whether this person may say that the vehicle is laid up: its keeper, and who keeps the list."""
    return answers_for(person, vehicle, garage)


def lay_up(store: Store, rules: Rules, given: Given, *, who: str, now: datetime, base_url: str) -> LaidUp:
    """Adds a spell in which the vehicle stands, and works it out again, in one transaction.

    A spell may lie in the past or ahead; the same one given twice counts once. Raises NotFound (vehicle) and BadInput
    (an end before its beginning, a spell over another one, a day before the vehicle was there, a reading that moved
    inside it).
    """
    if not FIRST_YEAR <= given.first.year < OPEN_FROM_YEAR:
        raise BadInput(
            saying("{day} lies outside of the calendar that is kept here.", day=partial(dated_words, given.first)),
            remedy="Give the first day on which it stands, such as 2026-02-03.",
            field=FIRST_FIELD,
        )
    if given.last is not None and given.last < given.first:
        raise BadInput(
            saying(
                "It cannot be laid up until {day} if it is from {other_day} on.",
                day=partial(dated_words, given.last),
                other_day=partial(dated_words, given.first),
            ),
            remedy="Give the first day, then the last one on which it stands.",
            field=LAST_FIELD,
        )
    if given.last is not None and given.last.year >= OPEN_FROM_YEAR:
        raise BadInput(
            "That is further ahead than anybody knows.", remedy="Leave the last day out instead.", field=LAST_FIELD
        )
    if given.last is None:
        why = cause("laid up from {day} until further notice", day=given.first)
    else:
        why = cause("laid up from {day} to {last_day}", day=given.first, last_day=given.last)
    with store.write(Change(who, why, now)) as unit:
        garage_of(unit)
        vehicle = vehicle_in(unit, given.vehicle)
        end = UNTIL_FURTHER_NOTICE if given.last is None else DateSpan.of_days(given.last, given.last).end
        spell = DateSpan(given.first, end)
        if spell in vehicle.laid_up:
            return LaidUp(vehicle, spell, True, settle(unit, rules, now=now, base_url=base_url, marks=(vehicle.mark,)))
        _refuse_what_cannot_be(vehicle, facts_of(unit, (vehicle.mark,))[0], spell)
        changed = replace(vehicle, laid_up=tuple(sorted((*vehicle.laid_up, spell))))
        return _changed(unit, rules, vehicle, changed, spell, now=now, base_url=base_url)


def let_out(store: Store, rules: Rules, *, vehicle: str, on: date, who: str, now: datetime, base_url: str) -> LaidUp:
    """Ends the spell that holds that day: from `on` the vehicle runs again. On its first day the spell is taken back.

    Said twice it counts once. Raises NotFound (vehicle) and BadInput (it is not laid up on that day).
    """
    with store.write(Change(who, cause("let out on {day}", day=on), now)) as unit:
        garage_of(unit)
        found = vehicle_in(unit, vehicle)
        spell = spell_on(found, on)
        if spell is None:
            ended = next((each for each in found.laid_up if each.end == on), None)
            if ended is None:
                what = saying("{name} is not laid up on {day}.", name=found.name, day=partial(dated_words, on))
                raise BadInput(what, remedy=_spells(found), field=OUT_FIELD)
            return LaidUp(found, ended, True, settle(unit, rules, now=now, base_url=base_url, marks=(found.mark,)))
        others = tuple(each for each in found.laid_up if each != spell)
        kept = DateSpan(spell.first, on) if on > spell.first else None
        changed = replace(found, laid_up=tuple(sorted((*others, kept))) if kept else others)
        return _changed(unit, rules, found, changed, kept, now=now, base_url=base_url)


def _changed(
    unit: WriteUnit,
    rules: Rules,
    before: Vehicle,
    vehicle: Vehicle,
    spell: DateSpan | None,
    *,
    now: datetime,
    base_url: str,
) -> LaidUp:
    unit.put_vehicle(vehicle)
    unit.log_change(vehicle.mark, "laid up", _in_words(before.laid_up), _in_words(vehicle.laid_up))
    settled = settle(unit, rules, now=now, base_url=base_url, marks=(vehicle.mark,))
    return LaidUp(vehicle, spell, False, settled)


def _refuse_what_cannot_be(vehicle: Vehicle, facts: VehicleFacts, spell: DateSpan) -> None:
    if vehicle.in_service_on is not None and spell.first < vehicle.in_service_on:
        raise BadInput(
            saying(
                "{name} was put into service on {day}, after that day.",
                name=vehicle.name,
                day=partial(dated_words, vehicle.in_service_on),
            ),
            remedy="Give a first day from then on.",
            field=FIRST_FIELD,
        )
    over = next((each for each in sorted(vehicle.laid_up) if each.overlaps(spell)), None)
    if over is not None:
        raise BadInput(
            saying(
                "{name} is laid up {spell} already.",
                name=vehicle.name,
                spell=partial(spell_words, over, spell.first),
            ),
            remedy=saying(
                "Choose days outside of that, or let it out on {first} first, which takes that spell back.",
                first=partial(day_words, over.first, spell.first),
            ),
            field=FIRST_FIELD,
        )
    moved = _moved_inside(vehicle, facts, spell)
    if moved is not None:
        before, after = moved
        raise BadInput(
            saying(
                "{name} moved in that time: {after} on {day} after {before} on {other_day}.",
                name=vehicle.name,
                after=partial(meter_words, after.value, after.unit),
                day=partial(dated_words, after.on),
                before=partial(meter_words, before.value, before.unit),
                other_day=partial(dated_words, before.on),
            ),
            remedy="Give days in which no reading moved, or correct that reading first.",
            field=FIRST_FIELD,
        )


def _moved_inside(vehicle: Vehicle, facts: VehicleFacts, spell: DateSpan) -> tuple[Reading, Reading] | None:
    """The first two readings of one meter inside the spell between which it gained, or None.

    A reading of the day on which it is let out is outside: it may have run on that day.
    """
    for meter in vehicle.meters:
        checked = check_meter(facts.readings, meter, max_km_per_day=vehicle.max_km_per_day)
        known = [
            (reading, amount)
            for reading, amount in zip(checked.readings, checked.distances, strict=True)
            if reading.on in spell
        ]
        for (before, was), (after, now) in pairwise(known):
            if now > was:
                return before, after
    return None


def _spells(vehicle: Vehicle) -> str:
    spells = sorted(vehicle.laid_up)
    if not spells:
        return saying("Say first from when it is laid up.")
    return saying("It is laid up {spells}.", spells=lambda: "; ".join(spell_words(each, date.min) for each in spells))


def _in_words(spells: Iterable[DateSpan]) -> str:
    return "; ".join(
        f"{spell.first} until further notice" if has_open_end(spell) else f"{spell.first} to {spell.last}"
        for spell in sorted(spells)
    )
