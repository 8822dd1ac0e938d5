"""When an hour of somebody's own day comes, whatever the clocks of their zone do, and when they are left alone."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from fleetcare.errors import BadInput, shown
from fleetcare.fleet.people import Person
from fleetcare.language import saying

_DAY = timedelta(days=1)


def first_moment(day: date, at: time, zone: ZoneInfo) -> datetime:
    """The first instant at which clocks in `zone` show that time of that day, or a later one; UTC.

    Of a time that comes twice it is the first; of one that is left out, the moment after the gap.
    Source: RFC 5545, 3.3.5 for times that come twice; PEP 495 for the two ways to read one.
    """
    shown_by_clocks = datetime.combine(day, at)
    first = shown_by_clocks.replace(tzinfo=zone, fold=0).astimezone(UTC)
    second = shown_by_clocks.replace(tzinfo=zone, fold=1).astimezone(UTC)
    if first <= second:
        return first  # a time like any other, or the first of two
    # The time was left out. The clock changed after `second` and not after `first` (PEP 495): find that second.
    before, after = second, first
    while after - before > timedelta(seconds=1):
        middle = before + timedelta(seconds=(after - before) // timedelta(seconds=2))
        if middle.astimezone(zone).replace(tzinfo=None) >= shown_by_clocks:
            after = middle
        else:
            before = middle
    return after


def latest_day(at: time, zone: ZoneInfo, now: datetime) -> date:
    """The latest day whose moment has come. Every day of the zone's calendar is it for a while, one after the other.

    A day that the zone's calendar leaves out shares its moment with the day after it.
    """
    # A day ahead as well: where a whole day was left out, its moment came although no clock showed it.
    day = now.astimezone(zone).date() + _DAY
    while first_moment(day, at, zone) > now:
        day -= _DAY
    return day


def is_quiet(person: Person, now: datetime) -> bool:
    """True in the hours in which this person is not to be written to unasked. Raises BadInput for an unknown zone."""
    hour = now.astimezone(zone_of(person)).hour
    if person.quiet_from <= person.quiet_until:
        return person.quiet_from <= hour < person.quiet_until
    return hour >= person.quiet_from or hour < person.quiet_until


def zone_of(person: Person) -> ZoneInfo:
    """The time zone of a person. Raises BadInput if there is no such zone here."""
    try:
        return ZoneInfo(person.zone)
    except (ZoneInfoNotFoundError, ValueError, OSError) as unknown:
        raise BadInput(
            saying("{zone} is no time zone known here.", zone=shown(person.zone)),
            remedy="Give one such as Europe/Berlin.",
            field="zone",
        ) from unknown
