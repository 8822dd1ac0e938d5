"""Finding a vehicle or a person by what somebody calls it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from fleetcare.errors import NotFound
from fleetcare.fleet.people import Garage, Person, Role
from fleetcare.fleet.vehicle import Vehicle


def vehicle_called(vehicles: Sequence[Vehicle], text: str) -> Vehicle:
    """The vehicle with that mark or name, whatever the case. Raises NotFound with the nearest name."""
    wanted = text.strip().casefold()
    for vehicle in vehicles:
        if wanted in (vehicle.mark.casefold(), vehicle.name.casefold()):
            return vehicle
    raise NotFound("vehicle", text, [name for v in vehicles for name in (v.name, v.mark)])


def person_called(people: Sequence[Person], text: str) -> Person:
    """The person with that key, name, first name or mail. Raises NotFound with the nearest name."""
    wanted = text.strip().casefold()
    for person in people:
        if wanted in (person.key.casefold(), person.name.casefold(), person.mail.casefold() or None):
            return person
    by_first_name = [person for person in people if person.first_name.casefold() == wanted]
    if len(by_first_name) == 1:
        return by_first_name[0]
    raise NotFound("person", text, [name for p in people for name in (p.name, p.key)])


def marks_of(person: Person, vehicles: Sequence[Vehicle]) -> tuple[str, ...]:
    """Marks of the vehicles a person keeps or drives, in the garage's order."""
    return tuple(v.mark for v in vehicles if v.keeper == person.key or person.key in v.drivers)


def marks_seen_by(person: Person, garage: Garage, vehicles: Sequence[Vehicle]) -> tuple[str, ...]:
    """Marks of the vehicles whose dates a person is shown: all for who keeps the list, else their own."""
    if person.key == garage.list_keeper:
        return tuple(v.mark for v in vehicles)
    return marks_of(person, vehicles)


def may_plan(person: Person, vehicle: Vehicle, garage: Garage) -> bool:
    """Whether this person may say when this vehicle is in the bay: its keeper, a mechanic, or who keeps the list."""
    if Role.ONLOOKER in person.roles:
        return False
    return person.key in (garage.list_keeper, vehicle.keeper) or Role.MECHANIC in person.roles


def may_plan_all(person: Person, garage: Garage) -> bool:
    """Whether this person may plan for every vehicle: a mechanic, or who keeps the list."""
    return Role.ONLOOKER not in person.roles and (person.key == garage.list_keeper or Role.MECHANIC in person.roles)


def keeps_shelf(person: Person, vehicles: Iterable[Vehicle], garage: Garage) -> bool:
    """Whether this person counts what lies on the shelf: a keeper of any vehicle, a mechanic, or who keeps the list."""
    if Role.ONLOOKER in person.roles:
        return False
    return (
        person.key == garage.list_keeper
        or Role.MECHANIC in person.roles
        or any(vehicle.keeper == person.key for vehicle in vehicles)
    )


def keeps_list(person: Person, garage: Garage) -> bool:
    """Whether this person says who belongs to the garage: who keeps the list; where nobody does, any keeper."""
    if Role.ONLOOKER in person.roles:
        return False
    return person.key == garage.list_keeper if garage.list_keeper else Role.KEEPER in person.roles


def answers_for(person: Person, vehicle: Vehicle, garage: Garage) -> bool:
    """Whether this person keeps this vehicle, or the list; then its stickers and lay-ups are theirs."""
    return Role.ONLOOKER not in person.roles and person.key in (vehicle.keeper, garage.list_keeper)


def may_enter(person: Person, vehicle: Vehicle, garage: Garage) -> bool:
    """Whether this person may enter readings and work for this vehicle. An onlooker may enter nothing."""
    return Role.ONLOOKER not in person.roles and (
        person.key == garage.list_keeper
        or Role.MECHANIC in person.roles
        or vehicle.keeper == person.key
        or person.key in vehicle.drivers
    )
