"""A vehicle that is put together from what somebody says about it: its parts, their lines, and when each was done."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from enum import StrEnum

from fleetcare.book.rows import BookRow, IntervalBook
from fleetcare.errors import BadInput, NotFound
from fleetcare.fleet.component import Component, History, LineKey, LineStart
from fleetcare.fleet.vehicle import Vehicle, VehicleKind
from fleetcare.language import later, saying
from fleetcare.quantities import MeterUnit, km_from
from fleetcare.work.record import WorkDone

_ROAD = ("engine", "cooling system", "gearbox", "brakes", "tyres", "wheels", "battery", "filters", "legal")
_HEAVY = (*_ROAD, "front axle", "rear axle", "propeller shaft", "hubs")
USUAL_PARTS: Mapping[VehicleKind, tuple[str, ...]] = {
    VehicleKind.CAR: _ROAD,
    VehicleKind.VAN: _ROAD,
    VehicleKind.LIGHT_TRUCK: (*_ROAD, "rear axle", "propeller shaft"),
    VehicleKind.HEAVY_TRUCK: _HEAVY,
    VehicleKind.BUS: _HEAVY,
    VehicleKind.TRAILER: ("coupling", "hubs", "tyres", "wheels", "lights", "legal"),
}
"""Kinds of component that are ticked before anybody looks; a start, to be changed by who knows the vehicle.

Common practice, no source.
"""
_TRAILERS_ALONE = ("trailer axle", "trailer brakes")
RECKONED = later("the day is reckoned from what the dial showed")
"""Stands with a record of which only the dial is known."""
_DAYS_A_YEAR = 365.2425


class Past(StrEnum):
    """What somebody knows of a line on the day its vehicle comes here."""

    UNKNOWN = "unknown"
    """Nobody knows; a look comes first."""
    DONE = "done"
    """It was done on a day, or at what the dial showed, or both."""
    NEW = "new"
    """Never yet: it counts from new."""
    LEFT = "left"
    """This vehicle has no such service."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What was said of one line. on, at: with `DONE` alone; at least one of them. at: in the dial's own unit."""

    past: Past = Past.UNKNOWN
    on: date | None = None
    at: Decimal | None = None


@dataclass(frozen=True, slots=True)
class PartOffered:
    """A kind of component that the book has services for. rows: those it proposes, by key."""

    kind: str
    is_usual: bool
    rows: tuple[BookRow, ...]

    @property
    def key(self) -> str:
        """What the component is called on its vehicle: `rear-axle`."""
        return self.kind.replace(" ", "-")


@dataclass(frozen=True, slots=True)
class Said:
    """What the lines begin with. dial: what it shows today, in its own unit; None if nobody said or there is none.

    answers: by component key and service; a line that is not in it is unknown.
    """

    today: date
    dial: Decimal | None = None
    answers: Mapping[tuple[str, str], Answer] = field(default_factory=dict)
    by: str = ""


def parts_offered(book: IntervalBook, kind: VehicleKind) -> tuple[PartOffered, ...]:
    """Everything that may be on a vehicle of that kind and has a proposed row: the usual parts first, as listed."""
    usual = USUAL_PARTS[kind]
    kinds = {component for row in book.rows.values() for component in row.components}
    if kind is not VehicleKind.TRAILER:
        kinds -= set(_TRAILERS_ALONE)
    offered = [PartOffered(each, each in usual, book.proposed_for(kind, each)) for each in kinds]
    place = {each: number for number, each in enumerate(usual)}
    return tuple(sorted((p for p in offered if p.rows), key=lambda p: (place.get(p.kind, len(usual)), p.kind)))


def parts_chosen(book: IntervalBook, kind: VehicleKind, keys: Iterable[str]) -> tuple[PartOffered, ...]:
    """The parts with those keys, in the order offered. Raises NotFound."""
    wanted = dict.fromkeys(keys)
    offered = parts_offered(book, kind)
    for key in wanted:
        if key not in {part.key for part in offered}:
            raise NotFound(saying("part of a {kind}", kind=kind.value), key, [part.key for part in offered])
    return tuple(part for part in offered if part.key in wanted)


def is_asked(row: BookRow) -> bool:
    """Whether it matters when that service was last done; what only follows an event waits for the next one."""
    return not row.rule.repeat.is_empty or row.rule.first is not None


