"""The list of vehicles: each by its plate, with its last reading and its next late date."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.shelf import is_shelf
from fleetcare.language import tr, tr_book
from fleetcare.page.cards.choose import FIND_FROM, VEHICLES_A_PAGE, is_called, range_told, turn_link
from fleetcare.page.cards.frame import NEW_URL, VEHICLES_URL, Frame, Link, full_frame, vehicle_url
from fleetcare.wording import day_words, days_words, reading_words


@dataclass(frozen=True, slots=True)
class VehicleRow:
    """One vehicle: how its dial stood, and which service comes first. is_past_late: that one is past late."""

    mark: str
    name: str
    called: str
    last: str
    next: str
    is_past_late: bool
    url: str


@dataclass(frozen=True, slots=True)
class VehiclesCard:
    """Every vehicle of the garage. `told`: said in place of the list or above a part of it."""

    frame: Frame
    rows: tuple[VehicleRow, ...]
    told: str
    has_find: bool
    find: str
    earlier: Link | None
    later: Link | None
    add: Link | None = None
    """Where one more is put on the road, for who may."""


def vehicles_card(
    *,
    garage: Garage,
    reader: Person | None,
    outlooks: Sequence[VehicleOutlook],
    today: date,
    can_enter: bool,
    find: str = "",
    start: int = 0,
    may_add: bool = False,
) -> VehiclesCard:
    """Vehicles in the garage's order.

    find: leaves those whose name, mark or kind holds this text. start: how many to leave out, for further pages.
    may_add: the reader may put one more on the road.
    """
    find = find.strip()
    found = [outlook for outlook in outlooks if is_called(outlook.vehicle, find)]
    # Who is gone stands last: the list is of what is here.
    found.sort(key=lambda outlook: outlook.vehicle.is_gone(today))
    start = start if 0 <= start < len(found) else 0
    shown = found[start : start + VEHICLES_A_PAGE]
    later = start + VEHICLES_A_PAGE
    told = range_told(len(found), start, len(shown), find) if outlooks else tr("No vehicle is here yet.")
    return VehiclesCard(
        frame=full_frame(
            tr("Vehicles"), garage=garage, reader=reader, today=today, here=VEHICLES_URL, can_enter=can_enter
        ),
        rows=tuple(_row(outlook, today) for outlook in shown),
        told=told,
        has_find=len(outlooks) >= FIND_FROM or bool(find),
        find=find,
        earlier=turn_link(tr("Earlier ones"), VEHICLES_URL, find, start - VEHICLES_A_PAGE) if start else None,
        later=turn_link(tr("Later ones"), VEHICLES_URL, find, later) if later < len(found) else None,
        add=Link(tr("Put a vehicle on the road"), NEW_URL) if may_add else None,
    )


def _row(outlook: VehicleOutlook, today: date) -> VehicleRow:
    vehicle, last = outlook.vehicle, outlook.last_reading
    if last is not None:
        read = tr(
            "Read {day} at {reading}", day=day_words(last.on, today), reading=reading_words(last.value, last.unit)
        )
    else:
        read = tr("No reading yet") if vehicle.meters else tr("By date alone")
    if outlook.wanted is not None:
        read += tr(", wants a reading")
    told, is_past_late = _next(outlook, today)
    return VehicleRow(
        vehicle.mark, vehicle.name, vehicle.called, f"{read}.", told, is_past_late, vehicle_url(vehicle.mark)
    )


def _next(outlook: VehicleOutlook, today: date) -> tuple[str, bool]:
    """What comes first, by late date, and whether it is past late."""
    if is_shelf(outlook.vehicle.mark):
        return tr("Components that lie here: {count}.", count=len(outlook.vehicle.components)), False
    gone_on = outlook.vehicle.out_of_fleet_on
    if gone_on is not None and gone_on <= today:
        return tr("Out of the fleet since {day}.", day=day_words(gone_on, today)), False
    dated = [(line.window, line) for line in outlook.lines if line.window is not None]
    if not dated:
        return tr("No date in sight.") if outlook.lines else tr("No services yet."), False
    window, line = min(dated, key=lambda row: (row[0].late, row[1].key))
    if window.is_past_late(today):
        return tr(
            "Past late by {days}: {service}.",
            days=days_words(window.days_past_late(today)),
            service=tr_book(line.row.short),
        ), True
    opened = tr(", window open") if window.is_open(today) else ""
    return tr(
        "Next: {service}, by {day} at the latest{opened}.",
        service=tr_book(line.row.short),
        day=day_words(window.late, today),
        opened=opened,
    ), False
