"""What the plan of bay days rests on as it is now, as notes that later ones can be held to: which vehicles were hit."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from fleetcare.actions.bay_ground import Workplace, taken_of
from fleetcare.actions.gather import garage_day, garage_of
from fleetcare.actions.ports import ReadView
from fleetcare.bayplan.broken_visits import broken_visits
from fleetcare.bayplan.open_shifts import Taken
from fleetcare.bayplan.what_is_hit import LineNote, PlanNotes, VehicleNote
from fleetcare.due.outlook import DueWindow
from fleetcare.fleet.bay_visit import BayVisit, StretchKind, VisitState
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.people import Role


def plan_notes(view: ReadView, workplace: Workplace, *, now: datetime) -> PlanNotes:
    """The notes for the whole garage, from what is stored: no date is worked out anew."""
    garage = garage_of(view)
    zone, today = ZoneInfo(garage.zone), garage_day(garage, now)
    prices = workplace.prices
    last = today + timedelta(days=prices.horizon_days)
    fleet = {
        each.mark: each for each in view.bare_vehicles() if each.out_of_fleet_on is None or each.out_of_fleet_on > today
    }
    visits = view.bay_visits()
    inked = tuple(each for each in visits if each.state is VisitState.INKED and each.free_at > now)
    pencilled = tuple(
        each for each in visits if each.state is VisitState.PENCILLED and each.begins_at > now and each.mark in fleet
    )
    taken = taken_of(view, fleet, visits, zone, now)
    broken: dict[str, set[BayVisit]] = {}
    for visit in broken_visits(
        pencilled,
        taken=taken,
        settled=inked,
        hours=workplace.hours,
        mechanics=[person.key for person in view.people() if Role.MECHANIC in person.roles],
        closed=tuple(workplace.days_off(today, last)),
        bays=prices.bays,
        today=today,
        zone=zone,
        days=prices.horizon_days,
    ):
        broken.setdefault(visit.mark, set()).add(visit)
    placed = {line for each in (*inked, *pencilled) for line in each.lines}
    lines: dict[str, dict[LineKey, LineNote]] = {mark: {} for mark in fleet}
    windows = view.windows()
    for line in windows.keys() | placed:
        if line.mark in lines:
            state = windows.get(line)
            lines[line.mark][line] = _line_note(state if isinstance(state, DueWindow) else None, last, line in placed)
    away: dict[str, set[Taken]] = {}
    for spell in taken:
        if spell.who in fleet and spell.ends_at > now:
            away.setdefault(spell.who, set()).add(spell)
    vehicles = {
        mark: VehicleNote(own, frozenset(away.get(mark, ())), frozenset(broken.get(mark, ())))
        for mark, own in lines.items()
    }
    room = {each for each in taken if each.who not in fleet and each.ends_at > now}
    room |= {
        Taken(visit.mechanic, each.begins_at, each.ends_at, visit.key)
        for visit in pencilled
        for each in visit.stretches
        if each.kind is StretchKind.HANDS_ON
    }
    return PlanNotes(vehicles, frozenset(room))


def _line_note(window: DueWindow | None, last: date, has_visit: bool) -> LineNote:
    if window is None:
        return LineNote(None, is_in_time=False, has_visit=has_visit)
    return LineNote((window.early, window.likely, window.late), window.likely <= last, has_visit)
