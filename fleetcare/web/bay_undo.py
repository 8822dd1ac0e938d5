"""What was just done with a visit stands in the address that leads back to the page, which then offers to undo it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from fastapi.responses import RedirectResponse, Response

from fleetcare.actions.gather import garage_day, garage_of
from fleetcare.actions.plan_visits import Planned
from fleetcare.assemble import Parts
from fleetcare.fleet.bay_visit import VisitState
from fleetcare.fleet.naming import may_plan
from fleetcare.fleet.people import Person
from fleetcare.page.cards.bay_days import DAY_FIELD, TIME_FIELD, visit_anchor
from fleetcare.page.cards.bay_undo import MOVED_FIELD, OUT_FIELD, WAS_FIELD, BayUndo, moved_back, put_back
from fleetcare.page.cards.frame import BAY_URL

_MOMENT = "%Y-%m-%dT%H:%M"


def back_after_rub_out(done: Planned) -> Response:
    """To the page, which offers to put the visit back as it was."""
    was = done.before.state if done.before is not None and done.before.takes_place else VisitState.PENCILLED
    return _back({OUT_FIELD: _named(done), WAS_FIELD: was.value}, "")


def back_after_move(moved: Planned) -> Response:
    """To the visit on the page, which offers to move it back."""
    anchor = visit_anchor(moved.visit.mark, moved.visit.number)
    if moved.before is None or moved.before.begins_at == moved.visit.begins_at:
        return RedirectResponse(f"{BAY_URL}{anchor}", status_code=303)
    was = moved.before.begins_at.astimezone(moved.zone)
    return _back({MOVED_FIELD: _named(moved), WAS_FIELD: was.strftime(_MOMENT)}, anchor)


def undo_of(parts: Parts, reader: Person | None, asked: Mapping[str, str]) -> BayUndo | None:
    """What takes back that of which the address tells; None if it tells of nothing, of what is no longer so, or of what
    the reader may not plan."""
    mark, _, number = (asked.get(OUT_FIELD) or asked.get(MOVED_FIELD) or "")[:120].rpartition("-")
    if reader is None or not mark:
        return None
    now = parts.clock.now()
    with parts.store.read() as view:
        garage = garage_of(view)
        vehicle = next((each for each in view.vehicles((mark,)) if may_plan(reader, each, garage)), None)
        visit = next((each for each in view.bay_visits((mark,)) if str(each.number) == number), None)
    if vehicle is None or visit is None:
        return None
    zone, today, was = ZoneInfo(garage.zone), garage_day(garage, now), asked.get(WAS_FIELD, "")
    if OUT_FIELD in asked:
        is_out = not visit.takes_place and visit.free_at > now and was in (VisitState.INKED, VisitState.PENCILLED)
        return put_back(visit, vehicle.name, VisitState(was), zone, today) if is_out else None
    try:
        then = datetime.strptime(was, _MOMENT).replace(tzinfo=zone)
    except ValueError:
        return None
    if not visit.takes_place or then == visit.begins_at:
        return None
    return moved_back(visit, vehicle.name, then, zone, today, day_field=DAY_FIELD, time_field=TIME_FIELD)


def _named(done: Planned) -> str:
    return f"{done.visit.mark}-{done.visit.number}"


def _back(told: Mapping[str, str], anchor: str) -> Response:
    return RedirectResponse(f"{BAY_URL}?{urlencode(told)}{anchor}", status_code=303)
