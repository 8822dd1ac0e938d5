"""The reading page: last time's drum, an empty one, the unit, the mix in parts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fleetcare.fleet.duty import DutyCycle
from fleetcare.fleet.people import Garage
from fleetcare.fleet.vehicle import Meter, Vehicle, VehicleKind
from fleetcare.language import tr, tr_book
from fleetcare.meter.reading import Reading
from fleetcare.page.cards.frame import Frame, Plate, bare_frame, vehicle_plate
from fleetcare.page.cards.waiting import meter_of
from fleetcare.page.drawings.drum import Drum, drum
from fleetcare.quantities import DistanceUnit, MeterUnit
from fleetcare.wording import count_words, day_words, grouped, joined, lower_first, of_person, unit_name

MOST_PARTS = 4
MOST_DUTIES_IN_BAR = 8
"""The style sheet has rules for so many; further duties have their buttons but no share of the bar."""
DEFAULT_DIGITS = 6

VALUE_FIELD = "odo"
UNIT_FIELD = "unit"
DAY_FIELD = "on"
FORM_FIELD = "form"
KEPT_FIELD = "kept"
"""The day on which a phone kept the reading because there was no signal; counts if no other day is given."""
WHO_FIELD = "who"
"""Who stands at a sticker, by person key; empty for somebody else."""
ONCE_FIELD = "once"
"""A key that no other form has: however often this one is sent, it counts once."""
PART_FIELD = "part_"
"""Followed by the duty's key: `part_towing`, a number of parts from 0 to 4. All 0 means as last time."""


@dataclass(frozen=True, slots=True)
class Part:
    """One duty of the mix: five buttons, none to 4, of which one is chosen."""

    index: int
    key: str
    title: str
    pattern: str
    chosen: int


@dataclass(frozen=True, slots=True)
class UnitChoice:
    """One unit that the dial may show."""

    unit: str
    is_chosen: bool


@dataclass(frozen=True, slots=True)
class WhoChoice:
    """One person who may stand at a sticker; an empty key stands for somebody else."""

    key: str
    name: str
    is_chosen: bool


@dataclass(frozen=True, slots=True)
class EntryCard:
    """The reading page.

    last, last_day, last_words: None and empty without a reading. units: empty if the meter has only one.
    problem, problem_field: what is wrong with what was typed, and in which field.
    last_value: as digits, for the line that adds distances while one types.
    """

    frame: Frame
    plate: Plate
    heading: str
    last: Drum | None
    last_label: str
    last_words: str
    last_unit: str
    last_value: str
    last_day: str
    now_label: str
    cells: int
    unit: str
    unit_words: str
    units: tuple[UnitChoice, ...]
    counts_hours: bool
    parts: tuple[Part, ...]
    hint: str
    day: str
    latest_day: str
    day_is_open: bool
    typed: str
    problem: str
    problem_field: str
    hidden: tuple[tuple[str, str], ...]
    action_url: str
    tail: str
    who: tuple[WhoChoice, ...] = ()


