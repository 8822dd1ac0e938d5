"""Bay days: what is planned, pencilled or inked, with its hours, and the forms that change it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from fleetcare.bayplan.lead_reason import why_told
from fleetcare.bayplan.plan_changes import LastPlan
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.bay_visit import BayVisit, StretchKind, VisitState, stand_of_visit
from fleetcare.fleet.people import Garage, Person
from fleetcare.language import tr
from fleetcare.page.cards.bay_undo import BayUndo
from fleetcare.page.cards.frame import BAY_URL, Frame, full_frame, vehicle_url
from fleetcare.page.cards.nothing_planned import OpensFirst, nothing_planned
from fleetcare.page.cards.plan_changes import ChangesTold, changes_told
from fleetcare.page.cards.sentences import service_title
from fleetcare.page.drawings.clock_strip import ClockStrip, Spell, clock_strip
from fleetcare.wording import (
    count_words,
    counted_words,
    day_strip,
    day_words,
    joined,
    sentence,
    span_words,
    weekday_short,
    weekday_words,
)

VEHICLE_FIELD, SERVICE_FIELD, DAY_FIELD, TIME_FIELD = "vehicle", "service", "day", "time"
TAKES_FIELD, HANDS_FIELD, WHY_FIELD, STATE_FIELD = "takes", "hands", "why", "state"
NEW_ANCHOR = "#new"
STRIP_WIDTH = 500
USUAL_TIME = "09:00"


@dataclass(frozen=True, slots=True)
class VisitRow:
    """One visit. url: where its forms are sent, with `/ink` and so on behind it; empty if the reader may not plan it.

    day: large. told: time and state. length: how long, and until when it is out of use. day_again, time_again: what
    stands in the fields for moving it. problem: what is wrong with them. stand: goes with its forms.
    """

    anchor: str
    day: str
    told: str
    is_inked: bool
    mark: str
    name: str
    services: tuple[str, ...]
    length: str
    strip: ClockStrip | None
    hands: str
    why: str
    notices: tuple[str, ...]
    url: str
    day_again: str
    time_again: str
    problem: str
    stand: str
    sheet: str = ""
    """Number of its job sheet, empty if none was made yet."""

    has_begun: bool = False

    @property
    def why_page(self) -> str:
        """Where it is weighed against other days; nothing once it has begun."""
        return "" if self.has_begun else f"{BAY_URL}/{self.mark}/{self.anchor.rpartition('-')[2]}"

    @property
    def sheet_page(self) -> str:
        """Its job sheet."""
        return f"/work/{int(self.sheet)}"

    @property
    def vehicle(self) -> str:
        """The vehicle's page."""
        return vehicle_url(self.mark)


@dataclass(frozen=True, slots=True)
class ServiceTick:
    """A service that can be ticked: its key within the vehicle, what it is called, and its dates."""

    value: str
    text: str
    told: str
    is_on: bool


@dataclass(frozen=True, slots=True)
class NewVisit:
    """The form for a new visit. vehicles: mark and words of each one may plan for. The rest is for the chosen one."""

    vehicles: tuple[tuple[str, str], ...]
    chosen: str
    services: tuple[ServiceTick, ...]
    day: str
    time: str
    takes: str
    people: tuple[tuple[str, str], ...]
    hands: str
    why: str
    problem: str
    problem_field: str


@dataclass(frozen=True, slots=True)
class BayDaysCard:
    """The whole page. seal: goes with every form, so that only this page can send it."""

    frame: Frame
    seal: str
    lead: str
    visits: tuple[VisitRow, ...]
    new: NewVisit | None
    may_propose: bool = False
    has_workshop: bool = False
    """The page of the workshop is open to the reader."""
    """The reader may have a plan for the whole garage worked out."""
    better: str = ""
    """Said if another plan is there because something has changed."""
    changes: ChangesTold | None = None
    """What the plan that was taken last has changed."""
    problem: str = ""
    """Why a form for a visit was not taken, where nothing was typed that could be wrong."""
    undo: BayUndo | None = None
    """What was just done with a visit, and how it is taken back."""


