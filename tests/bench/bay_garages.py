"""Invented garages for the planner: households and small workshops of any size, drawn from a seed.

Fifteen lines of work with intervals and prices as a keeper would set them (`config/workshop.toml` has the same figures
with their status); every name is invented.
"""

from __future__ import annotations

import random
from dataclasses import dataclass

from fleetcare.bayplan.day_costs import due_points
from fleetcare.bayplan.problem import (
    After,
    BayProblem,
    BayService,
    Depot,
    Hand,
    PlanVehicle,
    SetUp,
    Shift,
    Stage,
    Wait,
)

SETUPS = (
    SetUp("wheels off", 35, 900),
    SetUp("under-tray off", 15, 400),
    SetUp("on stands", 20, 500),
)


@dataclass(frozen=True, slots=True)
class Line:
    """One line of work. early: cents a day thrown away; late, overdue: cents before the weight; stages: minutes."""

    name: str
    interval: int
    setups: tuple[str, ...]
    stages: tuple[int, ...]
    early: int
    late: int
    overdue: int
    waits: tuple[tuple[int, int], ...] = ()
    is_legal: bool = False


LINES = (
    Line("engine oil", 240, ("under-tray off",), (40,), 26, 40, 2000),
    Line("tyre rotation", 210, ("wheels off",), (20,), 8, 12, 600),
    Line("brake fluid", 700, ("wheels off",), (45,), 9, 60, 3000),
    Line("brake look", 365, ("wheels off",), (30,), 10, 50, 2500),
    Line("coolant", 1100, ("under-tray off",), (60,), 8, 30, 2000),
    Line("gearbox oil", 900, ("under-tray off",), (50,), 12, 45, 3000),
    Line("axle oil", 800, ("on stands",), (45,), 11, 110, 6000),
    Line("hub bearings", 1000, ("wheels off",), (110,), 20, 200, 9000),
    Line("battery test", 365, (), (15,), 4, 10, 400),
    Line("cabin filter", 420, (), (20,), 6, 5, 400),
    Line("timing belt", 1500, ("under-tray off",), (190,), 38, 300, 20000),
    Line("driveline grease", 180, ("on stands",), (30,), 10, 35, 1500),
    Line("underbody wax", 700, ("under-tray off",), (60, 40), 14, 25, 1500, ((720, 2880),)),
    Line("seam sealing", 900, (), (45, 25), 9, 20, 1200, ((120, 1500),)),
    Line("yearly inspection", 365, (), (60,), 12, 900, 40000, is_legal=True),
)


def garage(
    *,
    name: str,
    vehicles: int,
    days: int,
    seed: int,
    is_household: bool,
    depots: int = 1,
    weight: int = 4,
) -> BayProblem:
    """A garage with vehicles spread over its depots. weight: on everything that is lateness."""
    rng = random.Random(f"{name}-{seed}")
    made_depots, people, shifts, made_vehicles, services = [], [], [], [], []
    for number in range(depots):
        depot = f"D{number}"
        mine = [v for v in range(vehicles) if v % depots == number]
        hands = 1 if is_household else max(1, round(len(mine) / 25))
        made_depots.append(Depot(depot, hands if is_household else hands + 1, 1500 if is_household else 600))
        names = [f"{depot}p{at}" for at in range(hands)]
        people += [Hand(each, depot, ("inspect",) if at == 0 else ()) for at, each in enumerate(names)]
        for day in range(days):
            shifts += _shifts_of(day, depot, tuple(names), is_household=is_household)
        for v in mine:
            vehicle = f"{depot}v{v:03d}"
            away = tuple(
                (begins * 1440 + 360, (begins + rng.randint(1, 4)) * 1440 + 1200)
                for begins in sorted(rng.sample(range(days), max(1, days // 45)))
            )
            made_vehicles.append(
                PlanVehicle(
                    vehicle,
                    depot,
                    rng.randint(10, 20),
                    rng.randint(600, 1000) if is_household else rng.randint(1200, 2500),
                    rng.randint(40, 120) if is_household else rng.randint(150, 500),
                    away,
                )
            )
            services += _services_of(rng, vehicle, days, weight)
    return BayProblem(
        name=name,
        days=days,
        max_visit_min=3600,
        setups=SETUPS,
        depots=tuple(made_depots),
        people=tuple(people),
        shifts=tuple(shifts),
        vehicles=tuple(made_vehicles),
        services=tuple(services),
    )


def _shifts_of(day: int, depot: str, names: tuple[str, ...], *, is_household: bool) -> list[Shift]:
    weekday = day % 7
    if is_household:
        spans = {5: ((540, 780, 0), (840, 1080, 0)), 6: ((600, 780, 8),)}.get(weekday, ())
    else:
        spans = {1: ((480, 720, 0), (780, 1020, 0)), 3: ((480, 720, 0), (780, 1020, 0)), 5: ((540, 780, 10),)}.get(
            weekday, ()
        )
    return [
        Shift(f"{depot} day {day:03d} {start // 60:02d}h", depot, day, start, end, names, premium)
        for start, end, premium in spans
    ]


def _services_of(rng: random.Random, vehicle: str, days: int, weight: int) -> list[BayService]:
    found: list[BayService] = []
    for line in LINES:
        if rng.random() < 0.25:
            continue
        interval = round(line.interval * rng.uniform(0.7, 1.3))
        # Some lines are behind on day 0, as in every garage; a date set by law is not among them.
        is_behind = rng.random() < 0.08 and not line.is_legal
        likely = -rng.randint(3, 20) if is_behind else rng.randint(3, interval)
        before = ""
        occurrence = 0
        while likely < days + 30 and occurrence < 2:
            spread = max(2, round((max(likely, 10) + 40 * occurrence) * rng.uniform(0.12, 0.3)))
            skip = 0.6 * 2500 + (14 * line.late * weight if likely < days else 0)
            is_required = likely + spread < days
            name = f"{vehicle} {line.name}" + (" again" if occurrence else "")
            due = (
                ((likely, 1_000_000),)
                if line.is_legal
                else due_points(likely - spread, likely, likely + round(spread * rng.uniform(1.0, 1.5)))
            )
            found.append(
                BayService(
                    name=name,
                    vehicle=vehicle,
                    stages=tuple(Stage(each, "inspect" if line.is_legal else "") for each in line.stages),
                    due=due,
                    waits=tuple(Wait(*each) for each in line.waits),
                    setups=line.setups,
                    early_cents_per_day=line.early,
                    late_cents_per_day=line.late * weight,
                    overdue_cents=line.overdue * weight,
                    not_before=0,
                    not_after=days - 1,
                    is_required=is_required,
                    skip_cents=0 if is_required else round(skip),
                    after=(After(before, interval // 2),) if before else (),
                )
            )
            before = name
            occurrence += 1
            likely += interval
    return found
