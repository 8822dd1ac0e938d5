"""What is known already when a file comes in, and how a file's words find it."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field

from fleetcare.book.rows import IntervalBook
from fleetcare.errors import BadInput, shown
from fleetcare.fleet.component import Component
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Meter, Vehicle
from fleetcare.language import saying
from fleetcare.quantities import DistanceUnit

_MANY = 500
"""More names than this are not all compared: a file with many wrong ones must not keep anybody waiting."""


@dataclass(frozen=True, slots=True)
class KnownNames:
    """What is in the store already, so that one file alone can be checked against it.

    duties: keys of the duties there are. book: the interval book in force; None: services are not checked against it.
    """

    garage: Garage | None = None
    people: tuple[Person, ...] = ()
    vehicles: tuple[Vehicle, ...] = ()
    duties: frozenset[str] = frozenset()
    book: IntervalBook | None = None


@dataclass(frozen=True, slots=True)
class Roster:
    """What the words in a file may mean: the store's vehicles and people with those that come in laid over them.

    half_read: marks, names and keys from tables that have faults themselves; rows that name them are not blamed for it.
    """

    vehicles: dict[str, Vehicle]
    """By mark."""
    called: dict[str, Vehicle] = field(repr=False)
    """By mark and by name, casefolded."""
    people: frozenset[str]
    duties: frozenset[str]
    book: IntervalBook | None
    half_read: frozenset[str] = frozenset()
    unit: DistanceUnit | None = None

    @classmethod
    def of(
        cls,
        known: KnownNames,
        *,
        vehicles: Iterable[Vehicle] = (),
        people: Iterable[str] = (),
        half_read: Iterable[str] = (),
        book: IntervalBook | None = None,
        unit: DistanceUnit | None = None,
    ) -> Roster:
        """The store's names with these laid over them."""
        by_mark = {vehicle.mark: vehicle for vehicle in known.vehicles} | {v.mark: v for v in vehicles}
        called = {mark.casefold(): vehicle for mark, vehicle in by_mark.items()}
        for vehicle in by_mark.values():
            called.setdefault(vehicle.name.casefold(), vehicle)
        return cls(
            vehicles=by_mark,
            called=called,
            people=frozenset(person.key for person in known.people) | frozenset(people),
            duties=known.duties,
            book=book or known.book,
            half_read=frozenset(name.casefold() for name in half_read),
            unit=unit or (known.garage.unit if known.garage else None),
        )

    def vehicle(self, text: str) -> Vehicle | None:
        """The vehicle with that mark or name; None if it is one of the half-read. Raises BadInput with the nearest."""
        folded = text.strip().casefold()
        found = self.called.get(folded)
        if found is not None or folded in self.half_read:
            return found
        if not folded:
            raise BadInput("There is no vehicle.", remedy="Write its mark or its name.", field="vehicle")
        names = [name for vehicle in self.vehicles.values() for name in (vehicle.name, vehicle.mark)]
        raise unknown("vehicle", text, names)

    def component(self, vehicle: Vehicle, text: str) -> Component:
        """The component with that key or title. Raises BadInput with the nearest."""
        folded = text.strip().casefold()
        for component in vehicle.components:
            if folded in (component.key, component.title.casefold()):
                return component
        raise unknown(f"component of {vehicle.name}", text, [component.key for component in vehicle.components])

    def meter(self, vehicle: Vehicle, text: str) -> Meter:
        """The meter with that key; with no text its odometer, or the one meter it has. Raises BadInput."""
        if not text:
            found = vehicle.odometer or (vehicle.meters[0] if len(vehicle.meters) == 1 else None)
            if found is None:
                raise BadInput(
                    saying("{name} has no odometer.", name=vehicle.name), remedy="Name the meter.", field="meter"
                )
            return found
        for meter in vehicle.meters:
            if meter.key == text.casefold():
                return meter
        raise unknown(f"meter of {vehicle.name}", text, [meter.key for meter in vehicle.meters])

    def duty(self, text: str) -> str:
        """The duty with that key, or an empty text. Raises BadInput with the nearest."""
        folded = text.strip().casefold()
        if folded and self.duties and folded not in self.duties:
            raise unknown("duty", text, self.duties)
        return folded

    def events(self) -> frozenset[str]:
        """Events that a row of the interval book follows."""
        rows = self.book.rows.values() if self.book else ()
        return frozenset(event.event for row in rows for event in row.rule.after)

    def component_kinds(self) -> frozenset[str]:
        """Kinds of component that a row of the interval book is for."""
        return frozenset(kind for row in (self.book.rows.values() if self.book else ()) for kind in row.components)


def unknown(kind: str, text: str, known: Collection[str]) -> BadInput:
    """`There is no vehicle “Anvyl”. Did you mean Anvil?`"""
    near = nearest(text, known)
    names = sorted(known)
    listed = ", ".join(names[:12])
    if near:
        remedy = saying("Did you mean {near}?", near=near)
    elif not names:
        remedy = saying("There is none yet.")
    elif len(names) == 1:
        remedy = saying("There is {listed}.", listed=listed)
    elif len(names) > 12:
        remedy = saying("There are {listed} and others.", listed=listed)
    else:
        remedy = saying("There are {listed}.", listed=listed)
    return BadInput(saying("There is no {kind} {text_}.", kind=saying(kind), text_=shown(text, 40)), remedy=remedy)


def nearest(text: str, known: Iterable[str]) -> str | None:
    """The known name most like the text, or None if none is. Of many names only those with the same first letter."""
    given = text.strip().casefold()[:80]
    by_fold = {name.casefold(): name for name in known}
    if len(by_fold) > _MANY:
        by_fold = {folded: name for folded, name in by_fold.items() if folded[:1] == given[:1]}
    close = difflib.get_close_matches(given, list(by_fold), n=1, cutoff=0.6)
    return by_fold[close[0]] if close else None
