"""Visits to the bay as letters tell of them: to the mechanic two days ahead, and when an inked day moves."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from fleetcare.bayplan.lead_reason import why_told
from fleetcare.digest.bay_day import BayDayNotice
from fleetcare.digest.letters_due import Ledger, Wanted, keeper_of
from fleetcare.digest.moments import is_quiet
from fleetcare.digest.schedule import bay_day_is_told, bay_day_period
from fleetcare.digest.values import LetterKind
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.bay_visit import BayVisit, StretchKind, VisitState
from fleetcare.fleet.people import Garage, Person
from fleetcare.language import tr, tr_book
from fleetcare.wording import span_words, weekday_name

IN_GARAGE_LETTER = timedelta(days=14)
"""Bay days so far ahead stand in the weekly letter: the next week's letter comes before any later one."""


Sheets = Mapping[tuple[str, int], int]
"""Numbers of job sheets by the visit they were made from: mark and number."""
_NO_SHEETS: Sheets = {}


def notice_of(visit: BayVisit, outlook: VehicleOutlook, zone: ZoneInfo, sheets: Sheets = _NO_SHEETS) -> BayDayNotice:
    """One visit as its mechanic is told of it, in the garage's own time."""
    titles = {line.key: tr_book(line.row.title) for line in outlook.lines}
    first = visit.stretches[0]
    return BayDayNotice(
        key=f"{visit.mark}/{visit.number}",
        mark=visit.mark,
        name=outlook.vehicle.name,
        starts_at=visit.begins_at.astimezone(zone),
        services=tuple(titles.get(line, line.service) for line in visit.lines),
        hands_on_minutes=_minutes(first.lasts),
        then=_then(visit, zone),
        why=why_told(visit),
        is_inked=visit.state is VisitState.INKED,
        sheet=sheets.get(visit.key, 0),
        moved_from=visit.moved_from,
    )


def next_hands_notice(
    visit: BayVisit, outlook: VehicleOutlook, zone: ZoneInfo, now: datetime, sheets: Sheets = _NO_SHEETS
) -> BayDayNotice | None:
    """What is left of a visit that has begun, from its next hand on; None if it has not begun or no hand is left."""
    if visit.begins_at > now:
        return None
    ahead = [each for each in visit.stretches if each.begins_at > now]
    hands = next((each for each in ahead if each.kind is StretchKind.HANDS_ON), None)
    if hands is None:
        return None
    left = replace(visit, stretches=tuple(ahead[ahead.index(hands) :]), moved_from=visit.hands_moved_from)
    return replace(notice_of(left, outlook, zone, sheets), key=f"{visit.mark}/{visit.number} again")


def bay_letters_due(
    visits: Iterable[BayVisit],
    *,
    garage: Garage,
    people: Sequence[Person],
    outlooks: Sequence[VehicleOutlook],
    ledger: Ledger,
    now: datetime,
    sheets: Sheets = _NO_SHEETS,
) -> Iterator[Wanted]:
    """Letters about visits: two days ahead to whose hands they are, and at once if one moved.

    That one moved is told to the mechanic and the keeper, if the day was inked and so people had counted on it; both
    are told once for the day it is on now. So it is with the next hand of a visit that has begun, when its sheet moved
    that to another day. people: those with a mail address. Raises BadInput for an unknown zone.
    """
    by_key = {person.key: person for person in people}
    by_mark = {outlook.vehicle.mark: outlook for outlook in outlooks}
    for visit in visits:
        outlook = by_mark.get(visit.mark)
        if outlook is None or not visit.takes_place:
            continue
        mechanic = by_key.get(visit.mechanic)
        if visit.begins_at <= now:
            notice = next_hands_notice(visit, outlook, ZoneInfo(garage.zone), now, sheets)
            if notice is None:
                continue
        else:
            notice = notice_of(visit, outlook, ZoneInfo(garage.zone), sheets)
        is_ahead = visit.begins_at > now
        if (
            is_ahead
            and mechanic is not None
            and mechanic.letter_weekday is not None
            and bay_day_is_told(notice, mechanic, now)
        ):
            yield from _unless_told(mechanic, LetterKind.BAY_DAY, notice, outlook, ledger)
        if notice.moved_from in (None, notice.starts_at.date()):
            continue
        for person in dict.fromkeys(filter(None, (mechanic, keeper_of(outlook.vehicle, garage, by_key)))):
            if person.letter_weekday is not None and not is_quiet(person, now):
                yield from _unless_told(person, LetterKind.BAY_DAY_MOVED, notice, outlook, ledger)


def bay_days_of(
    person: Person,
    visits: Iterable[BayVisit],
    outlooks: Mapping[str, VehicleOutlook],
    *,
    zone: ZoneInfo,
    now: datetime,
    sheets: Sheets = _NO_SHEETS,
) -> tuple[BayDayNotice, ...]:
    """The bay days of the next two weeks that this person is down for, soonest first, the rest of one under way too."""
    theirs = [
        visit
        for visit in visits
        if visit.takes_place and visit.mechanic == person.key and visit.begins_at <= now + IN_GARAGE_LETTER
    ]
    notices = []
    for visit in theirs:
        outlook = outlooks.get(visit.mark)
        if outlook is None:
            continue
        left = next_hands_notice(visit, outlook, zone, now, sheets)
        if left is not None:
            notices.append(left)
        elif visit.begins_at > now:
            notices.append(notice_of(visit, outlook, zone, sheets))
    return tuple(sorted(notices, key=lambda notice: (notice.starts_at, notice.key)))


def _unless_told(
    person: Person, kind: LetterKind, notice: BayDayNotice, outlook: VehicleOutlook, ledger: Ledger
) -> Iterator[Wanted]:
    period = bay_day_period(notice)
    if (person.key, kind, period) not in ledger:
        yield Wanted(person, kind, period, outlook, notice=notice)


def _then(visit: BayVisit, zone: ZoneInfo) -> str:
    """`Then it stands 25 h; Sunday 12:20 another 1 h 20.`, nothing if the vehicle is free at once."""
    first_day = visit.begins_at.astimezone(zone).date()
    parts: list[str] = []
    for stretch in visit.stretches[1:]:
        span = span_words(_minutes(stretch.lasts))
        if stretch.kind is StretchKind.STANDING:
            parts.append(tr("it stands {span}", span=span) if not parts else tr("stands {span}", span=span))
        else:
            parts.append(tr("{moment} another {span}", moment=_moment(stretch.begins_at, zone, first_day), span=span))
    if not parts:
        return ""
    return tr(
        "Then {stretches}; free {moment}.", stretches="; ".join(parts), moment=_moment(visit.free_at, zone, first_day)
    )


def _moment(at: datetime, zone: ZoneInfo, first_day: date) -> str:
    local = at.astimezone(zone)
    return f"{local:%H:%M}" if local.date() == first_day else f"{weekday_name(local.weekday())} {local:%H:%M}"


def _minutes(span: timedelta) -> int:
    return round(span.total_seconds() / 60)
