"""Which letters are due: periods in the reader's own calendar, worked out from the instant alone.

A wake-up that comes late, twice or after a clock was set back changes nothing, because a period has one name and the
ledger takes each name once.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from fleetcare.digest.values import LetterKind
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.errors import BadInput, shown
from fleetcare.fleet.people import Person
from fleetcare.quantities import months_after

COME_IN_TIME = timedelta(minutes=30)
"""A sign-in letter that could not be handed over in that time is of no use any more."""
WEEK = timedelta(days=7)


def garage_letter_period(person: Person, now: datetime) -> str | None:
    """The period whose garage letter this person should have by now, such as `2026-W16`; None if they want none.

    A period begins with the person's weekday and hour in an ISO week and ends where the next one begins. After any
    time off only the latest one is named, so what was missed is caught up once. An hour that a clock change leaves out
    counts from the first moment after it; of an hour that comes twice, the first counts. A person who changes day, hour
    or zone gets no second letter in a week that had one.
    now: timezone-aware. Raises BadInput for an unknown zone.
    Source: ISO 8601 for the week; RFC 5545, 3.3.5 for hours that come twice.
    """
    if person.letter_weekday is None:
        return None
    return _week_name(_latest_letter_day(person, person.letter_weekday, now))


def reading_request_period(outlook: VehicleOutlook, person: Person, now: datetime) -> str | None:
    """The period whose reading request this person should have by now, such as `2026-04/BE`; None if there is none.

    Asked first on the day a reading is wanted from, then on that day of each later month (31st: last of the month),
    from the person's hour on. None if no reading is wanted, or if the person wants no letters.
    Raises BadInput for an unknown zone.
    """
    wanted = outlook.wanted
    if wanted is None or person.letter_weekday is None:
        return None
    zone = zone_of(person)
    today = now.astimezone(zone).date()
    months = (today.year - wanted.since.year) * 12 + today.month - wanted.since.month
    asked_on = months_after(wanted.since, months) if months >= 0 else wanted.since
    if months > 0 and _moment(asked_on, person.letter_hour, zone) > now:
        asked_on = months_after(wanted.since, months - 1)
    if _moment(asked_on, person.letter_hour, zone) > now:
        return None
    return f"{asked_on.year:04}-{asked_on.month:02}/{outlook.vehicle.mark}"


def expires_at(kind: LetterKind, person: Person, now: datetime) -> datetime:
    """Until when a letter decided now is worth sending, UTC: a garage letter until the next one is due.

    A reading request holds for a month, a sign-in letter for half an hour. A garage letter to somebody who gets none
    by themselves (it was asked for by hand) holds for a week. Raises BadInput for an unknown zone.
    """
    if kind is LetterKind.COME_IN:
        return now.astimezone(UTC) + COME_IN_TIME
    zone = zone_of(person)
    if kind is LetterKind.READING:
        return _moment(months_after(now.astimezone(zone).date(), 1), person.letter_hour, zone)
    if person.letter_weekday is None:
        return now.astimezone(UTC) + WEEK
    return _moment(_latest_letter_day(person, person.letter_weekday, now) + WEEK, person.letter_hour, zone)


def _latest_letter_day(person: Person, weekday: int, now: datetime) -> date:
    """The latest letter day whose moment has come."""
    zone = zone_of(person)
    today = now.astimezone(zone).date()
    # A day ahead as well: where a whole day was left out, its moment came although no clock showed it.
    ahead = today + timedelta(days=1)
    day = ahead - timedelta(days=(ahead.weekday() - weekday) % 7)
    while _moment(day, person.letter_hour, zone) > now:
        day -= WEEK
    return day


def _moment(day: date, hour: int, zone: ZoneInfo) -> datetime:
    """The first instant at which clocks in `zone` show that hour of that day, or a later one; UTC."""
    shown_by_clocks = datetime.combine(day, time(hour))
    first = shown_by_clocks.replace(tzinfo=zone, fold=0).astimezone(UTC)
    second = shown_by_clocks.replace(tzinfo=zone, fold=1).astimezone(UTC)
    if first <= second:
        return first  # an hour like any other, or the first of two
    # The hour was left out. The clock changed after `second` and not after `first` (PEP 495): find that second.
    before, after = second, first
    while after - before > timedelta(seconds=1):
        middle = before + timedelta(seconds=(after - before) // timedelta(seconds=2))
        if middle.astimezone(zone).replace(tzinfo=None) >= shown_by_clocks:
            after = middle
        else:
            before = middle
    return after


def _week_name(day: date) -> str:
    year, week, _ = day.isocalendar()
    return f"{year:04}-W{week:02}"


def zone_of(person: Person) -> ZoneInfo:
    """The time zone of a person. Raises BadInput if there is no such zone here."""
    try:
        return ZoneInfo(person.zone)
    except (ZoneInfoNotFoundError, ValueError, OSError) as unknown:
        raise BadInput(
            f"{shown(person.zone)} is no time zone known here.", remedy="Give one such as Europe/Berlin.", field="zone"
        ) from unknown
