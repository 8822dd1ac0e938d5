"""Calendars for tests, spelt out line by line."""

from __future__ import annotations

from datetime import date

from fleetcare.calendar_in.expanding import Task
from fleetcare.calendar_in.limits import Limits
from fleetcare.fleet.busy import CalendarOwner, CalendarSource, days_to_see

TODAY = date(2026, 4, 14)
BERLIN_AS_RULES = (
    "BEGIN:VTIMEZONE",
    "TZID:Garage clock",
    "BEGIN:DAYLIGHT",
    "DTSTART:19810329T020000",
    "RRULE:FREQ=YEARLY;BYMONTH=3;BYDAY=-1SU",
    "TZOFFSETFROM:+0100",
    "TZOFFSETTO:+0200",
    "END:DAYLIGHT",
    "BEGIN:STANDARD",
    "DTSTART:19961027T030000",
    "RRULE:FREQ=YEARLY;BYMONTH=10;BYDAY=-1SU",
    "TZOFFSETFROM:+0200",
    "TZOFFSETTO:+0100",
    "END:STANDARD",
    "END:VTIMEZONE",
)
"""Central European time under a name that no list knows."""


def calendar(*lines: str) -> bytes:
    """A whole calendar with these lines in it."""
    whole = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//test//test//", *lines, "END:VCALENDAR"]
    return "".join(f"{line}\r\n" for line in whole).encode()


def event(*lines: str, uid: str = "one@example", title: str = "Ridge run") -> tuple[str, ...]:
    """The lines of an event; give at least its DTSTART."""
    return ("BEGIN:VEVENT", f"UID:{uid}", "DTSTAMP:20260101T000000Z", f"SUMMARY:{title}", *lines, "END:VEVENT")


def trip(
    title: str = "Ridge run, 900 km towing", *, first: str = "20260501", end: str = "20260504", uid: str = "trip@x"
) -> bytes:
    """A calendar with one trip over whole days."""
    return calendar(*event(f"DTSTART;VALUE=DATE:{first}", f"DTEND;VALUE=DATE:{end}", uid=uid, title=title))


def task(zone: str = "America/Denver", *, charset: str = "utf-8", limits: Limits | None = None) -> Task:
    """What is asked of the child on `TODAY`; with time enough that no result hangs on how busy the machine is."""
    days = days_to_see(TODAY)
    return Task(zone, days.first, days.end, charset, limits or Limits(series_s=30, cpu_s=60, child_s=120))


def source(
    url: str, *, key: str = "an", owner: str = "AN", kind: CalendarOwner = CalendarOwner.VEHICLE
) -> CalendarSource:
    """Anvil's calendar at that address."""
    return CalendarSource(key, kind, owner, url)