def line_field(component: str, service: str) -> str:
    """What a form or an error calls one line: `rear-axle.axle-vents`."""
    return f"{component}.{service}"


def components_of(parts: Iterable[PartOffered], said: Said) -> tuple[Component, ...]:
    """The components with their lines. A part of which every line was left out is left out itself."""
    found = []
    for part in parts:
        lines = tuple(
            LineStart(row.key, _history(answer.past), said.today)
            for row in part.rows
            if (answer := said.answers.get((part.key, row.key), Answer())).past is not Past.LEFT
        )
        if lines:
            found.append(Component(part.key, part.kind, part.kind.capitalize(), lines=lines))
    return tuple(found)


def work_of(vehicle: Vehicle, said: Said) -> tuple[WorkDone, ...]:
    """A record for each line that was done, by line.

    Of one that was done at so much on the dial but on no known day, the day is reckoned from the dial, and its note
    says so. Raises BadInput that names the line (`line_field`): neither day nor dial, a day to come or before the
    vehicle was there, a dial beyond what it shows today, or no way to reckon the day.
    """
    meter = vehicle.odometer or vehicle.hour_meter
    records = []
    for component in vehicle.components:
        for line in component.lines:
            answer = said.answers.get((component.key, line.service), Answer())
            if answer.past is not Past.DONE:
                continue
            where = line_field(component.key, line.service)
            _refuse_what_cannot_be(vehicle, answer, said, where)
            on, note = answer.on, ""
            if on is None:
                on, note = _day_by_dial(vehicle, answer, said, where), RECKONED
            key = LineKey(vehicle.mark, component.key, line.service)
            unit = meter.unit if meter is not None and answer.at is not None else None
            records.append(WorkDone(key, on, answer.at, unit, by=said.by, note=note))
    return tuple(records)


def _history(past: Past) -> History:
    return {Past.DONE: History.RECORDED, Past.NEW: History.NEW}.get(past, History.UNKNOWN)


def _refuse_what_cannot_be(vehicle: Vehicle, answer: Answer, said: Said, where: str) -> None:
    if answer.on is None and answer.at is None:
        raise BadInput(
            "Done when?", remedy="Give the day or what the dial showed, or say that you do not know.", field=where
        )
    if answer.on is not None and answer.on > said.today:
        raise BadInput(
            saying("{on} is still to come.", on=answer.on), remedy="Give the day it was done on.", field=where
        )
    if answer.on is not None and vehicle.in_service_on is not None and answer.on < vehicle.in_service_on:
        raise BadInput(
            saying(
                "{on} lies before {in_service_on}, when {name} came into service.",
                on=answer.on,
                in_service_on=vehicle.in_service_on,
                name=vehicle.name,
            ),
            remedy="Look at the two days again.",
            field=where,
        )
    if answer.at is not None and (vehicle.odometer or vehicle.hour_meter) is None:
        raise BadInput(saying("{name} has no dial.", name=vehicle.name), remedy="Give the day alone.", field=where)
    if answer.at is not None and said.dial is not None and answer.at > said.dial:
        raise BadInput(
            saying("The dial cannot have shown {at} then; it shows {dial} today.", at=answer.at, dial=said.dial),
            remedy="Type what it showed when that was done.",
            field=where,
        )


def _day_by_dial(vehicle: Vehicle, answer: Answer, said: Said, where: str) -> date:
    """The day on which the dial showed so much, at the pace since new, or at what is said to be run in a year."""
    meter = vehicle.odometer or vehicle.hour_meter
    if answer.at is not None and said.dial is not None and meter is not None:
        gone_by = float(said.dial - answer.at)
        began = vehicle.in_service_on
        if began is not None and began < said.today and said.dial > 0:
            days = (said.today - began).days * gone_by / float(said.dial)
            return said.today - timedelta(days=round(days))
        if vehicle.yearly_km and meter.unit is not MeterUnit.HOURS:
            since = km_from(Decimal(str(gone_by)), vehicle.unit) / vehicle.yearly_km * _DAYS_A_YEAR
            return said.today - timedelta(days=min(round(since), 36_500))
    raise BadInput(
        "The day cannot be reckoned from the dial alone.",
        remedy="Give the day, roughly if need be; or since when it is in service, and what the dial shows today.",
        field=where,
    )
