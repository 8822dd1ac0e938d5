"""The invented Karst Ridge garage as letters see it on Tuesday 14 April 2026."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from fleetcare.book.rows import BookRow, IntervalRule, Status
from fleetcare.digest.letters import garage_letter
from fleetcare.digest.values import Letter
from fleetcare.due.outlook import Cause, DueWindow, LineOutlook, NoDate, ReadingWanted, VehicleOutlook
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.component import Component, LineKey
from fleetcare.fleet.duty import ALL_DAILY
from fleetcare.fleet.people import Garage, Person, Role
from fleetcare.fleet.vehicle import Meter, Vehicle, VehicleKind
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.quantities import DateSpan, DistanceUnit, MeterUnit
from fleetcare.work.record import Finding, WorkDone

TODAY = date(2026, 4, 14)
BASE = "https://garage.karstridge.example"
STOP = f"{BASE}/letters/stop/k3y"
GARAGE = Garage("Karst Ridge Motor Club", "Europe/Berlin", DistanceUnit.MI, id="karst-ridge", list_keeper="ines")
INES = Person("ines", "Ines Calloway", "ines@garage.karstridge.example", "Europe/Berlin", roles=(Role.KEEPER,))
TEO = Person(
    "teo", "Teo Lindqvist", "teo@garage.karstridge.example", "Europe/Berlin", roles=(Role.KEEPER,), letter_weekday=1
)


def line(
    mark: str,
    title: str,
    short: str,
    shares: tuple[float, float, float] | None,
    days: tuple[date, date, date] | None,
    *,
    component: str = "rear-axle",
    cause: Cause = Cause.DISTANCE,
) -> LineOutlook:
    """One service. shares: by reading, by reckoning, a day; days: early, likely, late."""
    service = short.replace(" ", "-")
    row = BookRow(
        key=service,
        title=title,
        short=short,
        components=(component,),
        vehicles=(),
        rule=IntervalRule(),
        source="invented",
        status=Status.GARAGE,
    )
    q_read, q_now, per_day = shares or (None, None, None)
    return LineOutlook(
        key=LineKey(mark, component, service),
        row=row,
        component=Component(component, component.replace("-", " "), component.replace("-", " ").capitalize()),
        today=TODAY,
        window=DueWindow(*days, cause) if days else None,
        no_date=None if days else NoDate.NO_USE,
        q_read=q_read,
        q_now=q_now,
        per_day=per_day,
        last_done_on=None,
    )


def outlook(
    mark: str,
    name: str,
    keeper: str,
    *lines: LineOutlook,
    kind: VehicleKind = VehicleKind.LIGHT_TRUCK,
    drivers: tuple[str, ...] = (),
    wanted: ReadingWanted | None = None,
    held: tuple[Reading, ...] = (),
    meter: MeterUnit = MeterUnit.MI,
) -> VehicleOutlook:
    """One vehicle with its services."""
    vehicle = Vehicle(mark, name, kind, "tow rig", DistanceUnit.MI, keeper, drivers, meters=(Meter("odometer", meter),))
    return VehicleOutlook(vehicle, TODAY, None, None, None, 8, "", ALL_DAILY, lines, wanted, held)


# Shares and dates of the five services are worked examples of the rod.
BELLOWS_OIL = line(
    "BE",
    "Engine oil and filter",
    "engine oil",
    (0.6022, 0.7573, 0.004698),
    (date(2026, 5, 24), date(2026, 6, 5), date(2026, 6, 23)),
    component="engine",
)
ANVIL_VENTS = line(
    "AN",
    "Axle vents, hoses and caps",
    "axle vents",
    (0.8925, 0.8925, 0.005476),
    (date(2026, 4, 13), date(2026, 5, 4), date(2026, 5, 25)),
    cause=Cause.DATE,
)
ANVIL_AXLE = line(
    "AN",
    "Rear axle fluid, cover reseal",
    "rear axle fluid",
    (0.9617, 0.9748, 0.000940),
    (date(2026, 4, 22), date(2026, 5, 11), date(2026, 6, 9)),
)
RAFT_COUPLING = line(
    "RA",
    "Coupling, inspection",
    "coupling inspection",
    (1.0541, 1.0541, 0.002738),
    (date(2026, 3, 11), date(2026, 3, 25), date(2026, 4, 8)),
    component="trailer-coupling",
    cause=Cause.DATE,
)
POCKET_BRAKES = line(
    "PO",
    "Brake fluid",
    "brake fluid",
    (0.6, 0.6, 0.00137),
    (date(2026, 9, 9), date(2026, 10, 1), date(2026, 10, 23)),
    component="brakes",
    cause=Cause.DATE,
)

ANVIL = outlook("AN", "Anvil", "ines", ANVIL_VENTS, ANVIL_AXLE)
BELLOWS = outlook(
    "BE",
    "Bellows",
    "teo",
    BELLOWS_OIL,
    wanted=ReadingWanted("odometer", date(2026, 4, 9), date(2026, 3, 12), Decimal(83365)),
)
RAFT = outlook("RA", "Raft", "ines", RAFT_COUPLING, kind=VehicleKind.TRAILER)
POCKET = outlook("PO", "Pocket", "noor", POCKET_BRAKES, kind=VehicleKind.CAR)
ALL = (ANVIL, BELLOWS, POCKET, RAFT)

WORK = (
    WorkDone(
        LineKey("BE", "rear-axle", "axle-seals"),
        date(2026, 3, 2),
        by="teo",
        findings=(Finding("rear cover damp at the lower left bolt", date(2026, 4, 30)),),
    ),
)
BOOKINGS = (
    Booking("hill", "Hollow Lake hill climb", DateSpan.of_days(date(2026, 5, 1), date(2026, 5, 3)), ("AN", "RA")),
    Booking("track", "Track day tow", DateSpan.of_days(date(2026, 5, 15), date(2026, 5, 16)), ("BE", "RA")),
)
LINKS = {"BE": f"{BASE}/o/be-4t9w"}


def held_reading(mark: str, value: int) -> Reading:
    """A reading that is kept aside."""
    return Reading(
        mark,
        "odometer",
        date(2026, 4, 11),
        Decimal(value),
        MeterUnit.MI,
        datetime(2026, 4, 11, 9, tzinfo=UTC),
        state=ReadingState.HELD,
    )


def letter_to(person: Person, **changes: Any) -> Letter | None:
    """The garage letter to a person on that day, with these arguments changed."""
    given: dict[str, Any] = {
        "garage": GARAGE,
        "person": person,
        "outlooks": ALL,
        "kept": tuple(o.vehicle.mark for o in ALL if o.vehicle.keeper == person.key),
        "work": WORK,
        "bookings": BOOKINGS,
        "today": TODAY,
        "base_url": BASE,
        "reading_links": LINKS if person.key == "teo" else {},
        "link_until": date(2026, 4, 21),
        "stop_url": STOP,
    }
    return garage_letter(**(given | changes))


def the_letter_to(person: Person, **changes: Any) -> Letter:
    """The same, where there is one."""
    letter = letter_to(person, **changes)
    assert letter is not None
    return letter


def called_otherwise(vehicle: VehicleOutlook, name: str) -> VehicleOutlook:
    """The same vehicle under another name."""
    return replace(vehicle, vehicle=replace(vehicle.vehicle, name=name))
