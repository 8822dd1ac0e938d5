"""A vehicle comes into the garage, whichever way: its mark, what no other may be called, and the days it can have."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from dataclasses import replace
from datetime import date

from fleetcare.errors import BadInput, Clash, NotFound, shown
from fleetcare.fleet.people import Garage, Person, Role
from fleetcare.fleet.shelf import is_shelf
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import saying

_MARK = re.compile(r"[A-Z0-9]{2,6}")


def checked_mark(text: str) -> str:
    """The mark as it is kept. Raises BadInput that names the field `mark`."""
    if not _MARK.fullmatch(text):
        raise BadInput(
            saying("{text_} cannot be a mark.", text_=shown(text, 40)),
            remedy="Use two to six capitals or digits, such as AN.",
            field="mark",
        )
    return text


def refuse_shelf(mark: str) -> None:
    """Raises BadInput for the mark of the shelf, which no vehicle can have, and which is never sold."""
    if is_shelf(mark):
        raise BadInput(
            saying("{mark} is the shelf, and no vehicle.", mark=mark), remedy="Name another one.", field="mark"
        )


def proposed_mark(name: str, taken: Collection[str]) -> str:
    """A mark for a vehicle of that name that no other has: its first two letters, else others of its letters.

    Empty if every way that could be thought of is taken; then a person has to choose.
    """
    letters = "".join(sign for sign in name.upper() if "A" <= sign <= "Z" or "0" <= sign <= "9")
    if not letters:
        letters = "V"
    pairs = [letters[0] + other for other in letters[1:]]
    numbered = [f"{letters[0]}{number}" for number in range(2, 100)]
    free = (mark for mark in (*pairs, *numbered) if mark not in taken)
    return next(free, "")


def refuse_taken(vehicle: Vehicle, others: Iterable[Vehicle]) -> None:
    """Raises Clash if another vehicle is called by this one's name; a vehicle with its mark is no other."""
    for other in others:
        if other.mark != vehicle.mark and other.name.casefold() == vehicle.name.casefold():
            raise Clash(
                saying(
                    "{name} stands here already with the mark {mark}. Give this one another name.",
                    name=vehicle.name,
                    mark=other.mark,
                )
            )


def refuse_mixed_up(vehicle: Vehicle, others: Iterable[Vehicle]) -> None:
    """Raises Clash if name or mark of a vehicle would also mean another one, so that nobody could tell them apart."""
    names = {vehicle.mark.casefold(), vehicle.name.casefold()}
    for other in others:
        if other.mark != vehicle.mark and names & {other.mark.casefold(), other.name.casefold()}:
            raise Clash(
                saying(
                    "{name} ({mark}) is called that already. Give this one another name and another mark.",
                    name=other.name,
                    mark=other.mark,
                )
            )


def refuse_odd_days(vehicle: Vehicle, today: date) -> None:
    """Raises BadInput if its service begins in time to come, or ends before it began."""
    began, gone = vehicle.in_service_on, vehicle.out_of_fleet_on
    if began is not None and began > today:
        raise BadInput(
            saying("{began} is still to come.", began=began),
            remedy="Give the day it was first used, or leave it empty.",
            field="in-service",
        )
    if began is not None and gone is not None and gone < began:
        raise BadInput(
            saying(
                "{name} leaves the fleet on {gone}, before its service began on {began}.",
                name=vehicle.name,
                gone=gone,
                began=began,
            ),
            remedy=saying("Give a day from {began} on.", began=began),
            field="on",
        )


def refuse_strangers(vehicle: Vehicle, people: Collection[str], marks: Collection[str]) -> None:
    """Raises NotFound if its keeper, a driver or a vehicle that tows it is not here. people: keys."""
    for key in (*([vehicle.keeper] if vehicle.keeper else ()), *vehicle.drivers):
        if key not in people:
            raise NotFound("person", key, people)
    for mark in vehicle.towed_by:
        if mark not in marks or mark == vehicle.mark:
            raise NotFound("vehicle", mark, marks)


def entered(given: Vehicle, stored: Vehicle | None, today: date) -> Vehicle:
    """The vehicle with the day it was entered, which nobody need give."""
    if given.entered_on is not None:
        return given
    return replace(given, entered_on=stored.entered_on if stored and stored.entered_on else today)


def may_add(person: Person, garage: Garage) -> bool:
    """Whether this person may put a new vehicle on the road: a keeper, or who keeps the list."""
    return Role.ONLOOKER not in person.roles and (person.key == garage.list_keeper or Role.KEEPER in person.roles)
