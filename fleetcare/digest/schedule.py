"""Which letters are due: periods in the reader's own calendar, worked out from the instant alone.

A wake-up that comes late, twice or after a clock was set back changes nothing, because a period has one name and the
ledger takes each name once.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from fleetcare.digest.bay_day import BayDayNotice
from fleetcare.digest.moments import first_moment, is_quiet, latest_day, zone_of
from fleetcare.digest.values import LetterKind
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.access import SIGN_IN_TIME
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.people import Person
from fleetcare.quantities import months_after

WEEK = timedelta(days=7)
AGAIN_AFTER = timedelta(days=10)
"""So long after the first request the second one follows, and so long after the second the word to the keeper."""
PATIENCE = timedelta(days=6)
"""However late the request before it was written, so long its reader has had time."""
BAY_DAY_AHEAD = timedelta(days=2)
ONE_OFF_TIME = timedelta(days=5)
"""What happened once is told within these days; after them the garage letter has told it."""


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
    return week_name(_latest_letter_day(person, person.letter_weekday, now))


@dataclass(frozen=True, slots=True)
class ReadingRound:
    """One month's asking for one reading. period: `2026-04/BE`; asked_on: the day it begins, in the reader's zone."""

    period: str
    asked_on: date


def reading_round(outlook: VehicleOutlook, person: Person, now: datetime) -> ReadingRound | None:
    """The asking whose first request this person should have by now; None if no reading is wanted, or no letter.

    Asked first on the day a reading is wanted from, then on that day of each later month (31st: last of the month),
    from the person's hour on. Raises BadInput for an unknown zone.
    """
    wanted = outlook.wanted
    if wanted is None or person.letter_weekday is None:
        return None
    zone = zone_of(person)
    today = now.astimezone(zone).date()
    months = (today.year - wanted.since.year) * 12 + today.month - wanted.since.month
    asked_on = months_after(wanted.since, months) if months >= 0 else wanted.since
    if months > 0 and first_moment(asked_on, _hour(person), zone) > now:
        asked_on = months_after(wanted.since, months - 1)
    if first_moment(asked_on, _hour(person), zone) > now:
        return None
    return ReadingRound(f"{asked_on.year:04}-{asked_on.month:02}/{outlook.vehicle.mark}", asked_on)


def follows_by_now(asking: ReadingRound, step: int, person: Person, now: datetime) -> bool:
    """Whether the time of the step has come: 1 the second request, 2 the word to the keeper; at the person's hour."""
    day = asking.asked_on + step * AGAIN_AFTER
    return first_moment(day, _hour(person), zone_of(person)) <= now


def reading_request_period(outlook: VehicleOutlook, person: Person, now: datetime) -> str | None:
    """The period of `reading_round`, such as `2026-04/BE`."""
    asking = reading_round(outlook, person, now)
    return None if asking is None else asking.period


def bay_day_period(notice: BayDayNotice) -> str:
    """What the letter about a bay day is for: that bay day on that day. Moved, it is another letter."""
    return _period(notice.key, notice.starts_at.date())


def visit_period(visit: BayVisit, zone: ZoneInfo) -> str:
    """The same for a visit that has not begun, in the garage's zone."""
    return _period(f"{visit.mark}/{visit.number}", visit.begins_at.astimezone(zone).date())


def _period(key: str, on: date) -> str:
    return f"{key} on {on}"


def bay_day_is_told(notice: BayDayNotice, person: Person, now: datetime) -> bool:
    """Whether the letter two days ahead is due: from the person's hour two days before, until the work begins.

    Planned at shorter notice it is due at once, but not in the hours in which the person is left alone.
    """
    zone = zone_of(person)
    from_day = notice.starts_at.astimezone(zone).date() - BAY_DAY_AHEAD
    if not first_moment(from_day, _hour(person), zone) <= now < notice.starts_at:
        return False
    return now.astimezone(zone).hour == person.letter_hour or not is_quiet(person, now)


def expires_at(kind: LetterKind, person: Person, now: datetime, notice: BayDayNotice | None = None) -> datetime:
    """Until when a letter decided now is worth sending, UTC: a garage letter until the next one is due.

    A first reading request holds for a month, the later ones until the next step, what happened once for some days, a
    word about a bay day until it begins, a sign-in letter as long as its link. A garage letter to somebody who gets
    none by themselves (it was asked for by hand) holds for a week. Raises BadInput for an unknown zone.
    """
    utc = now.astimezone(UTC)
    if kind is LetterKind.COME_IN:
        return utc + SIGN_IN_TIME
    if notice is not None:
        return notice.starts_at.astimezone(UTC)
    zone = zone_of(person)
    if kind is LetterKind.READING:
        return first_moment(months_after(now.astimezone(zone).date(), 1), _hour(person), zone)
    if kind in (LetterKind.READING_AGAIN, LetterKind.READING_MISSING):
        return utc + AGAIN_AFTER
    if kind is not LetterKind.GARAGE:
        return utc + ONE_OFF_TIME
    if person.letter_weekday is None:
        return utc + WEEK
    return first_moment(_latest_letter_day(person, person.letter_weekday, now) + WEEK, _hour(person), zone)


def week_name(day: date) -> str:
    """`2026-W16`."""
    year, week, _ = day.isocalendar()
    return f"{year:04}-W{week:02}"


def weeks_between(before: str, after: str) -> int:
    """Whole weeks from one period to another; nought if either is no week (a letter asked for by hand)."""
    try:
        days = [date.fromisocalendar(int(name[:4]), int(name[6:]), 1) for name in (before, after)]
    except ValueError:
        return 0
    return (days[1] - days[0]) // WEEK


def _latest_letter_day(person: Person, weekday: int, now: datetime) -> date:
    """The latest letter day whose moment has come."""
    day = latest_day(_hour(person), zone_of(person), now)
    return day - timedelta(days=(day.weekday() - weekday) % 7)


def _hour(person: Person) -> time:
    return time(person.letter_hour)
