"""Work that was done sooner leaves the visits that were planned for it. A step of recording work, not an action."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from fleetcare.actions.ports import WriteUnit
from fleetcare.fleet.bay_visit import VisitState
from fleetcare.fleet.component import LineKey


def leave_visits(unit: WriteUnit, line: LineKey, *, done_on: date, zone: ZoneInfo, now: datetime) -> None:
    """Takes a service out of the visits that begin after the day it was done; a visit without services is rubbed out.

    A visit that has begun stays: it is the one the work was done in.
    """
    for visit in unit.bay_visits((line.mark,)):
        is_ahead = visit.begins_at > now and visit.begins_at.astimezone(zone).date() > done_on
        if not (visit.takes_place and is_ahead and line in visit.lines):
            continue
        left = tuple(each for each in visit.lines if each != line)
        after = replace(visit, lines=left) if left else replace(visit, state=VisitState.RUBBED_OUT)
        unit.put_bay_visit(after)
        what = "done sooner" if left else "done sooner, so rubbed out"
        unit.log_change(line.mark, f"visit {visit.number} to the bay", f"{line.component}/{line.service}", what)
