"""Vehicles, readings and rows for the checks of this folder."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from fleetcare.book.rows import AfterEvent, BookRow, DutyFigure, IntervalBook, IntervalRule, Limits, Mixing, Status
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.outlook import LineOutlook
from fleetcare.due.reckon import reckon_vehicle
from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.fleet.component import Component, History, LineKey, LineStart
from fleetcare.fleet.duty import DutyCycle, DutySplit
from fleetcare.fleet.vehicle import HOUR_METER, ODOMETER, Meter, Vehicle, VehicleKind
from fleetcare.meter.reading import Reading
from fleetcare.quantities import DateSpan, DistanceUnit, MeterUnit, PrintedDistance
from fleetcare.usage.priors import Priors
from fleetcare.work.record import WorkDone

TODAY = date(2026, 4, 14)
PRIORS = Priors()
FLAT = Priors(season=(1.0,) * 12)
DUTIES = {
    "daily": DutyCycle("daily", "daily", severe=False),
    "towing": DutyCycle("towing", "towing", severe=True),
    "track": DutyCycle("track", "track", severe=True),
}
MIXED = DutySplit.from_parts({"towing": 5, "daily": 3})


def reading(on: date, value: int | str, *, unit: MeterUnit = MeterUnit.MI, **more: object) -> Reading:
    return Reading(
        mark="AN",
        meter=str(more.pop("meter", HOUR_METER if unit is MeterUnit.HOURS else ODOMETER)),
        on=on,
        value=Decimal(value),
        unit=unit,
        entered_at=datetime.combine(on, datetime.min.time(), UTC),
        **more,  # type: ignore[arg-type]
    )


def monthly(
    last_on: date, last: int, per_month: int, count: int, *, unit: MeterUnit = MeterUnit.MI
) -> tuple[Reading, ...]:
    """`count` readings 30 days apart, the last one as given."""
    return tuple(
        reading(last_on - timedelta(days=30 * back), last - per_month * back, unit=unit)
        for back in reversed(range(count))
    )


def miles(value: int) -> PrintedDistance:
    return PrintedDistance.of(value, DistanceUnit.MI)


def row(
    *,
    mi: int | None = None,
    months: int | None = None,
    weeks: int | None = None,
    hours: int | None = None,
    by_duty: Sequence[DutyFigure] = (),
    first: Limits | None = None,
    after: Sequence[AfterEvent] = (),
    mixing: Mixing = Mixing.BLEND,
    key: str = "service",
    **more: object,
) -> BookRow:
    limits = Limits(miles(mi) if mi else None, tuple(by_duty), months, weeks, Decimal(hours) if hours else None)
    return BookRow(
        key=key,
        title="Rear axle fluid",
        short="rear axle fluid",
        components=("rear axle",),
        vehicles=(),
        rule=IntervalRule(limits, first, tuple(after), mixing),
        source="a test",
        status=Status.PRACTICE,
        **more,  # type: ignore[arg-type]
    )


def vehicle(
    *,
    history: History = History.UNKNOWN,
    line_on: date | None = None,
    services: Sequence[str] = ("service",),
    meters: Sequence[Meter] | None = None,
    fluid_grade: str = "",
    fitted_on: date | None = None,
    **more: object,
) -> Vehicle:
    component = Component(
        "rear-axle",
        "rear axle",
        "Rear axle",
        fluid_grade=fluid_grade,
        fitted_on=fitted_on,
        lines=tuple(LineStart(service, history, line_on) for service in services),
    )
    return Vehicle(
        mark="AN",
        name="Anvil",
        kind=VehicleKind.LIGHT_TRUCK,
        called="tow rig",
        unit=DistanceUnit.MI,
        meters=(Meter(ODOMETER, MeterUnit.MI),) if meters is None else tuple(meters),
        components=(component,),
        **more,  # type: ignore[arg-type]
    )


def done(on: date, at: int | None = None, *, unit: MeterUnit = MeterUnit.MI, service: str = "service") -> WorkDone:
    return WorkDone(
        LineKey("AN", "rear-axle", service),
        on,
        Decimal(at) if at is not None else None,
        unit if at is not None else None,
    )


def booking(first: date, last: date, mi: int | None = None, *, duty: str = "", event: str = "") -> Booking:
    return Booking(
        key=f"b{first}",
        title="Hollow Lake",
        days=DateSpan.of_days(first, last),
        marks=("AN",),
        distance=Decimal(mi) if mi is not None else None,
        unit=DistanceUnit.MI,
        duty=duty,
        event=event,
    )


def event(kind: str, on: date, component: str = "") -> UseEvent:
    return UseEvent("AN", kind, on, component)


def outlook_of(
    a_row: BookRow,
    a_vehicle: Vehicle,
    *,
    readings: Iterable[Reading] = (),
    work: Iterable[WorkDone] = (),
    events: Iterable[UseEvent] = (),
    bookings: Iterable[Booking] = (),
    today: date = TODAY,
    priors: Priors = PRIORS,
) -> LineOutlook:
    facts = VehicleFacts(a_vehicle, tuple(readings), tuple(work), tuple(events), tuple(bookings))
    book = IntervalBook({a_row.key: a_row})
    return reckon_vehicle(facts, book=book, duties=DUTIES, priors=priors, today=today).lines[0]