@dataclass(frozen=True, slots=True)
class TriedVisit:
    """A form that could not be taken. where: anchor of the visit, or `NEW_ANCHOR`, or empty for none of them, then it
    is said on top. typed: what stood in its fields."""

    where: str
    problem: str
    field: str
    typed: Mapping[str, str]
    services: tuple[str, ...] = ()


def visit_anchor(mark: str, number: int) -> str:
    """Where a visit stands on the page: `#AN-2`."""
    return f"#{mark}-{number}"


def bay_days_card(
    *,
    garage: Garage,
    reader: Person | None,
    today: date,
    seal: str,
    visits: Sequence[BayVisit],
    notices: Mapping[tuple[str, int], tuple[str, ...]],
    outlooks: Mapping[str, VehicleOutlook],
    people: Mapping[str, str],
    sheets: Mapping[tuple[str, int], int],
    plannable: Collection[str],
    mechanics: Sequence[Person],
    choices: Sequence[tuple[str, str]],
    chosen: VehicleOutlook | None,
    can_enter: bool,
    may_propose: bool = False,
    better: int = 0,
    last_plan: LastPlan | None = None,
    names: Mapping[str, str] | None = None,
    tried: TriedVisit | None = None,
    undo: BayUndo | None = None,
    first_window: OpensFirst | None = None,
) -> BayDaysCard:
    """The page. visits: those that are not over, by begin. outlooks: of their vehicles, by mark.

    people: names by key. sheets: numbers of job sheets by mark and number of the visit. plannable: marks the reader may
    plan for. choices: mark and name of each of them. chosen: the one a new visit is for, None if none is chosen yet.
    last_plan: what was taken last; names: of all vehicles by mark, to tell of it. tried: a form that could not be
    taken, then the page says why. undo: what takes back what was just done.
    first_window: what comes first, told if nothing is planned.
    """
    zone = ZoneInfo(garage.zone)
    told_how = (
        tr("“Pencil the plan” looks for the days that cost least; or put a visit down yourself.")
        if may_propose
        else tr("Put a visit down below.")
        if choices
        else ""
    )
    return BayDaysCard(
        frame=full_frame(tr("Bay days"), garage=garage, reader=reader, today=today, here=BAY_URL, can_enter=can_enter),
        seal=seal,
        lead=_lead(visits, bool(plannable)) if visits else nothing_planned(first_window, today, told_how),
        visits=tuple(
            _row(
                visit,
                outlooks.get(visit.mark),
                zone,
                today,
                hands=people.get(visit.mechanic, ""),
                notices=notices.get(visit.key, ()),
                may_plan=visit.mark in plannable,
                sheet=sheets.get(visit.key, 0),
                tried=tried,
            )
            for visit in visits
        ),
        new=_new(choices, chosen, mechanics, today, tried) if choices else None,
        may_propose=may_propose,
        has_workshop=reader is not None,
        better=_better(better) if may_propose else "",
        changes=changes_told(last_plan, names=names or {}, people=people, zone=zone, today=today),
        problem=tried.problem if tried is not None and not tried.where else "",
        undo=undo,
    )


def _better(changes: int) -> str:
    if not changes:
        return ""
    many = counted_words(changes, "visit", "visits")
    return tr(
        "Something has changed since: by the prices another plan is better, with {many} new, elsewhere or gone.",
        many=many,
    )


def _lead(visits: Sequence[BayVisit], may_plan: bool) -> str:
    how = tr(" Ink a day once the people it needs have said yes.") if may_plan else ""
    inked = sum(visit.state is VisitState.INKED for visit in visits)
    states = ((inked, tr("inked")), (len(visits) - inked, tr("pencilled")))
    parts = [f"{count_words(count)} {word}" for count, word in states if count]
    hands = _minutes(sum(visit.hands_on.total_seconds() for visit in visits))
    many = sentence(counted_words(len(visits), "visit", "visits"))
    return tr(
        "{many}: {parts}, {span} hands-on in all.{how}", many=many, parts=joined(parts), span=span_words(hands), how=how
    )


