"""A component goes to another vehicle or onto the shelf, or comes from there: what is asked, and what came of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from fleetcare.fleet.component import Component
from fleetcare.fleet.people import Garage
from fleetcare.fleet.shelf import SHELF_MARK, is_shelf
from fleetcare.fleet.vehicle import Meter, Vehicle
from fleetcare.language import tr, tr_book
from fleetcare.language.measure import told_in
from fleetcare.page.cards.asking import AskCard, Choice, Field, Group, with_problem
from fleetcare.page.cards.edit_vehicle import MOVE, STAND_FIELD
from fleetcare.page.cards.frame import ROAD_URL, Link, bare_frame, vehicle_plate, vehicle_url
from fleetcare.page.cards.pulled_by import TO_FIELD, TO_MARK_FIELD, where_to_fields
from fleetcare.page.cards.typed import Typed
from fleetcare.quantities import MeterUnit
from fleetcare.wording import day_words, distance_words
from fleetcare.work.moves import Carried, Move

COMPONENT_FIELD, ON_FIELD, KEY_FIELD = "component", "on", "key"
SWAP_FIELD, DIAL_FIELD, DIAL_THERE_FIELD, NOTE_FIELD = "swap", "dial", "dial-there", "note"
FROM_SHELF = f"{SHELF_MARK}/"
"""Stands before a component that lies on the shelf."""


def move_card(
    vehicle: Vehicle,
    typed: Typed,
    *,
    garage: Garage,
    today: date,
    others: Sequence[Vehicle],
    shelf: Sequence[Component],
    stand: str,
) -> AskCard:
    """Which component, where to, when, and what the dials showed.

    others: vehicles it may go to. shelf: what lies there. stand: which state of the vehicle is shown.
    """
    chosen, to = typed.of(COMPONENT_FIELD), typed.of(TO_FIELD)
    what = [Choice(part.key, tr_book(part.title), part.key == chosen) for part in vehicle.components]
    what += [
        Choice(key, tr("From the shelf: {part}", part=title), key == chosen)
        for key, title in ((f"{FROM_SHELF}{part.key}", tr_book(part.title)) for part in shelf)
    ]
    waits = tr("It waits there, with what it has behind it.")
    where = where_to_fields(
        others,
        to,
        typed.of(TO_MARK_FIELD),
        shelf=None if is_shelf(vehicle.mark) else Choice(SHELF_MARK, tr("The shelf"), to == SHELF_MARK, waits),
        hint=tr("What comes from the shelf comes to {name}.", name=vehicle.name) if shelf else "",
    )
    called = tr("What it is called there, if not the same")
    key = Field(KEY_FIELD, called, value=typed.of(KEY_FIELD), hint=tr("Such as spare-axle."))
    swapped = typed.of(SWAP_FIELD) == "yes"
    groups = [
        Group((Field(COMPONENT_FIELD, tr("Which component?"), "one", choices=tuple(what)),)),
        Group(
            (
                *where,
                Field(
                    SWAP_FIELD,
                    tr("If one like it is there"),
                    "many",
                    choices=(Choice("yes", tr("The two change places"), swapped),),
                ),
            )
        ),
        Group(_when(vehicle, typed, today)),
        Group(
            (key,),
            tr("Give it another key"),
            is_folded=True,
            is_open=bool(typed.of(KEY_FIELD)),
        ),
    ]
    marked, problem = with_problem(tuple(groups), typed.problem_field, typed.problem)
    return AskCard(
        frame=bare_frame(tr("Move a component"), garage=garage, today=today, home_url=ROAD_URL),
        heading=tr("Move a component of {name}", name=vehicle.name),
        action_url=f"{vehicle_url(vehicle.mark)}{MOVE}",
        button=tr("It was moved"),
        groups=marked,
        plate=vehicle_plate(vehicle),
        said=(tr("It takes along what it has behind it: its services go on where they were."),),
        problem=problem,
        hidden=((STAND_FIELD, stand),),
        back=Link(tr("Back to {name}", name=vehicle.name), vehicle_url(vehicle.mark)),
    )


def moved_words(
    moves: Sequence[Move],
    *,
    places: Mapping[str, Vehicle],
    titles: Mapping[str, str],
    today: date,
) -> tuple[str, ...]:
    """What went where, and what each of its services took along. places: by mark. titles: of services, by key."""
    told = []
    for move in moves:
        one, other = places[move.from_mark], places[move.to_mark]
        part = other.component(move.to_component)
        title = tr_book(part.title) if part is not None else move.to_component
        facts = {"part": title, "one": one.name, "other": other.name, "day": day_words(move.on, today)}
        told.append(tr("{part}: from {one} to {other}, {day}.", **facts))
        for each in move.carried:
            service = tr_book(titles.get(each.service, each.service))
            told.append(tr("{service}: {behind}.", service=service, behind=_behind(each, other, today)))
    return tuple(told)


def _behind(carried: Carried, vehicle: Vehicle, today: date) -> str:
    if not carried.known:
        return tr("nobody knows when it was done, so a look comes first")
    day = day_words(carried.done_on, today)
    if carried.km is None:
        return tr("counted from {day}", day=day)
    since = distance_words(carried.km, told_in(vehicle.unit))
    return tr("counted from {day}, with {distance} since then", day=day, distance=since)


def _when(vehicle: Vehicle, typed: Typed, today: date) -> tuple[Field, ...]:
    day = typed.of(ON_FIELD) or today.isoformat()
    fields = [Field(ON_FIELD, tr("On which day?"), "day", day, is_required=True, latest=today.isoformat())]
    fields += dial_field(vehicle, typed.of(DIAL_FIELD))
    there = tr("What the dial of the other vehicle showed, if it was read")
    fields.append(Field(DIAL_THERE_FIELD, there, "digits", typed.of(DIAL_THERE_FIELD)))
    fields.append(Field(NOTE_FIELD, tr("Anything worth keeping"), value=typed.of(NOTE_FIELD)))
    return tuple(fields)


def dial_field(vehicle: Vehicle, value: str) -> tuple[Field, ...]:
    """What the usual dial showed on that day; no field where there is none."""
    meter = vehicle.odometer or vehicle.hour_meter
    if meter is None:
        return ()
    label = tr("What the dial of {name} showed, in {unit}", name=vehicle.name, unit=_unit(meter))
    return (Field(DIAL_FIELD, label, "digits", value, hint=tr("If it was read; else it is reckoned.")),)


def _unit(meter: Meter) -> str:
    return tr("hours") if meter.unit is MeterUnit.HOURS else meter.unit.value
