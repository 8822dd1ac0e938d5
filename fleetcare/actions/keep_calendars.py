"""A calendar to be read by its URL is added or taken away."""

from __future__ import annotations

from datetime import datetime

from fleetcare.actions.gather import Rules, garage_day, garage_of
from fleetcare.actions.ports import Change, ReadView, Store
from fleetcare.actions.settle import settle
from fleetcare.errors import Clash, NotFound
from fleetcare.fleet.busy import CalendarOwner, CalendarSource
from fleetcare.fleet.calendar_address import calendar_address, shown_address
from fleetcare.fleet.calendar_bookings import bookings_to_come
from fleetcare.fleet.naming import person_called, vehicle_called
from fleetcare.language import saying


def add_calendar(
    store: Store, owner_name: str, address: str, *, key: str = "", may_be_private: bool = False, now: datetime, who: str
) -> CalendarSource:
    """Takes a calendar on; it is read when its turn comes.

    owner_name: a person or vehicle as people call them, or `bay`. key: empty makes one from the owner, such as `an`.
    Raises NotFound (owner), BadInput (address), Clash (the key is taken, or this address is there already).
    """
    url = calendar_address(address)
    with store.write(Change(who, "calendar added", now)) as unit:
        garage_of(unit)
        kind, owner = _owner(unit, owner_name)
        own_key = key or owner.casefold()
        for other in unit.calendars():
            if other.key == own_key:
                raise Clash(
                    saying(
                        "There is a calendar {own_key} already. Give this one another name with --key.", own_key=own_key
                    )
                )
            if (other.owner_kind, other.owner, other.url) == (kind, owner, url):
                raise Clash(saying("That calendar is there already, as {key}.", key=other.key))
        source = CalendarSource(own_key, kind, owner, url, may_be_private)
        unit.put_calendar(source)
        unit.log_change(f"calendar {own_key}", "added", "", f"of {owner}, {shown_address(url)}")
    return source


def remove_calendar(store: Store, rules: Rules, key: str, *, now: datetime, base_url: str, who: str) -> int:
    """Takes a calendar away with the bookings made from it that are not over yet; returns how many those were.

    Bookings that are over stay: what was driven was driven. Raises NotFound.
    """
    wanted = key.strip().casefold()
    with store.write(Change(who, f"calendar {wanted} taken away", now)) as unit:
        if not unit.drop_calendar(wanted):
            raise NotFound("calendar", key, [source.key for source in unit.calendars()])
        today = garage_day(garage_of(unit), now)
        going = bookings_to_come(wanted, unit.bookings(), today)
        unit.drop_bookings(booking.key for booking in going)
        marks = sorted({mark for booking in going for mark in booking.marks})
        unit.log_change(f"calendar {wanted}", "taken away", "", f"{len(going)} bookings to come with it")
        for booking in going:
            for mark in booking.marks:
                unit.log_change(mark, "booking", f"{booking.title}, {booking.days.first}", "no longer")
        if marks:
            settle(unit, rules, now=now, base_url=base_url, marks=marks)
    return len(going)


def _owner(view: ReadView, name: str) -> tuple[CalendarOwner, str]:
    wanted = name.strip()
    if wanted.casefold() == CalendarOwner.BAY.value:
        return CalendarOwner.BAY, CalendarOwner.BAY.value
    vehicles, people = view.vehicles(), view.people()
    try:
        return CalendarOwner.VEHICLE, vehicle_called(vehicles, wanted).mark
    except NotFound:
        pass
    try:
        return CalendarOwner.PERSON, person_called(people, wanted).key
    except NotFound:
        known = [name for v in vehicles for name in (v.name, v.mark)] + [
            name for p in people for name in (p.name, p.key)
        ]
        raise NotFound("vehicle or person", name, [*known, CalendarOwner.BAY.value]) from None