def _row(
    visit: BayVisit,
    outlook: VehicleOutlook | None,
    zone: ZoneInfo,
    today: date,
    *,
    hands: str,
    notices: tuple[str, ...],
    may_plan: bool,
    sheet: int,
    tried: TriedVisit | None,
) -> VisitRow:
    begins = visit.begins_at.astimezone(zone)
    inked = visit.state is VisitState.INKED
    titles = {line.key: service_title(outlook, line) for line in outlook.lines} if outlook else {}
    anchor = visit_anchor(visit.mark, visit.number)
    again = tried if tried is not None and tried.where == anchor else None
    return VisitRow(
        anchor=anchor.removeprefix("#"),
        day=weekday_words(begins.date(), today),
        told=f"{begins:%H:%M}, {tr('inked') if inked else tr('pencilled')}",
        is_inked=inked,
        mark=visit.mark,
        name=outlook.vehicle.name if outlook else visit.mark,
        services=tuple(titles.get(line, line.service) for line in visit.lines),
        length=_length(visit, zone, begins.date()),
        strip=_strip(visit, zone) if len(visit.stretches) > 1 else None,
        hands=hands,
        why=why_told(visit),
        notices=notices,
        url=f"{BAY_URL}/{visit.mark}/{visit.number}" if may_plan else "",
        day_again=again.typed.get(DAY_FIELD, "") if again else begins.date().isoformat(),
        time_again=again.typed.get(TIME_FIELD, "") if again else f"{begins:%H:%M}",
        problem=again.problem if again else "",
        stand=stand_of_visit(visit),
        sheet=f"{sheet:04d}" if sheet else "",
        has_begun=begins.date() <= today,
    )


def _length(visit: BayVisit, zone: ZoneInfo, first: date) -> str:
    hands = round(visit.hands_on.total_seconds() / 60)
    whole = round((visit.free_at - visit.begins_at).total_seconds() / 60)
    stands = tr(", stands {span}", span=span_words(whole - hands)) if whole > hands else ""
    return tr(
        "hands-on {span}{stands}. Out of use until {moment}.",
        span=span_words(hands),
        stands=stands,
        moment=_moment(visit.free_at, zone, first),
    )


def _strip(visit: BayVisit, zone: ZoneInfo) -> ClockStrip | None:
    spells = [
        Spell(each.begins_at.astimezone(zone), each.ends_at.astimezone(zone), each.kind is StretchKind.STANDING)
        for each in visit.stretches
    ]
    return clock_strip(spells, STRIP_WIDTH)


def _minutes(seconds: float) -> int:
    return round(seconds / 60)


def _moment(at: datetime, zone: ZoneInfo, first: date) -> str:
    """`11:20` on the first day, `Sun 13:40` on another."""
    local = at.astimezone(zone)
    return f"{local:%H:%M}" if local.date() == first else f"{weekday_short(local.weekday())} {local:%H:%M}"


def _new(
    choices: Sequence[tuple[str, str]],
    chosen: VehicleOutlook | None,
    mechanics: Sequence[Person],
    today: date,
    tried: TriedVisit | None,
) -> NewVisit:
    again = tried if tried is not None and tried.where == NEW_ANCHOR else None
    typed: Mapping[str, str] = again.typed if again else {}
    ticks: tuple[ServiceTick, ...] = ()
    if chosen is not None:
        in_order = sorted(chosen.lines, key=lambda line: line.window.likely if line.window else date.max)
        ticks = tuple(
            ServiceTick(
                value=f"{line.key.component}/{line.key.service}",
                text=service_title(chosen, line),
                told=tr(
                    "likely {day}, late {day2}",
                    day=day_words(line.window.likely, today),
                    day2=day_strip(line.window.late, today),
                )
                if line.window
                else tr("no date"),
                is_on=again is not None and f"{line.key.component}/{line.key.service}" in again.services,
            )
            for line in in_order
        )
    return NewVisit(
        vehicles=tuple(choices),
        chosen=chosen.vehicle.mark if chosen else "",
        services=ticks,
        day=typed.get(DAY_FIELD, ""),
        time=typed.get(TIME_FIELD, USUAL_TIME),
        takes=typed.get(TAKES_FIELD, ""),
        people=tuple((person.key, person.name) for person in mechanics),
        hands=typed.get(HANDS_FIELD, ""),
        why=typed.get(WHY_FIELD, ""),
        problem=again.problem if again else "",
        problem_field=again.field if again else "",
    )
