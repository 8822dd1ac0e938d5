"""What waits for somebody: readings wanted, findings to look at again, readings kept aside, services without a date."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from urllib.parse import quote

from fleetcare.due.outlook import LineOutlook, NoDate, VehicleOutlook
from fleetcare.fleet.vehicle import ODOMETER, Meter, Vehicle
from fleetcare.language import tr, tr_book
from fleetcare.meter.doubt import held_because, own_note
from fleetcare.page.cards.frame import Link, vehicle_url
from fleetcare.quantities import DistanceUnit, MeterUnit, km_from
from fleetcare.wording import (
    counted,
    day_words,
    days_words,
    distance_words,
    document_words,
    joined,
    lower_first,
    meter_words,
    of_vehicle,
    sentence,
)
from fleetcare.work.record import WorkDone

WANTED_ANCHOR = "#readings-wanted"
_AT_MOST = 20
_UNDATED_AT_MOST = 40
_NAMES_AT_MOST = 8


@dataclass(frozen=True, slots=True)
class WantedReading:
    """A vehicle whose reading is wanted, and where to enter it if the reader may."""

    mark: str
    name: str
    last: str
    enter: Link | None

    @property
    def url(self) -> str:
        """The vehicle's page."""
        return vehicle_url(self.mark)


@dataclass(frozen=True, slots=True)
class FindingWaiting:
    """A finding that wants another look. is_late: the day is over."""

    mark: str
    name: str
    text: str
    found: str
    look_again: str
    is_late: bool

    @property
    def url(self) -> str:
        """The vehicle's page."""
        return vehicle_url(self.mark)


@dataclass(frozen=True, slots=True)
class HeldReading:
    """A reading that does not fit: what it says, who gave it, why it is kept aside."""

    mark: str
    name: str
    told: str
    why: str

    @property
    def url(self) -> str:
        """The vehicle's page."""
        return vehicle_url(self.mark)


@dataclass(frozen=True, slots=True)
class Undated:
    """Services of one vehicle that have no date, and why. `told` goes on where the name ends."""

    mark: str
    name: str
    told: str

    @property
    def url(self) -> str:
        """The vehicle's page."""
        return vehicle_url(self.mark)


def meter_of(vehicle: Vehicle, key: str) -> Meter | None:
    """The vehicle's meter with that key, or None."""
    return next((meter for meter in vehicle.meters if meter.key == key), None)


def entry_url(vehicle: Vehicle, meter_key: str) -> str:
    """Where somebody who came in enters a reading: `/vehicles/BE/reading`, with `?meter=` for all but the odometer."""
    base = f"{vehicle_url(vehicle.mark)}/reading"
    return base if meter_key == ODOMETER else f"{base}?meter={quote(meter_key, safe='')}"


def wanted_readings(
    outlooks: Sequence[VehicleOutlook], *, today: date, unit: DistanceUnit, can_enter: bool
) -> tuple[tuple[WantedReading, ...], str]:
    """Readings wanted, longest wanted first, and how many more there are in words (empty if none)."""
    wanting = [(outlook.vehicle, outlook.wanted) for outlook in outlooks if outlook.wanted is not None]
    wanting.sort(key=lambda row: (row[1].since, row[0].mark))
    rows = []
    # Only what is shown is put into words: thousands may wait.
    for vehicle, wanted in wanting[:_AT_MOST]:
        meter = meter_of(vehicle, wanted.meter)
        last = tr("no reading yet")
        if wanted.last_on is not None and wanted.last_value is not None and meter is not None:
            value = meter_words(wanted.last_value, meter.unit)
            if meter.unit.distance and meter.unit.distance is not unit:
                value = distance_words(km_from(wanted.last_value, meter.unit.distance), unit)
            last = tr("last read {day} at {reading}", day=day_words(wanted.last_on, today), reading=value)
        text = tr(
            "Enter {of_vehicle} {word}",
            of_vehicle=of_vehicle(vehicle.name),
            word=tr("hours") if _counts_hours(meter) else tr("reading"),
        )
        enter = Link(text, entry_url(vehicle, wanted.meter)) if can_enter and meter else None
        rows.append(WantedReading(vehicle.mark, vehicle.name, last, enter))
    return tuple(rows), _more(len(wanting), _AT_MOST, "vehicle")


