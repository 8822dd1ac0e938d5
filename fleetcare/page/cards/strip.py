"""Which vehicles have a lane on the front page's strip, and what stands in it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from fleetcare.due.outlook import LineOutlook, VehicleOutlook
from fleetcare.fleet.bay_visit import BayVisit, StretchKind, VisitState
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.people import Person
from fleetcare.fleet.vehicle import ODOMETER
from fleetcare.language import tr, tr_book
from fleetcare.page.cards.frame import vehicle_url
from fleetcare.page.cards.waiting import meter_of
from fleetcare.page.drawings.road.form import PHONE, WIDE
from fleetcare.page.drawings.road.given import LaneGiven, SpokenFor, VisitGiven, WindowGiven
from fleetcare.page.drawings.road.strip import Strip, strip
from fleetcare.quantities import DistanceUnit, km_from
from fleetcare.wording import counted, day_strip, days_words, distance_words, grouped, lower_first, sentence
from fleetcare.work.record import WorkDone

LANES_AT_MOST = 12
"""So many lanes are still taken in at a glance, and keep the page under 100 kB."""


@dataclass(frozen=True, slots=True)
class StripCard:
    """The strip in both forms. told: which vehicles are on it, empty if all are."""

    wide: Strip
    phone: Strip
    told: str

    @property
    def numbers(self) -> frozenset[int]:
        """By which windows are named on the phone's form."""
        return frozenset(int(word.text) for lane in self.phone.lanes for word in lane.words if word.text.isdigit())


def strip_card(
    outlooks: Sequence[VehicleOutlook],
    *,
    numbers: Mapping[LineKey, int],
    reader: Person | None,
    visits: Sequence[BayVisit],
    bookings: Sequence[Booking],
    work: Sequence[WorkDone],
    zone: ZoneInfo,
    today: date,
    unit: DistanceUnit,
) -> StripCard | None:
    """The strip of a garage; None without a vehicle.

    numbers: the place of each window in the list under it, from 1. visits: those that take place and are not over.
    work: every record, for its findings.
    """
    if not outlooks:
        return None
    chosen = _chosen(outlooks, numbers, reader)
    looks = looks_again(work)
    lanes = [
        lane_given(
            each,
            numbers=numbers,
            visits=[visit for visit in visits if visit.mark == each.vehicle.mark],
            bookings=[booking for booking in bookings if each.vehicle.mark in booking.marks],
            looks=looks.get(each.vehicle.mark, ()),
            zone=zone,
            today=today,
            unit=unit,
        )
        for each in chosen
    ]
    told = ""
    if len(chosen) < len(outlooks):
        whose = (
            tr("yours first, then those") if reader and any(_keeps(reader, each) for each in chosen) else tr("those")
        )
        told = tr(
            "{vehicles} of {outlooks}: {whose} whose windows end first. The list below has all.",
            vehicles=counted(len(chosen), "vehicle", "vehicles"),
            outlooks=grouped(len(outlooks)),
            whose=whose,
        )
    return StripCard(strip(lanes, today, WIDE), strip(lanes, today, PHONE), told)


def lane_given(
    outlook: VehicleOutlook,
    *,
    numbers: Mapping[LineKey, int],
    visits: Sequence[BayVisit],
    bookings: Sequence[Booking],
    looks: Sequence[date],
    zone: ZoneInfo,
    today: date,
    unit: DistanceUnit,
) -> LaneGiven:
    """What one vehicle's lane is drawn from. visits, bookings: its own. looks: days to look again at a finding."""
    vehicle = outlook.vehicle
    return LaneGiven(
        mark=vehicle.mark,
        name=vehicle.name,
        url=vehicle_url(vehicle.mark),
        under=_under(outlook, unit),
        wants=outlook.wanted is not None,
        windows=tuple(
            WindowGiven(
                early=line.window.early,
                likely=line.window.likely,
                late=line.window.late,
                name=short_title(outlook, line),
                number=numbers.get(line.key, 0),
                past_late=tr("{days} past late", days=days_words(line.window.days_past_late(today)))
                if line.window.is_past_late(today)
                else "",
                visits=frozenset(visit.number for visit in visits if line.key in visit.lines),
            )
            for line in outlook.lines
            if line.window is not None
        ),
        visits=tuple(_visit(each, zone, today) for each in sorted(visits, key=lambda one: one.begins_at)),
        spoken=tuple(
            SpokenFor(each.days.first, each.days.last, each.title)
            for each in sorted(bookings, key=lambda one: (one.days.first, one.key))
        ),
        looks=tuple(looks),
    )


def short_title(outlook: VehicleOutlook, line: LineOutlook) -> str:
    """The service's short name, with its component where two lines of the vehicle are called the same."""
    alike = [other for other in outlook.lines if other.row.short == line.row.short]
    short = sentence(tr_book(line.row.short))
    return f"{short}, {lower_first(tr_book(line.component.title))}" if len(alike) > 1 else short


def _chosen(
    outlooks: Sequence[VehicleOutlook], numbers: Mapping[LineKey, int], reader: Person | None
) -> list[VehicleOutlook]:
    """The vehicles that get a lane, in the garage's order: the reader's own, then those whose windows end first."""
    if len(outlooks) <= LANES_AT_MOST:
        return list(outlooks)
    last = len(numbers) + 1

    def urgency(place: int) -> tuple[bool, int, int]:
        each = outlooks[place]
        first = min((numbers.get(line.key, last) for line in each.lines), default=last)
        return not (reader is not None and _keeps(reader, each)), first, place

    places = sorted(range(len(outlooks)), key=urgency)[:LANES_AT_MOST]
    return [outlooks[place] for place in sorted(places)]


def _keeps(reader: Person, outlook: VehicleOutlook) -> bool:
    return outlook.vehicle.keeper == reader.key


def _under(outlook: VehicleOutlook, unit: DistanceUnit) -> str:
    if outlook.wanted is not None:
        return tr("wants a reading")
    meter = meter_of(outlook.vehicle, ODOMETER)
    if meter is None or meter.unit.distance is None:
        return tr("by date alone")
    if outlook.reckoned_dial is None:
        return tr("no reading yet")
    return distance_words(km_from(outlook.reckoned_dial, meter.unit.distance), unit)


def _visit(visit: BayVisit, zone: ZoneInfo, today: date) -> VisitGiven:
    begins = visit.begins_at.astimezone(zone)
    return VisitGiven(
        number=visit.number,
        begins=begins,
        free=visit.free_at.astimezone(zone),
        is_inked=visit.state is VisitState.INKED,
        stands=any(each.kind is StretchKind.STANDING for each in visit.stretches),
        label=day_strip(begins.date(), today),
    )


def looks_again(work: Sequence[WorkDone]) -> dict[str, list[date]]:
    """Days to look again, by mark, of findings that nobody has settled."""
    found: dict[str, list[date]] = {}
    for done in work:
        for finding in done.findings:
            if finding.settled_on is None and finding.look_again_on is not None:
                found.setdefault(done.line.mark, []).append(finding.look_again_on)
    return found
