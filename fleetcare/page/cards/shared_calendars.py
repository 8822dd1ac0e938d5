"""Calendars that several can look at: the garage's, the bay's, and when each vehicle is taken."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from fleetcare.fleet.access import BAY, FAREWELL_TIME, LONGEST_NAME
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr
from fleetcare.page.cards.calendar_choice import Tried
from fleetcare.page.cards.frame import CALENDAR_URL, Frame, full_frame
from fleetcare.page.cards.ticks import TICKED_AT_MOST
from fleetcare.page.cards.your_calendar import Address, AddressRow, NewAddress, address_row

SHARED_URL = f"{CALENDAR_URL}/shared"
OWNER_FIELD = "of"
MARK_FIELD = "mark"
GARAGE_OWNER = "garage"


@dataclass(frozen=True, slots=True)
class SharedCalendar:
    """One of them that has addresses. owner: what its forms say whose it is. told: what it shows, and what not."""

    owner: str
    heading: str
    told: str
    rows: tuple[AddressRow, ...]


@dataclass(frozen=True, slots=True)
class SharedCalendarsCard:
    """The whole page. form_key: goes with every form, so that only this page can send it.

    owners: of which a new address can be made, value and words; chosen is one of the values. name, problem: what was
    typed, and what is wrong with it. by_mark: there are too many vehicles to choose from, so that one is typed by its
    mark; mark, mark_problem: what was typed there, and what is wrong with it.
    """

    frame: Frame
    form_key: str
    new: NewAddress | None
    calendars: tuple[SharedCalendar, ...]
    owners: tuple[tuple[str, str], ...]
    chosen: str
    name: str
    problem: str
    by_mark: bool
    mark: str
    mark_problem: str
    longest_name: int = LONGEST_NAME
    replaced_days: int = FAREWELL_TIME.days


def shared_calendars_card(
    *,
    garage: Garage,
    reader: Person,
    today: date,
    form_key: str,
    vehicles: Sequence[Vehicle],
    addresses: Mapping[str, Sequence[Address]],
    can_enter: bool,
    new: NewAddress | None = None,
    tried: Tried | None = None,
) -> SharedCalendarsCard:
    """The page for one reader. vehicles: those the reader keeps.

    addresses: by owner (`garage`, `bay`, a mark); new ones can be made for these, in that order. Of more vehicles than
    one would choose from, those that have an address are there to choose, and any is typed by its mark.
    tried: a form that could not be taken; `where` is the owner.
    """
    zone = ZoneInfo(garage.zone)
    vehicle_of = {vehicle.mark: vehicle for vehicle in vehicles}
    tried = tried or Tried("", "", "")
    by_mark = len(addresses) > TICKED_AT_MOST
    offered = [owner for owner, there in addresses.items() if there or owner not in vehicle_of or not by_mark]
    return SharedCalendarsCard(
        frame=full_frame(
            tr("Shared calendars"), garage=garage, reader=reader, today=today, here=CALENDAR_URL, can_enter=can_enter
        ),
        form_key=form_key,
        new=new,
        calendars=tuple(
            SharedCalendar(
                owner=owner,
                heading=_heading(owner, vehicle_of),
                told=_told(owner),
                rows=tuple(address_row(each, zone, today, url=SHARED_URL) for each in there),
            )
            for owner, there in addresses.items()
            if there
        ),
        owners=tuple((owner, _heading(owner, vehicle_of)) for owner in offered),
        chosen=tried.where or next(iter(offered), ""),
        name=tried.typed,
        problem="" if tried.field == MARK_FIELD else tried.problem,
        by_mark=by_mark,
        mark=tried.mark,
        mark_problem=tried.problem if tried.field == MARK_FIELD else "",
    )


def _heading(owner: str, vehicles: Mapping[str, Vehicle]) -> str:
    if owner == GARAGE_OWNER:
        return tr("The garage")
    return tr("The bay") if owner == BAY else f"{vehicles[owner].name} {owner}"


def _told(owner: str) -> str:
    if owner == GARAGE_OWNER:
        return tr("Due services, bay days, days spoken for and lay-ups of every vehicle. It names no person.")
    if owner == BAY:
        return tr("When the bay is taken, and nothing else.")
    return tr("When it is taken, and not why.")