def findings_waiting(
    outlooks: Sequence[VehicleOutlook], work: Sequence[WorkDone], *, today: date, names: Mapping[str, str]
) -> tuple[tuple[FindingWaiting, ...], str]:
    """Findings that nobody has settled, those with a day to look again first, by that day."""
    vehicles = {outlook.vehicle.mark: outlook.vehicle for outlook in outlooks}
    waiting = [
        (done, finding)
        for done in work
        if done.findings and done.line.mark in vehicles
        for finding in done.findings
        if finding.settled_on is None
    ]
    waiting.sort(key=lambda row: (row[1].look_again_on or date.max, row[0].on, row[0].line.mark, row[1].text))
    rows = []
    for done, finding in waiting[:_AT_MOST]:
        by = tr(" by {by}", by=names.get(done.by, done.by)) if done.by else ""
        again = finding.look_again_on
        rows.append(
            FindingWaiting(
                mark=done.line.mark,
                name=vehicles[done.line.mark].name,
                text=_ended(finding.text),
                found=tr("Found {day}{by}.", day=day_words(done.on, today), by=by),
                look_again=_look_again(again, today),
                is_late=again is not None and again < today,
            )
        )
    return tuple(rows), _more(len(waiting), _AT_MOST, "finding")


def held_readings(
    outlooks: Sequence[VehicleOutlook], *, today: date, names: Mapping[str, str]
) -> tuple[tuple[HeldReading, ...], str]:
    """Readings kept aside, newest first."""
    waiting = [(outlook.vehicle, reading) for outlook in outlooks for reading in outlook.held]
    waiting.sort(key=lambda row: (-row[1].on.toordinal(), row[0].mark, row[1].value))
    rows = []
    for vehicle, reading in waiting[:_AT_MOST]:
        by = tr(" by {by}", by=names.get(reading.by, reading.by)) if reading.by else ""
        told = tr(
            "{reading}, read {day}{by}.",
            reading=document_words(reading.value, reading.unit),
            day=day_words(reading.on, today),
            by=by,
        )
        own, because = own_note(reading.note), tr(held_because(reading.note))
        said = [_ended(sentence(text)) for text in dict.fromkeys((own, because)) if text]
        why = " ".join(said) if said else tr("It does not fit the readings around it.")
        rows.append(HeldReading(vehicle.mark, vehicle.name, told, why))
    return tuple(rows), _more(len(waiting), _AT_MOST, "reading")


def undated(outlooks: Sequence[VehicleOutlook]) -> tuple[tuple[Undated, ...], str]:
    """Services without a date, one row for each vehicle and reason, in the garage's order."""
    found: list[tuple[Vehicle, NoDate | None, list[LineOutlook]]] = []
    for outlook in outlooks:
        if not outlook.lines:
            found.append((outlook.vehicle, None, []))
        without = [line for line in outlook.lines if line.no_date is not None]
        if without:
            by_reason = ((reason, [line for line in without if line.no_date is reason]) for reason in NoDate)
            found += [(outlook.vehicle, reason, lines) for reason, lines in by_reason if lines]
    rows = [
        Undated(vehicle.mark, vehicle.name, _why_undated(reason, lines) if reason else tr(" has no services yet."))
        for vehicle, reason, lines in found[:_UNDATED_AT_MOST]
    ]
    return tuple(rows), _more(len(found), _UNDATED_AT_MOST, "line")


def _why_undated(reason: NoDate, lines: Sequence[LineOutlook]) -> str:
    services = _services(lines)
    if reason is NoDate.NO_READING:
        return tr(", {services}: no reading yet, so there is no date.", services=services)
    if reason is NoDate.NO_USE:
        return tr(", {services}: no date in sight while it does not move.", services=services)
    if reason is NoDate.NO_EVENT:
        events = sorted({tr_book(after.event) for line in lines for after in line.row.rule.after})
        waits = tr("the next {events}", events=joined(events, "or")) if events else tr("an event")
        return tr(", {services}: due after {waits}.", services=services, waits=waits)
    if reason is NoDate.OUT_OF_FLEET:
        return tr(" is out of the fleet, so its services have no dates.")
    return tr(", {services}: not before the year 2200 at this pace.", services=services)


def _services(lines: Sequence[LineOutlook]) -> str:
    names = list(dict.fromkeys(lower_first(tr_book(line.row.short)) for line in lines))
    if len(names) > _NAMES_AT_MOST:
        return tr(
            "{services} and {number} more",
            services=", ".join(names[: _NAMES_AT_MOST - 1]),
            number=len(names) - _NAMES_AT_MOST + 1,
        )
    return joined(names)


def _look_again(day: date | None, today: date) -> str:
    if day is None:
        return tr("No day to look again is set.")
    if day < today:
        return tr(
            "Look again was for {day}, {days} ago.", day=day_words(day, today), days=days_words((today - day).days)
        )
    return tr("Look again today.") if day == today else tr("Look again by {day}.", day=day_words(day, today))


def _counts_hours(meter: Meter | None) -> bool:
    return meter is not None and meter.unit is MeterUnit.HOURS


def _ended(text: str) -> str:
    return text if text.endswith((".", "?", "!")) else f"{text}."


def _more(count: int, shown: int, noun: str) -> str:
    return tr("And {value}.", value=counted(count - shown, f"{noun} more", f"{noun}s more")) if count > shown else ""
