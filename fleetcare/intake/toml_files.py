"""From the tables of garage.toml, people.toml and vehicles.toml to the nouns of the garage."""

from __future__ import annotations

import itertools
from collections.abc import Collection, Mapping
from typing import Any, Protocol, TypeVar

from pydantic import BaseModel

from fleetcare.book.rows import IntervalBook
from fleetcare.errors import BadFile, BadInput, Fault, shown
from fleetcare.fleet.component import Component, LineStart, TagFact
from fleetcare.fleet.duty import ALL_DAILY
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Meter, MeterChange, Vehicle
from fleetcare.intake.known import nearest
from fleetcare.intake.splits import split_from
from fleetcare.intake.toml_models import NEVER, WEEKDAY_WORDS, ComponentIn, GarageIn, MeterIn, PersonIn, VehicleIn
from fleetcare.language import saying
from fleetcare.quantities import DateSpan, DistanceUnit, km_from

ModelT = TypeVar("ModelT", bound=BaseModel)

DEFAULT_MAX_KM_PER_DAY = 1600.0


class TomlDocument(Protocol):
    """A TOML file taken apart, with the line of each key. The room `settings` has one (`TomlText`).

    A validator of a model that has its own words raises PydanticCustomError of type `said`, with `what` and `instead`.
    """

    file: str
    tables: dict[str, Any]

    def line(self, *path: str | int) -> int:
        """The line of that key, or of the nearest thing around it; 0 if there is none."""
        ...

    def checked(self, model: type[ModelT], *path: str | int) -> ModelT:
        """What stands at that path, as `model`. Raises BadFile with every fault."""
        ...

    def fault(self, what: str, instead: str, *path: str | int) -> Fault:
        """A fault at that path."""
        ...


class ReadToml(Protocol):
    """Takes a TOML text and the name of its file apart. Raises BadFile if it is not TOML."""

    def __call__(self, text: str, file: str) -> TomlDocument: ...


def garage_in(document: TomlDocument, zones: Collection[str]) -> Garage:
    """The garage of [garage]. Raises BadFile."""
    given = document.checked(GarageIn, "garage")
    _check_zone(document, given.zone, zones, "garage", "zone")
    return Garage(given.name, given.zone, given.unit, given.id, given.list_keeper)


def person_in(document: TomlDocument, place: int, garage: Garage | None, zones: Collection[str]) -> Person:
    """One person of [[person]]; zone and unit are the garage's where they are not given. Raises BadFile."""
    path = ("person", place)
    given = document.checked(PersonIn, *path)
    zone = given.zone if given.zone is not None else (garage.zone if garage else None)
    unit = given.unit or (garage.unit if garage else None)
    if zone is None or unit is None:
        missing = "zone" if zone is None else "unit"
        raise BadFile(
            [
                document.fault(
                    saying("The key {missing} is missing.", missing=missing),
                    saying("Add {missing} = ...", missing=missing),
                    *path,
                )
            ]
        )
    _check_zone(document, zone, zones, *path, "zone")
    never = given.letter_weekday == NEVER
    return Person(
        key=given.key,
        name=given.name,
        mail=given.mail,
        zone=zone,
        unit=unit,
        roles=tuple(given.roles),
        letter_weekday=None if never else WEEKDAY_WORDS.index(given.letter_weekday),
        letter_hour=given.letter_hour,
        quiet_from=given.quiet_from,
        quiet_until=given.quiet_until,
        language=given.language,
        light=given.light,
    )


def vehicle_in(
    document: TomlDocument,
    place: int,
    *,
    unit: DistanceUnit | None,
    duties: Collection[str] = (),
    book: IntervalBook | None = None,
) -> Vehicle:
    """One vehicle of [[vehicle]], checked by itself; who and what it names elsewhere is not looked at here.

    unit: the garage's, for a vehicle that gives none. book: proposes the services of a component that lists none.
    Raises BadFile with every fault.
    """
    path: tuple[str | int, ...] = ("vehicle", place)
    given = document.checked(VehicleIn, *path)
    own_unit = given.unit or unit
    faults = _spell_faults(document, given, path)
    if own_unit is None:
        faults.append(document.fault("The key unit is missing.", 'Add unit = "km" or unit = "mi".', *path))
    split = ALL_DAILY
    if given.usual_split is not None:
        try:
            split = split_from(given.usual_split, duties=duties)
        except BadInput as bad:
            instead = bad.remedy if "duty" in bad.what else "Write it as { towing = 5, daily = 3 }."
            faults.append(document.fault(bad.what, instead, *path, "usual_split"))
    faults += _twice(document, [meter.key for meter in given.meter], "meter", (*path, "meter"))
    faults += _twice(document, [component.key for component in given.component], "component", (*path, "component"))
    meters = [_meter(document, meter, (*path, "meter", at), faults) for at, meter in enumerate(given.meter)]
    components = [
        _component(document, component, given, book, (*path, "component", at), faults)
        for at, component in enumerate(given.component)
    ]
    if faults or own_unit is None:
        raise BadFile(sorted(faults, key=lambda fault: fault.line))
    per_day = given.max_distance_per_day
    return Vehicle(
        mark=given.mark,
        name=given.name,
        kind=given.kind,
        called=given.kind.value if given.called is None else given.called,
        unit=own_unit,
        keeper=given.keeper,
        drivers=tuple(given.drivers),
        description=given.description,
        vin=given.vin,
        in_service_on=given.in_service_on,
        entered_on=given.entered_on,
        usual_split=split,
        yearly_km=None if given.yearly_distance is None else km_from(given.yearly_distance, own_unit),
        meters=tuple(meters),
        components=tuple(components),
        laid_up=tuple(DateSpan.of_days(span.first, span.last) for span in given.laid_up),
        towed_by=tuple(given.towed_by),
        out_of_fleet_on=given.out_of_fleet_on,
        max_km_per_day=DEFAULT_MAX_KM_PER_DAY if per_day is None else km_from(per_day, own_unit),
    )


