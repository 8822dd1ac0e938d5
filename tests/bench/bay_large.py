"""One change in a large garage: `python -m tests.bench.bay_large [VEHICLES ...]`.

The vehicles are those of the invented garage, over and over, on SQLite; a mechanic and a bay for every hundred of them,
from Monday to Friday. Each vehicle with something due has a visit, laid out one after another by what is late first:
no good plan, but one that stands. Then, for one vehicle: it is booked away over its visit, and its dates move. Told are
CPU seconds of noting what the plan rests on, of finding what was hit, and of planning that anew; beside them, the same
for a morning on which one vehicle in a hundred was hit.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import TypeVar
from zoneinfo import ZoneInfo

from fleetcare.actions.bay_ground import Workplace
from fleetcare.actions.gather import garage_of
from fleetcare.actions.plan_notes import plan_notes
from fleetcare.actions.ports import Change
from fleetcare.actions.proposal import Proposal
from fleetcare.actions.replan_bays import replan_bays
from fleetcare.assemble import Parts, assemble
from fleetcare.bayplan.port import Answer, Limits
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.standing import Standing
from fleetcare.bayplan.what_is_hit import Hit, PlanNotes, hit_by
from fleetcare.bayplan.workshop import OpenHours
from fleetcare.chance import RandomKeys
from fleetcare.clock import MachineClock
from fleetcare.due.outlook import DueWindow
from fleetcare.fleet.bay_visit import BayVisit, Stretch, StretchKind, VisitState
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.people import Role
from fleetcare.planner import CALM_STEPS
from fleetcare.quantities import DateSpan
from fleetcare.solvers.pick import solver_for
from tests.bench.bench_pages import many_vehicles
from tests.faults.reading_server import demo_server

T = TypeVar("T")
SIZES = (200, 2000)
A_MECHANIC = 100
"""Vehicles to one mechanic and one bay."""
VISIT = timedelta(hours=3)
VISITS_A_DAY = 2


def main() -> None:
    """Prints a table for each size."""
    for vehicles in [int(each) for each in sys.argv[1:]] or SIZES:
        with tempfile.TemporaryDirectory() as folder:
            server = demo_server(Path(folder) / "home")
            many_vehicles(server, vehicles)
            parts = assemble(server.home, {}, clock=MachineClock(), keys=RandomKeys())
            try:
                _measured(parts, vehicles)
            finally:
                parts.close()


def _measured(parts: Parts, vehicles: int) -> None:
    now = parts.clock.now()
    hands = max(1, vehicles // A_MECHANIC)
    place = _workplace(parts, hands)
    visits = _laid_out(parts, place, hands, now)
    print(f"{vehicles} vehicles, {hands} mechanics, {len(visits)} visits pencilled")
    was = _told("notes of all of it", lambda: _notes(parts, place, now))
    visit = visits[len(visits) // 3]
    on = visit.begins_at.astimezone(_zone(parts)).date()
    with parts.store.write(Change("bench", "a booking", now)) as unit:
        unit.put_booking(Booking("away", "Away", DateSpan.of_days(on, on + timedelta(days=1)), (visit.mark,)))
    later = _notes(parts, place, now)
    hit = _told("what was hit", lambda: hit_by(was, later, at=now, today=now.date()))
    print(f"  {len(hit)} hit: {', '.join(f'{mark}: {why.value}' for mark, why in list(hit.items())[:3])}")
    _told("a visit that cannot be, planned anew", lambda: _planned(parts, place, hit, now))
    _told("the same again, all kept", lambda: _planned(parts, place, hit, now))
    other = {visits[len(visits) // 2].mark: Hit.DATES}
    _told("a vehicle with other dates, planned anew", lambda: _planned(parts, place, other, now))
    marks = [each.mark for each in visits[:: max(1, len(visits) // max(1, vehicles // 100))]]
    many = dict.fromkeys(marks, Hit.DATES)
    _told(f"{len(many)} vehicles, planned anew", lambda: _planned(parts, place, many, now))
    print(f"  highest memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB", flush=True)


def _workplace(parts: Parts, hands: int) -> Workplace:
    place = parts.workplace
    now = parts.clock.now()
    with parts.store.write(Change("bench", "mechanics", now)) as unit:
        like = next(each for each in unit.people() if Role.MECHANIC in each.roles)
        for person in unit.people():
            roles = tuple(role for role in person.roles if role is not Role.MECHANIC)
            unit.put_person(replace(person, roles=roles))
        for number in range(hands):
            key = f"hand{number:03}"
            unit.put_person(replace(like, key=key, name=f"Hand {number}", mail="", roles=(Role.MECHANIC,)))
    hours = (OpenHours((0, 1, 2, 3, 4), 8 * 60, 16 * 60),)
    prices = replace(place.prices, bays=hands, shift_share=1.0)
    return Workplace(prices, hours, place.jobs)


def _laid_out(parts: Parts, place: Workplace, hands: int, now: datetime) -> list[BayVisit]:
    """Each copied vehicle with something that is likely in the time that is planned, one visit after another."""
    zone = _zone(parts)
    today = now.astimezone(zone).date()
    last = today + timedelta(days=place.prices.horizon_days)
    with parts.store.write(Change("bench", "visits", now)) as unit:
        due: dict[str, list[tuple[DueWindow, LineKey]]] = {}
        for line, state in unit.windows().items():
            if isinstance(state, DueWindow) and state.likely <= last and line.mark.startswith("V"):
                due.setdefault(line.mark, []).append((state, line))
        for visit in unit.bay_visits():
            unit.put_bay_visit(replace(visit, state=VisitState.RUBBED_OUT))
        days = [
            today + timedelta(days=day)
            for day in range(1, place.prices.horizon_days)
            if (today + timedelta(days=day)).weekday() < 5
        ]
        slots = [(day, part, hand) for day in days for part in range(VISITS_A_DAY) for hand in range(hands)]
        order = sorted(due, key=lambda mark: (min(state.late for state, _ in due[mark]), mark))
        found = []
        for mark, (day, part, hand) in zip(order, slots, strict=False):
            begins = datetime(day.year, day.month, day.day, 8, tzinfo=zone) + part * VISIT
            begins = begins.astimezone(now.tzinfo)
            found.append(
                BayVisit(
                    mark,
                    1,
                    tuple(line for _, line in sorted(due[mark], key=lambda pair: (pair[0].likely, pair[1]))[:2]),
                    (Stretch(StretchKind.HANDS_ON, begins, begins + VISIT),),
                    mechanic=f"hand{hand:03}",
                )
            )
        for visit in found:
            unit.put_bay_visit(visit)
    return found


def _zone(parts: Parts) -> ZoneInfo:
    with parts.store.read() as view:
        return ZoneInfo(garage_of(view).zone)


def _notes(parts: Parts, place: Workplace, now: datetime) -> PlanNotes:
    with parts.store.read() as view:
        return plan_notes(view, place, now=now)


def _planned(parts: Parts, place: Workplace, hit: dict[str, Hit], now: datetime) -> Proposal | None:
    solved = [0.0]

    def solve(problem: BayProblem, standing: Standing) -> Answer:
        began = time.process_time()
        answer = solver_for(problem, processes=1).solve(problem, Limits(CALM_STEPS), standing=standing)
        solved[0] += time.process_time() - began
        return answer

    found = replan_bays(parts.store, parts.rules, place, solve, now=now, hit=hit, kept=parts.kept_outlooks)
    changes = 0 if found is None else len(found.changes)
    print(f"  {changes} visits new, elsewhere or gone; {solved[0]:.2f} CPU s of it in the child", flush=True)
    return found


def _told(what: str, work: Callable[[], T]) -> T:
    began, clock = time.process_time(), time.perf_counter()
    found = work()
    print(f"  {what:45} {time.process_time() - began:7.2f} CPU s {time.perf_counter() - clock:7.2f} s", flush=True)
    return found


if __name__ == "__main__":
    main()