def entry_card(
    *,
    garage: Garage,
    vehicle: Vehicle,
    meter_key: str,
    last: Reading | None,
    parts: Mapping[str, int],
    duties: Sequence[DutyCycle],
    today: date,
    unit: MeterUnit | DistanceUnit,
    form_key: str,
    action_url: str,
    reader_name: str,
    until: date | None,
    typed: str = "",
    problem: str = "",
    problem_field: str = VALUE_FIELD,
    day: str = "",
    home_url: str = "",
    hidden: Sequence[tuple[str, str]] = (),
    people: Sequence[tuple[str, str]] = (),
    who: str = "",
) -> EntryCard:
    """The page on which one reading of one meter is entered.

    parts: parts for each duty, filled in as last time or as usual. unit: preset of "The dial shows" (an hour meter
    counts hours whatever is given). form_key: when the form was opened. hidden: what it carries besides, by name and
    value. reader_name: first name of who the link is for, empty if unknown. until: last day on which the link works;
    None if it is no such link. typed, day: what was typed before, given back. home_url: where the garage's name leads,
    empty for pages opened by a key. people: who may stand at a sticker, by key and first name. who: the key chosen
    before.
    """
    meter = meter_of(vehicle, meter_key)
    hours = meter is not None and meter.unit is MeterUnit.HOURS
    chosen = MeterUnit.HOURS if hours else MeterUnit(unit.value)
    heading = tr("What does the {meter_name} show?", meter_name=meter_name(vehicle, meter))
    digits = meter.digits if meter else DEFAULT_DIGITS
    last_drum = drum(last.value, digits=digits) if last else None
    return EntryCard(
        frame=bare_frame(f"{vehicle.name}: {lower_first(heading)}", garage=garage, today=today, home_url=home_url),
        plate=vehicle_plate(vehicle),
        heading=heading,
        last=last_drum,
        last_label=tr("Last time, {day}", day=day_words(last.on, today)) if last else "",
        last_words=f"{grouped(last.value)} {unit_name(last.unit, last.value)}" if last else "",
        last_unit=last.unit.value if last else "",
        last_value=str(last.value) if last else "",
        last_day=day_words(last.on, today) if last else "",
        now_label=tr("Now, {day}", day=day_words(today, today)),
        cells=max(digits, last_drum.cells if last_drum else 0),
        unit=chosen.value,
        unit_words=unit_name(chosen),
        units=() if hours else tuple(UnitChoice(each.value, each is chosen) for each in (MeterUnit.MI, MeterUnit.KM)),
        counts_hours=hours,
        parts=() if hours else _parts(parts, duties),
        hint=_hint(parts, duties, has_last=last is not None),
        day=day,
        latest_day=today.isoformat(),
        day_is_open=bool(day) or problem_field == DAY_FIELD,
        typed=typed,
        problem=problem,
        problem_field=problem_field if problem else "",
        hidden=((FORM_FIELD, form_key), *hidden),
        action_url=action_url,
        tail=_tail(vehicle, reader_name, until, today),
        who=tuple(WhoChoice(key, name, key == who) for key, name in (*people, ("", tr("someone else"))))
        if people
        else (),
    )


def meter_name(vehicle: Vehicle, meter: Meter | None) -> str:
    """What people call the meter: odometer, hub odometer (on a trailer), hour meter."""
    if meter is not None and meter.unit is MeterUnit.HOURS:
        return tr("hour meter")
    return tr("hub odometer") if vehicle.kind is VehicleKind.TRAILER else tr("odometer")


def a_meter(vehicle: Vehicle, meter: Meter | None) -> str:
    """The same with its article, which not every language makes as English does."""
    if meter is not None and meter.unit is MeterUnit.HOURS:
        return tr("an hour meter")
    return tr("a hub odometer") if vehicle.kind is VehicleKind.TRAILER else tr("an odometer")


def _parts(parts: Mapping[str, int], duties: Sequence[DutyCycle]) -> tuple[Part, ...]:
    return tuple(
        Part(
            index,
            duty.key,
            tr_book(duty.title),
            duty.pattern or "plain",
            min(MOST_PARTS, max(0, parts.get(duty.key, 0))),
        )
        for index, duty in enumerate(duties)
    )


def _hint(parts: Mapping[str, int], duties: Sequence[DutyCycle], *, has_last: bool) -> str:
    """How to fill in the parts, and what they are filled in with."""
    used = [(tr_book(duty.title), parts.get(duty.key, 0)) for duty in duties if parts.get(duty.key, 0) > 0]
    told = tr("In parts, like mixing fuel: only the proportion counts.")
    if not used:
        return told
    filled = tr("Filled in as last time") if has_last else tr("Filled in as it is usually used")
    if len(used) == 1:
        return tr("{told} {filled}, all {used}.", told=told, filled=filled, used=used[0][0])
    (title, count), *others = used
    first = f"{count_words(count)} {'part' if count == 1 else 'parts'} {title}"
    rest = [f"{count_words(number)} {name}" for name, number in others]
    mixed = tr("{first} to {rest}", first=first, rest=rest[0]) if len(rest) == 1 else joined([first, *rest])
    return f"{told} {filled}, {mixed}."


def _tail(vehicle: Vehicle, reader_name: str, until: date | None, today: date) -> str:
    if until is None:
        return ""
    whose = (
        tr("This link is {of_person}, for", of_person=of_person(reader_name)) if reader_name else tr("This link is for")
    )
    return tr("{whose} {vehicle} alone, until {day}.", whose=whose, vehicle=vehicle.name, day=day_words(until, today))