def loose_names(tables: object, *keys: str) -> set[str]:
    """What a list of tables that could not be read may be called elsewhere: the texts under those keys."""
    if not isinstance(tables, list):
        return set()
    return {
        table[key] for table in tables if isinstance(table, Mapping) for key in keys if isinstance(table.get(key), str)
    }


def _spell_faults(document: TomlDocument, given: VehicleIn, path: tuple[str | int, ...]) -> list[Fault]:
    faults = [
        document.fault(
            saying("The spell ends before it begins: {first} to {last}.", first=span.first, last=span.last),
            "`last` is the last day laid up, not before `first`.",
            *path,
            "laid_up",
            at,
        )
        for at, span in enumerate(given.laid_up)
        if span.last < span.first
    ]
    if given.in_service_on and given.out_of_fleet_on and given.out_of_fleet_on < given.in_service_on:
        what = saying(
            "{name} leaves the fleet on {out_of_fleet_on}, before its service began.",
            name=given.name,
            out_of_fleet_on=given.out_of_fleet_on,
        )
        instead = saying("Write a day after {in_service_on}, or leave it out.", in_service_on=given.in_service_on)
        faults.append(document.fault(what, instead, *path, "out_of_fleet_on"))
    return faults


def _meter(document: TomlDocument, given: MeterIn, path: tuple[str | int, ...], faults: list[Fault]) -> Meter:
    days = [change.on for change in given.changes]
    if any(later <= earlier for earlier, later in itertools.pairwise(days)):
        what = "The changes of this meter are not in order of their days."
        faults.append(document.fault(what, "Write the oldest first, one a day.", *path, "changes"))
    changes = tuple(MeterChange(change.on, change.old_end, change.new_start) for change in given.changes)
    return Meter(given.key, given.unit, given.digits, given.rolls_over, changes, given.delivery_value)


def _component(
    document: TomlDocument,
    given: ComponentIn,
    vehicle: VehicleIn,
    book: IntervalBook | None,
    path: tuple[str | int, ...],
    faults: list[Fault],
) -> Component:
    rows = [service.row for service in given.services or ()]
    faults += _twice(document, rows, "service", (*path, "services"))
    if given.services is not None:
        lines = tuple(LineStart(service.row, service.history, service.entered_on) for service in given.services)
    else:
        proposed = book.proposed_for(vehicle.kind, given.kind) if book else ()
        lines = tuple(LineStart(row.key) for row in proposed)
    return Component(
        key=given.key,
        kind=given.kind,
        title=given.title,
        fluid_grade=given.fluid_grade,
        fluid_capacity_l=given.fluid_capacity_l,
        facts=tuple(TagFact(fact.name, fact.value, fact.basis) for fact in given.facts),
        lines=lines,
        fitted_on=given.fitted_on,
    )


def _twice(document: TomlDocument, keys: list[str], kind: str, path: tuple[str | int, ...]) -> list[Fault]:
    return [
        document.fault(
            saying(
                "The {kind} {key} stands in line {line} already.",
                kind=kind,
                key=key,
                line=document.line(*path, keys.index(key), "key"),
            ),
            "Take one of the two away, or give it another key.",
            *path,
            at,
            "key",
        )
        for at, key in enumerate(keys)
        if key in keys[:at]
    ]


def _check_zone(document: TomlDocument, zone: str, zones: Collection[str], *path: str | int) -> None:
    if zone in zones:
        return
    folded = {name.casefold(): name for name in zones}
    meant = folded.get(zone.casefold().replace(" ", "_")) or _zone_of_city(zone, zones)
    hint = saying("Did you mean {meant}?", meant=meant) if meant else "Write it as Europe/Berlin or America/Denver."
    raise BadFile([document.fault(saying("There is no time zone {zone}.", zone=shown(zone, 40)), hint, *path)])


def _zone_of_city(text: str, zones: Collection[str]) -> str | None:
    city = text.rpartition("/")[2].casefold().replace(" ", "_")
    same = sorted(name for name in zones if city and name.rpartition("/")[2].casefold() == city)
    return same[0] if same else nearest(text, zones)
