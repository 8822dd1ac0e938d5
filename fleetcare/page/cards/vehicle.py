"""The page about one vehicle: its plate, its dipsticks with their reasons, what is stamped, read, found and done."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from fleetcare.due.change_words import WindowChange
from fleetcare.due.dial_course import DialCourse
from fleetcare.due.follow_ups import is_hold
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.due.vehicle_state import has_open_end
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.duty import DutyCycle
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.shelf import is_shelf
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import later, tr, tr_book
from fleetcare.language.measure import told_in
from fleetcare.meter.reading import Reading
from fleetcare.page.cards.edit_vehicle import edit_links
from fleetcare.page.cards.entry import meter_name
from fleetcare.page.cards.frame import (
    CHOOSE_URL,
    VEHICLES_URL,
    Frame,
    Link,
    Plate,
    full_frame,
    vehicle_plate,
    vehicle_url,
)
from fleetcare.page.cards.heading import HeadingCard, heading_card
from fleetcare.page.cards.laid_up import LaidUpCard, Tried, laid_up_card
from fleetcare.page.cards.opening import opening
from fleetcare.page.cards.past import (
    READINGS_A_PAGE,
    PastItem,
    ReadingRow,
    mix_words,
    reading_rows,
    settled_findings,
    work_items,
)
from fleetcare.page.cards.sentences import Sentence
from fleetcare.page.cards.service_row import ServiceRow, by_late_date, service_rows
from fleetcare.page.cards.strip import lane_given, looks_again
from fleetcare.page.cards.tags import PlateValue, Tag, component_tags
from fleetcare.page.cards.waiting import WANTED_ANCHOR, FindingWaiting, entry_url, findings_waiting
from fleetcare.quantities import MeterUnit
from fleetcare.wording import (
    counted,
    counted_words,
    day_words,
    distance_words,
    grouped,
    of_vehicle,
    reading_words,
    sentence,
)
from fleetcare.work.record import WorkDone

SERVICES_A_PAGE = 20
"""So many services with their drawings and reasons keep a page under 100 kB."""
_DAYS_A_MONTH = 365.2425 / 12
CAUTION = later(
    "Intervals and figures here are this garage’s own and its interval book’s. The vehicle’s own manual, "
    "local law and a qualified technician come first."
)


@dataclass(frozen=True, slots=True)
class VehicleCard:
    """The page about one vehicle, in the reader's unit throughout.

    figures: what stands on the plate beside the name. enter: where readings are entered, one for each meter; empty for
    people who may not. notes: what must be known before the dates are read. basis: what the pace rests on.
    services_told, readings_told: said in place of the list or above a part of it.
    """

    frame: Frame
    plate: Plate
    figures: tuple[PlateValue, ...]
    description: str
    lead: Sentence
    notes: tuple[str, ...]
    basis: str
    enter: tuple[Link, ...]
    services: tuple[ServiceRow, ...]
    services_told: str
    services_before: int
    """On earlier pages of the list."""
    earlier: Link | None
    later: Link | None
    caution: str
    heading: HeadingCard | None
    tags: tuple[Tag, ...]
    readings: tuple[ReadingRow, ...]
    readings_told: str
    newer_readings: Link | None
    older_readings: Link | None
    laid_up: LaidUpCard
    findings_title: str
    findings: tuple[FindingWaiting, ...]
    findings_more: str
    settled: tuple[PastItem, ...]
    work: tuple[PastItem, ...]
    work_more: str
    work_url: str
    away_url: str
    tags_url: str
    manage: tuple[Link, ...] = ()
    """Where its keeper changes it, moves its parts or says that it is gone."""


def vehicle_card(
    *,
    garage: Garage,
    reader: Person | None,
    outlook: VehicleOutlook,
    readings: Sequence[Reading],
    work: Sequence[WorkDone],
    duties: Mapping[str, DutyCycle],
    can_enter: bool,
    names: Mapping[str, str] | None = None,
    start: int = 0,
    readings_start: int = 0,
    changes: Mapping[LineKey, Sequence[WindowChange]] | None = None,
    may_lay_up: bool = False,
    tried: Tried | None = None,
    seal: str = "",
    course: DialCourse | None = None,
    visits: Sequence[BayVisit] = (),
    bookings: Sequence[Booking] = (),
) -> VehicleCard:
    """The page about one vehicle.

    readings: all of its readings in any state. work: its records. can_enter: the reader may give its readings.
    names: first names by person key. start, readings_start: how many services and readings to leave out, for further
    pages. changes: what changed each line last, newest first. may_lay_up: the reader may say when it stands. tried: an
    answer to that which could not be taken. course: of its dial, over the months that are drawn. visits: its bay days
    that take place and are not over. bookings: spells for which it is spoken for.
    """
    called, vehicle, today = names or {}, outlook.vehicle, outlook.today
    enter = _enter(vehicle) if can_enter else ()
    services = service_rows(outlook, changes)
    start = start if 0 <= start < len(services) else 0
    shown = services[start : start + SERVICES_A_PAGE]
    rows = reading_rows(outlook, readings, names=called, duties=duties)
    readings_start = readings_start if 0 <= readings_start < len(rows) else 0
    shown_rows = rows[readings_start : readings_start + READINGS_A_PAGE]
    findings, findings_more = findings_waiting([outlook], work, today=today, names=called)
    done, work_more = work_items(outlook, work, called)
    return VehicleCard(
        frame=full_frame(
            vehicle.name,
            garage=garage,
            reader=reader,
            today=today,
            here=VEHICLES_URL,
            can_enter=bool(enter),
            enter_url=enter[0].url if enter else CHOOSE_URL,
        ),
        plate=_plate(vehicle, called),
        figures=_figures(outlook, duties),
        description=vehicle.description,
        lead=_lead(outlook, can_enter=bool(enter)),
        notes=_notes(outlook),
        basis=_basis(outlook),
        enter=enter,
        services=shown,
        services_told=_services_told(vehicle, start, len(shown), len(services)),
        services_before=start,
        earlier=_link(tr("Earlier ones"), vehicle, "start", start - SERVICES_A_PAGE) if start else None,
        later=_link(tr("Later ones"), vehicle, "start", start + SERVICES_A_PAGE)
        if start + SERVICES_A_PAGE < len(services)
        else None,
        caution=CAUTION,
        heading=heading_of(outlook, course, visits, bookings, work, duties, garage),
        tags=component_tags(vehicle),
        readings=shown_rows,
        readings_told=_readings_told(outlook, readings_start, len(shown_rows), len(rows)),
        newer_readings=_link(tr("Newer ones"), vehicle, "readings", readings_start - READINGS_A_PAGE, "#readings")
        if readings_start
        else None,
        older_readings=_link(tr("Older ones"), vehicle, "readings", readings_start + READINGS_A_PAGE, "#readings")
        if readings_start + READINGS_A_PAGE < len(rows)
        else None,
        laid_up=laid_up_card(outlook, may_tell=may_lay_up and not vehicle.is_gone(today), tried=tried, seal=seal),
        findings_title=tr("Findings on {vehicle}", vehicle=vehicle.name),
        findings=findings,
        findings_more=findings_more,
        settled=settled_findings(work, today),
        work=done,
        work_more=work_more,
        work_url=f"{vehicle_url(vehicle.mark)}/work",
        away_url=f"{vehicle_url(vehicle.mark)}/away",
        tags_url=f"{vehicle_url(vehicle.mark)}/tags",
        manage=edit_links(vehicle, today) if may_lay_up else (),
    )


def heading_of(
    outlook: VehicleOutlook,
    course: DialCourse | None,
    visits: Sequence[BayVisit],
    bookings: Sequence[Booking],
    work: Sequence[WorkDone],
    duties: Mapping[str, DutyCycle],
    garage: Garage,
) -> HeadingCard | None:
    """Where its dial is heading, with its own windows, bay days and bookings; see `heading_card`."""
    mark = outlook.vehicle.mark
    lane = lane_given(
        outlook,
        numbers={line.key: place for place, line in enumerate(by_late_date(outlook), start=1)},
        visits=visits,
        bookings=bookings,
        looks=looks_again(work).get(mark, ()),
        zone=ZoneInfo(garage.zone),
        today=outlook.today,
        unit=told_in(outlook.vehicle.unit),
    )
    return heading_card(outlook, course, lane, duties)


def _plate(vehicle: Vehicle, names: Mapping[str, str]) -> Plate:
    plate = vehicle_plate(vehicle)
    keeper = names.get(vehicle.keeper, vehicle.keeper)
    return (
        replace(plate, called=tr("{called}, keeper {keeper}", called=vehicle.called, keeper=keeper))
        if keeper
        else plate
    )


def _figures(outlook: VehicleOutlook, duties: Mapping[str, DutyCycle]) -> tuple[PlateValue, ...]:
    """Last reading, what is reckoned today, pace and mix; only what there is."""
    vehicle, last, pace = outlook.vehicle, outlook.last_reading, outlook.pace_km_per_day
    values = []
    if last is not None:
        values.append(
            PlateValue(tr("read {day}", day=day_words(last.on, outlook.today)), reading_words(last.value, last.unit))
        )
    if outlook.reckoned_dial is not None and vehicle.odometer is not None:
        values.append(PlateValue(tr("reckoned today"), reading_words(outlook.reckoned_dial, vehicle.odometer.unit)))
    if pace is not None:
        values.append(
            PlateValue(
                tr("pace"),
                tr("{distance} a month", distance=distance_words(pace * _DAYS_A_MONTH, told_in(vehicle.unit))),
            )
        )
        values.append(PlateValue(tr("mix ahead"), mix_words(outlook.mix, duties)))
    return tuple(values)


def _lead(outlook: VehicleOutlook, *, can_enter: bool) -> Sentence:
    if not outlook.lines or outlook.vehicle.is_gone(outlook.today):
        return ()
    dated = sorted(
        ((outlook, line, line.window) for line in outlook.lines if line.window),
        key=lambda row: (row[2].late, row[1].key),
    )
    runs = opening([outlook], dated, today=outlook.today, can_enter=can_enter)
    return tuple(replace(run, url="") if run.url == WANTED_ANCHOR else run for run in runs)


def _notes(outlook: VehicleOutlook) -> tuple[str, ...]:
    """What one must know before one believes the dates."""
    vehicle, today, notes = outlook.vehicle, outlook.today, []
    notes += [f"{tr_book(line.row.title)}. {tr_book(line.row.action)}" for line in outlook.lines if is_hold(line)]
    gone_on = vehicle.out_of_fleet_on
    if is_shelf(vehicle.mark):
        notes.append(tr("What lies here is due nowhere. It keeps what it has behind it until it is fitted again."))
    elif gone_on is not None and gone_on <= today:
        notes.append(
            tr("{vehicle} is out of the fleet since {day}.", vehicle=vehicle.name, day=day_words(gone_on, today))
        )
    notes += [
        tr(
            "{vehicle} is laid up {value}.",
            vehicle=vehicle.name,
            value=tr("until further notice")
            if has_open_end(spell)
            else tr("until {day}", day=day_words(spell.last, today)),
        )
        for spell in vehicle.laid_up
        if today in spell and outlook.moved is None
    ]
    if vehicle.meters and outlook.last_reading is None and outlook.lines:
        notes.append(
            tr("{vehicle} has no reading. Its services by date have dates, the others wait.", vehicle=vehicle.name)
        )
    elif outlook.readings_used == 1 and vehicle.yearly_km:
        yearly = distance_words(vehicle.yearly_km, told_in(vehicle.unit))
        notes.append(
            tr(
                "One reading makes no pace. Until the second one the dates come from the yearly distance "
                "that was given: {yearly}.",
                yearly=yearly,
            )
        )
    if outlook.held:
        count = len(outlook.held)
        are, them = (tr("is"), tr("it")) if count == 1 else (tr("are"), tr("them"))
        told = tr(
            "{readings} {are} kept aside and not used until somebody settles {them}.",
            readings=sentence(counted_words(count, "reading", "readings")),
            are=are,
            them=them,
        )
        notes.append(told)
    return tuple(notes)


def _basis(outlook: VehicleOutlook) -> str:
    if not outlook.basis or not (outlook.vehicle.meters or outlook.pace_km_per_day):
        return ""
    return (
        tr("Pace {basis}.", basis=outlook.basis) if outlook.basis.startswith("from ") else f"{sentence(outlook.basis)}."
    )


def _enter(vehicle: Vehicle) -> tuple[Link, ...]:
    """A button for each meter; the usual one first and filled."""
    usual = vehicle.odometer or vehicle.hour_meter
    meters = sorted(vehicle.meters, key=lambda meter: meter is not usual)
    return tuple(
        Link(
            tr("Enter a reading")
            if meter is usual
            else tr(
                "Enter {meter_name}",
                meter_name="hours" if meter.unit is MeterUnit.HOURS else meter_name(vehicle, meter),
            ),
            entry_url(vehicle, meter.key),
            is_main=meter is usual,
        )
        for meter in meters
    )


def _services_told(vehicle: Vehicle, start: int, shown: int, whole: int) -> str:
    if not whole:
        return tr(
            "{vehicle} has no services yet. Take them over from another {value}, or from the interval book.",
            vehicle=vehicle.name,
            value=vehicle.called or "vehicle",
        )
    return (
        ""
        if shown == whole
        else tr("Services {value} to {value2} of {whole}.", value=start + 1, value2=start + shown, whole=whole)
    )


def _readings_told(outlook: VehicleOutlook, start: int, shown: int, whole: int) -> str:
    vehicle, last = outlook.vehicle, outlook.last_reading
    if not vehicle.meters:
        return tr(
            "{vehicle} has no meter; it goes by date{word}.",
            vehicle=vehicle.name,
            word=tr(", and by what pulls it") if vehicle.towed_by else "",
        )
    if not whole:
        if last is None:
            return tr("No reading yet.")
        value = reading_words(last.value, last.unit)
        return tr(
            "None. {of_vehicle} last reading is {value}, {day}.",
            of_vehicle=of_vehicle(vehicle.name),
            value=value,
            day=day_words(last.on, outlook.today),
        )
    return (
        ""
        if shown == whole
        else tr(
            "{value} to {value2} of {readings}.",
            value=grouped(start + 1),
            value2=grouped(start + shown),
            readings=counted(whole, "reading", "readings"),
        )
    )


def _link(text: str, vehicle: Vehicle, name: str, start: int, anchor: str = "") -> Link:
    start = max(0, start)
    return Link(text, f"?{name}={start}{anchor}" if start else f"{vehicle_url(vehicle.mark)}{anchor}")
