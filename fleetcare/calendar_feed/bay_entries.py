"""Visits to the bay as calendar entries: hands on the vehicle, the time it stands, and when it is taken."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from fleetcare.bayplan.lead_reason import why_told
from fleetcare.calendar_feed import words
from fleetcare.calendar_feed.entries import Form, is_gone, page_of, put_in_frame, seed_of, told_apart
from fleetcare.calendar_feed.plain_text import one_line
from fleetcare.calendar_feed.rules import FeedRules
from fleetcare.calendar_feed.values import EntryKind, FeedEntry
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.bay_visit import BayVisit, Stretch, StretchKind, VisitState
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.feed_choice import Topic
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr, tr_book
from fleetcare.quantities import DateSpan
from fleetcare.wording import joined, span_words, weekday_short
from fleetcare.work.order import OrderState, WorkOrder

_LAST_MOMENT = timedelta(microseconds=1)


@dataclass(frozen=True, slots=True)
class Session:
    """Hands on a vehicle from the first to the last of one day; short waits between them are part of it.

    hands_on: the time somebody works. stands_until: the next hand, or the end of the visit; None if it is free at once.
    """

    begins_at: datetime
    ends_at: datetime
    hands_on: timedelta
    stands_until: datetime | None
    is_last: bool


def sessions_of(visit: BayVisit, zone: ZoneInfo) -> tuple[Session, ...]:
    """The visit day by day, as a person in that zone lives it."""
    days: dict[date, list[Stretch]] = {}
    for stretch in visit.stretches:
        if stretch.kind is StretchKind.HANDS_ON:
            days.setdefault(_day(stretch.begins_at, zone), []).append(stretch)
    groups = list(days.values())
    ends: list[datetime | None] = [later[0].begins_at for _, later in pairwise(groups)]
    ends.append(visit.free_at if visit.free_at > groups[-1][-1].ends_at else None)
    return tuple(
        Session(
            begins_at=group[0].begins_at,
            ends_at=group[-1].ends_at,
            hands_on=sum((each.lasts for each in group), start=timedelta()),
            stands_until=until,
            is_last=group is groups[-1],
        )
        for group, until in zip(groups, ends, strict=True)
    )


def bay_entries(
    visits: Iterable[BayVisit],
    outlook: VehicleOutlook,
    name: str,
    form: Form,
    *,
    people: Mapping[str, str],
    sheets: Mapping[tuple[str, int], int],
    zone: ZoneInfo,
    today: date,
    rules: FeedRules,
) -> tuple[FeedEntry, ...]:
    """What one vehicle's visits put into a calendar of that form, by first day and seed.

    people: what mechanics are called, by key. sheets: numbers of job sheets by mark and number of the visit. Each visit
    has entries of its own, so that one keeps its place on a phone when another vehicle joins the day. Hands on the
    vehicle take the day of the one whose hands they are; for everybody else, and while the vehicle stands, the time
    shows as free. Nothing of a visit that was rubbed out.
    """
    if is_gone(outlook.vehicle, today):
        return ()
    found = [
        entry
        for visit in visits
        if visit.takes_place and visit.mark == outlook.vehicle.mark
        for entry in _of_visit(visit, outlook, name, form, people, sheets.get(visit.key, 0), zone)
    ]
    return told_apart(put_in_frame(found, today, rules))


def planned_sheets(
    orders: Iterable[WorkOrder], outlook: VehicleOutlook, name: str, form: Form, *, today: date, rules: FeedRules
) -> tuple[FeedEntry, ...]:
    """Sheets of a vehicle that are planned for a day and have no visit with hours: a whole day each."""
    if is_gone(outlook.vehicle, today) or Topic.BAY_DAYS not in form.topics:
        return ()
    found = [
        FeedEntry(
            seed=seed_of("sheet", outlook.vehicle.mark, str(order.number)),
            kind=EntryKind.BAY_DAY,
            title=one_line(tr("{name} in the bay, sheet {sheet}", name=name, sheet=order.sheet)),
            days=DateSpan.of_days(order.planned_on, order.planned_on),
            text=f"{one_line(outlook.vehicle.name)}: {joined([_service(line, outlook) for line in order.lines])}.",
            path=f"/work/{order.number}",
            mark=outlook.vehicle.mark,
            serves=tuple(seed_of("due", *line) for line in order.lines),
        )
        for order in orders
        if order.state is OrderState.PLANNED and not order.visit and order.planned_on is not None
    ]
    return told_apart(put_in_frame(found, today, rules))


def taken_in_bay(
    visits: Iterable[BayVisit], vehicle: Vehicle, name: str, *, zone: ZoneInfo, today: date, rules: FeedRules
) -> tuple[FeedEntry, ...]:
    """When a vehicle is taken because it is in the bay, from the first hand until it is free again."""
    if is_gone(vehicle, today):
        return ()
    theirs = (visit for visit in visits if visit.takes_place and visit.mark == vehicle.mark)
    found = [_taken(visit, words.busy_title(name), zone, path=page_of(vehicle.mark)) for visit in theirs]
    return told_apart(put_in_frame(found, today, rules))


def bay_taken(visits: Iterable[BayVisit], *, zone: ZoneInfo, today: date, rules: FeedRules) -> tuple[FeedEntry, ...]:
    """When the bay is taken, by what does not matter: a vehicle that stands takes it as well."""
    found = [_taken(visit, tr(words.BAY_TAKEN), zone, path="/") for visit in visits if visit.takes_place]
    return told_apart(put_in_frame(found, today, rules))


def marks_worked_on(visits: Iterable[BayVisit]) -> dict[str, frozenset[str]]:
    """Marks of the vehicles by the mechanic whose hands are asked for in some visit that takes place."""
    marks: dict[str, set[str]] = {}
    for visit in visits:
        if visit.takes_place and visit.mechanic:
            marks.setdefault(visit.mechanic, set()).add(visit.mark)
    return {mechanic: frozenset(theirs) for mechanic, theirs in marks.items()}


def _of_visit(
    visit: BayVisit,
    outlook: VehicleOutlook,
    name: str,
    form: Form,
    people: Mapping[str, str],
    sheet: int,
    zone: ZoneInfo,
) -> Iterator[FeedEntry]:
    pencilled = visit.state is VisitState.PENCILLED
    serves = tuple(seed_of("due", *line) for line in visit.lines)
    mechanic = "" if form.plain else people.get(visit.mechanic, "")
    why = "" if form.plain else why_told(visit)
    sessions = sessions_of(visit, zone)
    for place, session in enumerate(sessions):
        if Topic.BAY_DAYS in form.topics:
            yield FeedEntry(
                seed=seed_of("bay", visit.mark, str(visit.number), str(place)),
                kind=EntryKind.BAY_DAY,
                title=_with_state(
                    tr(
                        "{name} in the bay{word}, {minutes}",
                        name=name,
                        word=tr(" again") if place else "",
                        minutes=_minutes(session.hands_on),
                    ),
                    pencilled,
                ),
                days=_days(session.begins_at, session.ends_at, zone),
                text=_visit_text(visit, outlook, mechanic, why, sheet, zone),
                path=f"/work/{sheet}" if sheet else page_of(visit.mark),
                tentative=pencilled,
                mark=visit.mark,
                blocks=bool(form.hands) and form.hands == visit.mechanic,
                spell=(session.begins_at, session.ends_at),
                serves=serves,
            )
        if session.stands_until is not None and Topic.STANDING in form.topics:
            yield FeedEntry(
                seed=seed_of("stands", visit.mark, str(visit.number), str(place)),
                kind=EntryKind.STANDING,
                title=_with_state(
                    tr("{name} stands until {moment}", name=name, moment=_moment(session.stands_until, zone)), pencilled
                ),
                days=_days(session.ends_at, session.stands_until, zone),
                text=_standing_text(visit, outlook, session.is_last),
                path=page_of(visit.mark),
                tentative=pencilled,
                mark=visit.mark,
                spell=(session.ends_at, session.stands_until),
                serves=serves,
            )


def _taken(visit: BayVisit, title: str, zone: ZoneInfo, *, path: str) -> FeedEntry:
    return FeedEntry(
        seed=seed_of("busy-bay", visit.mark, str(visit.number)),
        kind=EntryKind.BUSY,
        title=title,
        days=_days(visit.begins_at, visit.free_at, zone),
        path=path,
        tentative=visit.state is VisitState.PENCILLED,
        blocks=True,
        spell=(visit.begins_at, visit.free_at),
    )


def _visit_text(
    visit: BayVisit, outlook: VehicleOutlook, mechanic: str, reason: str, sheet: int, zone: ZoneInfo
) -> str:
    services = joined([_service(line, outlook) for line in visit.lines])
    parts = (
        f"{one_line(outlook.vehicle.name)}: {services}.",
        tr("Mechanic: {name}.", name=one_line(mechanic)) if mechanic else "",
        one_line(reason),
        tr("Sheet {sheet}.", sheet=f"{sheet:04d}") if sheet else "",
        tr("Free again {moment}.", moment=_moment(visit.free_at, zone)),
    )
    return "\n".join(part for part in parts if part)


def _standing_text(visit: BayVisit, outlook: VehicleOutlook, is_last: bool) -> str:
    services = joined([_service(line, outlook) for line in visit.lines])
    after = tr("Then it is free again.") if is_last else tr("Then hands are needed again.")
    return tr(
        "{vehicle}: {services}.\nDo not move it meanwhile. {after}",
        vehicle=one_line(outlook.vehicle.name),
        services=services,
        after=after,
    )


def _service(line: LineKey, outlook: VehicleOutlook) -> str:
    """What a service is called in a text; its key if the vehicle no longer has it."""
    known: Sequence[str] = [
        one_line(tr_book(each.row.short or each.row.title)) for each in outlook.lines if each.key == line
    ]
    return known[0] if known else line.service


def _with_state(title: str, pencilled: bool) -> str:
    """The title, which a long one must not push off its end."""
    return tr("{title}, pencilled", title=one_line(title, 88)) if pencilled else one_line(title)


def _minutes(span: timedelta) -> str:
    return span_words(round(span.total_seconds() / 60))


def _moment(at: datetime, zone: ZoneInfo) -> str:
    local = at.astimezone(zone)
    return f"{weekday_short(local.weekday())} {local:%H:%M}"


def _day(at: datetime, zone: ZoneInfo) -> date:
    return at.astimezone(zone).date()


def _days(begins_at: datetime, ends_at: datetime, zone: ZoneInfo) -> DateSpan:
    return DateSpan.of_days(_day(begins_at, zone), _day(ends_at - _LAST_MOMENT, zone))
