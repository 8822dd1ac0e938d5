"""A component was fitted that was nowhere here before: what is asked, and what came of it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from fleetcare.fleet.component import Component
from fleetcare.fleet.people import Garage
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr, tr_book
from fleetcare.page.cards.asking import AskCard, Choice, Field, Group, with_problem
from fleetcare.page.cards.edit_vehicle import FIT, STAND_FIELD
from fleetcare.page.cards.frame import ROAD_URL, Link, bare_frame, vehicle_plate, vehicle_url
from fleetcare.page.cards.move_part import DIAL_FIELD, NOTE_FIELD, ON_FIELD, dial_field
from fleetcare.page.cards.typed import Typed
from fleetcare.wording import day_words
from fleetcare.work.moves import Move
from fleetcare.work.new_vehicle import PartOffered

PART_FIELD, AGE_FIELD, OLD_FIELD = "part", "age", "old"
NEW, USED = "new", "used"
GONE, KEPT = "gone", "shelf"


def fit_card(
    vehicle: Vehicle,
    typed: Typed,
    *,
    garage: Garage,
    today: date,
    offered: Sequence[PartOffered],
    stand: str,
) -> AskCard:
    """What was fitted, in the place of what, when. offered: parts that the book has services for.

    stand: which state of the vehicle is shown.
    """
    chosen = typed.of(PART_FIELD)
    # By its kind as well: a garage may have another key for a part than the book proposes.
    there = {name for part in vehicle.components for name in (part.key, part.kind)}
    replaced = tuple(Choice(part.key, tr_book(part.title), part.key == chosen) for part in vehicle.components)
    more = tuple(
        Choice(part.key, tr_book(part.kind.capitalize()), part.key == chosen)
        for part in offered
        if not there.intersection((part.key, part.kind))
    )
    age, old = typed.of(AGE_FIELD) or NEW, typed.of(OLD_FIELD) or GONE
    unknown = tr("Nobody knows when its services were done: a look comes first.")
    ages = (
        Choice(NEW, tr("It is new"), age == NEW, tr("Its services count from that day.")),
        Choice(USED, tr("It is used"), age == USED, unknown),
    )
    olds = (
        Choice(GONE, tr("It is gone"), old == GONE, tr("Scrapped or given away; that cannot be taken back.")),
        Choice(KEPT, tr("It lies on the shelf"), old == KEPT, tr("It waits there, with what it has behind it.")),
    )
    day = typed.of(ON_FIELD) or today.isoformat()
    when = [Field(ON_FIELD, tr("On which day?"), "day", day, is_required=True, latest=today.isoformat())]
    when += dial_field(vehicle, typed.of(DIAL_FIELD))
    when.append(Field(NOTE_FIELD, tr("Anything worth keeping"), value=typed.of(NOTE_FIELD)))
    there_field = Field(PART_FIELD, tr("In the place of one that is there"), "one", choices=replaced, slug="part-there")
    more_field = Field(PART_FIELD, tr("As one more"), "one", choices=more, slug="part-more")
    asked = tuple(each for each in (there_field, more_field) if each.choices)
    groups = [
        Group(asked, tr("What was fitted?")),
        Group((Field(AGE_FIELD, tr("How old is it?"), "one", choices=ages),)),
        Group((Field(OLD_FIELD, tr("The one that was there before"), "one", choices=olds),)),
        Group(tuple(when)),
    ]
    marked, problem = with_problem(tuple(groups), typed.problem_field, typed.problem)
    return AskCard(
        frame=bare_frame(tr("A part was fitted"), garage=garage, today=today, home_url=ROAD_URL),
        heading=tr("A part was fitted to {name}", name=vehicle.name),
        action_url=f"{vehicle_url(vehicle.mark)}{FIT}",
        button=tr("It was fitted"),
        groups=marked,
        plate=vehicle_plate(vehicle),
        said=(
            tr("What was done on the one before it stays with that one."),
            tr("One that was on another vehicle, or lies on the shelf, is moved instead, and keeps its history."),
        ),
        problem=problem,
        hidden=((STAND_FIELD, stand),),
        back=Link(tr("Back to {name}", name=vehicle.name), vehicle_url(vehicle.mark)),
    )


def fitted_words(
    component: Component, old: Move | None, *, vehicle: Vehicle, on: date, is_new: bool, keeps_old: bool, today: date
) -> tuple[str, ...]:
    """What is another now, in sentences."""
    facts = {"part": tr_book(component.title), "name": vehicle.name, "day": day_words(on, today)}
    told = [tr("{part}: fitted to {name}, {day}, new.", **facts)]
    if not is_new:
        told = [tr("{part}: fitted to {name}, {day}, of unknown age: a look comes first.", **facts)]
    if old is not None:
        told.append(tr("The one before it lies on the shelf.") if keeps_old else tr("The one before it is gone."))
    told.append(tr("Its tag is blank. Write down what is stamped on it or printed for it."))
    return tuple(told)
