"""A vehicle is changed, or leaves the fleet: the pages that ask, and what they say was changed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal

from fleetcare.fleet.duty import DutyCycle, DutySplit
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.shelf import is_shelf
from fleetcare.fleet.vehicle import Vehicle, VehicleKind
from fleetcare.fleet.vehicle_changes import Changed
from fleetcare.language import later, tr
from fleetcare.page.cards.asking import AskCard, Choice, Field, Group, with_problem
from fleetcare.page.cards.frame import ROAD_URL, Link, bare_frame, vehicle_plate, vehicle_url
from fleetcare.page.cards.new_vehicle import (
    CALLED_FIELD,
    DESCRIPTION_FIELD,
    KEEPER_FIELD,
    KIND_FIELD,
    NAME_FIELD,
    SINCE_FIELD,
    VIN_FIELD,
    YEARLY_FIELD,
    keeper_field,
    kind_field,
    mix_fields,
)
from fleetcare.page.cards.past import mix_words
from fleetcare.page.cards.pulled_by import TOWED_FIELD, TOWED_OTHERS_FIELD, pulled_by_fields
from fleetcare.page.cards.typed import Typed
from fleetcare.quantities import km_to
from fleetcare.wording import day_words, distance_words, joined

DRIVERS_FIELD, STAND_FIELD = "driver", "stand"
SOLD_FIELD = "on"
EDIT, SELL, BACK, MOVE, FIT = "/edit", "/sell", "/sell/take-back", "/move", "/fit"
SERVICE_MORE, SERVICE_LESS, DIAL_MORE = "/service-more", "/service-less", "/dial"
"""What follows the vehicle's address."""

_FIELDS = {
    "name": later("Name"),
    "kind": later("What it is"),
    "called": later("Called"),
    "keeper": later("Keeper"),
    "drivers": later("Drivers"),
    "vin": later("VIN"),
    "in_service_on": later("In service since"),
    "yearly_km": later("Distance in a year"),
    "usual_split": later("Usual mix"),
    "towed_by": later("Pulled by"),
    "description": later("Description"),
}


def edit_links(vehicle: Vehicle, today: date) -> tuple[Link, ...]:
    """Where its keeper changes it, moves its parts, or says that it is gone."""
    url = vehicle_url(vehicle.mark)
    if is_shelf(vehicle.mark):
        return (Link(tr("Move a component"), f"{url}{MOVE}"),) if vehicle.components else ()
    if vehicle.is_gone(today):
        return (Link(tr("It is here after all"), f"{url}{SELL}"),)
    links = [Link(tr("Change what is known of it"), f"{url}{EDIT}")]
    links.append(Link(tr("A service more"), f"{url}{SERVICE_MORE}"))
    links.append(Link(tr("A service less"), f"{url}{SERVICE_LESS}"))
    links.append(Link(tr("A dial more"), f"{url}{DIAL_MORE}"))
    links.append(Link(tr("A part was fitted"), f"{url}{FIT}"))
    links.append(Link(tr("Move a component"), f"{url}{MOVE}"))
    return (*links, Link(tr("Sold or given away"), f"{url}{SELL}"))


def edit_card(
    vehicle: Vehicle,
    typed: Typed,
    *,
    garage: Garage,
    today: date,
    people: Sequence[Person],
    keepers: Sequence[Person],
    others: Sequence[Vehicle],
    duties: Sequence[DutyCycle],
    parts: Mapping[str, int],
    stand: str,
) -> AskCard:
    """Everything about a vehicle that may be changed by hand, as it stands or as it was typed.

    people: who may drive it. parts: the usual mix in parts. stand: which state of the vehicle is shown.
    """

    def shown(name: str, there: str) -> str:
        return typed.of(name) if typed.has(name) or typed.pairs else there

    yearly = "" if vehicle.yearly_km is None else str(round(Decimal(str(km_to(vehicle.yearly_km, vehicle.unit)))))
    since = vehicle.in_service_on.isoformat() if vehicle.in_service_on else ""
    drives = typed.all_of(DRIVERS_FIELD) if typed.pairs else vehicle.drivers
    pulls = typed.all_of(TOWED_FIELD) if typed.pairs else vehicle.towed_by
    first = (
        Field(NAME_FIELD, tr("Its name"), value=shown(NAME_FIELD, vehicle.name), is_required=True),
        Field(CALLED_FIELD, tr("In your own words"), value=shown(CALLED_FIELD, vehicle.called)),
        Field(VIN_FIELD, tr("VIN"), value=shown(VIN_FIELD, vehicle.vin)),
        Field(SINCE_FIELD, tr("In service since"), "day", shown(SINCE_FIELD, since), latest=today.isoformat()),
        Field(
            YEARLY_FIELD,
            tr("Distance in a year, roughly, in {unit}", unit=vehicle.unit.value),
            "digits",
            shown(YEARLY_FIELD, yearly),
            hint=tr("Used until readings know better."),
        ),
        Field(
            DESCRIPTION_FIELD,
            tr("Anything else worth knowing"),
            "area",
            shown(DESCRIPTION_FIELD, vehicle.description),
        ),
    )
    drivers = Field(
        DRIVERS_FIELD,
        tr("Who drives it?"),
        "many",
        choices=tuple(Choice(each.key, each.name, each.key in drives) for each in people),
    )
    whose = [drivers]
    if len(keepers) > 1:
        whose.insert(0, keeper_field(keepers, shown(KEEPER_FIELD, vehicle.keeper)))
    groups = [
        Group(first),
        Group(
            mix_fields(parts, duties),
            tr("How is it used?"),
            tr("In parts; it stands for every reading that says nothing else."),
        ),
        Group(tuple(whose), tr("Whose is it?")),
        Group((kind_field(shown(KIND_FIELD, vehicle.kind.value)),), tr("What it is"), is_folded=True),
    ]
    if vehicle.kind is VehicleKind.TRAILER:
        can = [v for v in others if v.mark in pulls or (v.kind is not VehicleKind.TRAILER and not v.is_gone(today))]
        groups.append(Group(pulled_by_fields(can, pulls, typed.of(TOWED_OTHERS_FIELD))))
    marked, problem = with_problem(tuple(groups), typed.problem_field, typed.problem)
    return AskCard(
        frame=bare_frame(tr("Change {name}", name=vehicle.name), garage=garage, today=today, home_url=ROAD_URL),
        heading=tr("Change what is known of {name}", name=vehicle.name),
        action_url=f"{vehicle_url(vehicle.mark)}{EDIT}",
        button=tr("Save the changes"),
        groups=marked,
        plate=vehicle_plate(vehicle),
        problem=problem,
        hidden=((STAND_FIELD, stand),),
        back=Link(tr("Back to {name}", name=vehicle.name), vehicle_url(vehicle.mark)),
        foot=tr("Its mark stays for ever. A new dial is told with the next reading."),
    )


