"""A vehicle leaves the fleet, or comes back because that was a mistake. Its history stays and can be read for ever."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from fleetcare.actions.gather import Rules, garage_day, garage_of, vehicle_in
from fleetcare.actions.ports import Change, Purpose, Store, WriteUnit
from fleetcare.actions.settle import Settled, settle
from fleetcare.errors import BadInput, BadStep
from fleetcare.fleet.bay_visit import VisitState
from fleetcare.fleet.entering import refuse_odd_days, refuse_shelf
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import saying
from fleetcare.meter.reading import ReadingState

SOLD_FIELD = "on"
"""What a form, the command line and an error call the day."""
GONE = "out of the fleet"
"""What the log calls it."""


@dataclass(frozen=True, slots=True)
class Left:
    """How the vehicle stands now. known: it stood here so before. visits: bay days rubbed out. links: that ended."""

    vehicle: Vehicle
    known: bool
    visits: int
    links: int
    settled: Settled


def sell_vehicle(
    store: Store, rules: Rules, *, vehicle: str, on: date | None, now: datetime, who: str, base_url: str
) -> Left:
    """Says that it is gone from that day on (today if None): no dates, letters and calendar entries from then.

    Its bay days ahead are rubbed out, and stickers and reading links end, which may have gone along with it. Said twice
    it counts once. Raises NotFound, BadInput (a day to come, before its service began, or before its last reading) and
    BadStep (it stands on an open sheet).
    """
    with store.write(Change(who, f"{vehicle} sold or given away", now)) as unit:
        garage = garage_of(unit)
        today = garage_day(garage, now)
        found = vehicle_in(unit, vehicle)
        refuse_shelf(found.mark)
        day = on or today
        if found.out_of_fleet_on == day:
            return Left(found, True, 0, 0, settle(unit, rules, now=now, base_url=base_url, marks=(found.mark,)))
        gone = replace(found, out_of_fleet_on=day)
        _refuse_what_cannot_be(unit, gone, day, today)
        unit.put_vehicle(gone)
        was = "" if found.out_of_fleet_on is None else found.out_of_fleet_on.isoformat()
        unit.log_change(gone.mark, GONE, was, day.isoformat())
        visits = _rub_out(unit, gone, ZoneInfo(garage.zone), now)
        links = _end_links(unit, gone, now)
        return Left(gone, False, visits, links, settle(unit, rules, now=now, base_url=base_url, marks=(gone.mark,)))


def take_back_sale(store: Store, rules: Rules, *, vehicle: str, now: datetime, who: str, base_url: str) -> Left:
    """It is in the fleet after all; its dates, letters and entries go on. Bay days and links that ended stay ended.

    Raises NotFound, and BadInput if it never left.
    """
    with store.write(Change(who, f"{vehicle} is back", now)) as unit:
        garage_of(unit)
        found = vehicle_in(unit, vehicle)
        refuse_shelf(found.mark)
        if found.out_of_fleet_on is None:
            raise BadInput(
                saying("{name} is in the fleet.", name=found.name),
                remedy="There is nothing to take back.",
                field=SOLD_FIELD,
            )
        back = replace(found, out_of_fleet_on=None)
        unit.put_vehicle(back)
        unit.log_change(back.mark, GONE, found.out_of_fleet_on.isoformat(), "")
        return Left(back, False, 0, 0, settle(unit, rules, now=now, base_url=base_url, marks=(back.mark,)))


def _refuse_what_cannot_be(unit: WriteUnit, gone: Vehicle, day: date, today: date) -> None:
    if day > today:
        raise BadInput("That day is still to come.", remedy="Say it once it is gone.", field=SOLD_FIELD)
    refuse_odd_days(gone, today)
    last = max((r.on for r in unit.readings((gone.mark,)) if r.state is ReadingState.USED), default=None)
    if last is not None and last > day:
        raise BadInput(
            saying("{name} was still read on {last}.", name=gone.name, last=last),
            remedy=saying("Give a day from {last} on.", last=last),
            field=SOLD_FIELD,
        )
    for order in unit.orders((gone.mark,)):
        if order.state.is_open:
            raise BadStep(
                saying("{name} stands on sheet {sheet}.", name=gone.name, sheet=order.sheet),
                remedy="Hand that one in first, or give it up.",
                field=SOLD_FIELD,
            )


def _rub_out(unit: WriteUnit, gone: Vehicle, zone: ZoneInfo, now: datetime) -> int:
    ahead = [visit for visit in unit.bay_visits((gone.mark,)) if visit.takes_place and visit.free_at > now]
    for visit in ahead:
        unit.put_bay_visit(replace(visit, state=VisitState.RUBBED_OUT))
        begins = f"{visit.begins_at.astimezone(zone):%Y-%m-%d %H:%M}"
        unit.log_change(gone.mark, "visit to the bay", f"{visit.state.value}, {begins}", VisitState.RUBBED_OUT.value)
    return len(ahead)


def _end_links(unit: WriteUnit, gone: Vehicle, now: datetime) -> int:
    held = [key for key in unit.keys(Purpose.ODOMETER) if key.mark == gone.mark and key.revoked_at is None]
    for key in held:
        unit.use_up_key(key.hash, now)
    if held:
        unit.log_change(gone.mark, "link", f"{len(held)} stickers and reading links", "ended")
    return len(held)
