"""The garage and its people as rows, and back."""

from __future__ import annotations

import json
from typing import Any

from fleetcare.fleet.people import Garage, Light, Person, Role
from fleetcare.quantities import DistanceUnit
from fleetcare.store.cells import Columns, as_json


def garage_columns(garage: Garage) -> Columns:
    """A garage on its way in."""
    return {
        "id": 1,
        "garage_id": garage.id,
        "name": garage.name,
        "zone": garage.zone,
        "unit": garage.unit.value,
        "list_keeper": garage.list_keeper,
    }


def garage(row: Any) -> Garage:
    """A garage on its way out."""
    return Garage(row.name, row.zone, DistanceUnit(row.unit), row.garage_id, row.list_keeper)


def person_columns(person: Person) -> Columns:
    """A person on their way in."""
    return {
        "key": person.key,
        "name": person.name,
        "mail": person.mail,
        "zone": person.zone,
        "unit": person.unit.value,
        "roles": as_json([role.value for role in person.roles]),
        "letter_weekday": person.letter_weekday,
        "letter_hour": person.letter_hour,
        "quiet_from": person.quiet_from,
        "quiet_until": person.quiet_until,
        "language": person.language,
        "light": person.light.value,
    }


def person(row: Any) -> Person:
    """A person on their way out."""
    return Person(
        key=row.key,
        name=row.name,
        mail=row.mail,
        zone=row.zone,
        unit=DistanceUnit(row.unit),
        roles=tuple(Role(role) for role in json.loads(row.roles)),
        letter_weekday=row.letter_weekday,
        letter_hour=row.letter_hour,
        quiet_from=row.quiet_from,
        quiet_until=row.quiet_until,
        language=row.language,
        light=Light(row.light),
    )