def sell_card(vehicle: Vehicle, typed: Typed, *, garage: Garage, today: date, visits: int) -> AskCard:
    """Asks since when it is gone, and says what follows. visits: its bay days ahead."""
    said = [
        tr("From that day it has no dates, letters and calendar entries any more."),
        tr("Its history stays, and can be read and taken along as a file."),
        tr("Its stickers and reading links end, as they may have gone along with it."),
    ]
    if visits:
        said.append(tr("Its bay days ahead, {count}, are rubbed out.", count=visits))
    field = Field(
        SOLD_FIELD,
        tr("Gone since"),
        "day",
        typed.of(SOLD_FIELD) or today.isoformat(),
        is_required=True,
        latest=today.isoformat(),
    )
    groups, problem = with_problem((Group((field,)),), typed.problem_field, typed.problem)
    return AskCard(
        frame=bare_frame(tr("{name} is gone", name=vehicle.name), garage=garage, today=today, home_url=ROAD_URL),
        heading=tr("{name} was sold or given away", name=vehicle.name),
        action_url=f"{vehicle_url(vehicle.mark)}{SELL}",
        button=tr("It is gone"),
        groups=groups,
        plate=vehicle_plate(vehicle),
        items=tuple(said),
        problem=problem,
        back=Link(tr("Back to {name}", name=vehicle.name), vehicle_url(vehicle.mark)),
        foot=tr("Said by mistake, it can be taken back at any time."),
    )


def back_card(vehicle: Vehicle, typed: Typed, *, garage: Garage, today: date) -> AskCard:
    """Asks whether a vehicle that is gone is here after all."""
    gone = vehicle.out_of_fleet_on or today
    return AskCard(
        frame=bare_frame(tr("{name} is here", name=vehicle.name), garage=garage, today=today, home_url=ROAD_URL),
        heading=tr("Is {name} here after all?", name=vehicle.name),
        action_url=f"{vehicle_url(vehicle.mark)}{BACK}",
        button=tr("It is here: take that back"),
        groups=(),
        problem=typed.problem,
        plate=vehicle_plate(vehicle),
        said=(
            tr("It stands here as gone since {day}.", day=day_words(gone, today)),
            tr(
                "Its dates, letters and calendar entries go on as if it had never left. "
                "Bay days that were rubbed out and stickers that ended stay so."
            ),
        ),
        back=Link(tr("Back to {name}", name=vehicle.name), vehicle_url(vehicle.mark)),
    )


def changed_words(
    changed: Sequence[Changed],
    vehicle: Vehicle,
    *,
    today: date,
    names: Mapping[str, str],
    duties: Mapping[str, DutyCycle],
) -> tuple[str, ...]:
    """What is another now, one sentence for each field. names: of people, by key."""

    def words(each: Changed, value: object) -> str:
        if value in (None, "", ()):
            return tr("nothing")
        if isinstance(value, DutySplit):
            return mix_words(value, duties)
        if isinstance(value, date):
            return day_words(value, today)
        if isinstance(value, float):
            return distance_words(value, vehicle.unit)
        if each.field in ("keeper", "drivers"):
            keys = value if isinstance(value, tuple) else (value,)
            return joined([names.get(str(key), str(key)) for key in keys])
        return joined([str(part) for part in value]) if isinstance(value, tuple) else str(value)

    return tuple(
        tr("{field}: was {was}, is {now}.", field=tr(_FIELDS[c.field]), was=words(c, c.was), now=words(c, c.now))
        for c in changed
    )
