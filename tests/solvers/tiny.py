"""Tiny problems drawn from a seed: one or two vehicles, up to four services, chains, skips, orders, moves, scarce
bays."""

from __future__ import annotations

import random

from fleetcare.bayplan.problem import (
    After,
    BayProblem,
    BayService,
    Depot,
    Hand,
    PlanVehicle,
    Published,
    SetUp,
    Shift,
    Stage,
    Wait,
)


def tiny(seed: int) -> BayProblem:
    """A problem small enough to try everything; all minutes are multiples of five."""
    rng = random.Random(f"tiny {seed}")
    days = 4
    vehicles = rng.choice([1, 1, 2])
    hands = ("ines", "teo")[: rng.choice([1, 1, 2])]
    spans = [(day, start) for day in range(days) for start in (540, 840)]
    shifts = tuple(
        Shift(
            f"day {day} {start}",
            "yard",
            day,
            start,
            start + rng.choice([45, 60, 75]),
            hands,
            rng.choice([0, 0, 5]),
        )
        for day, start in sorted(rng.sample(spans, rng.randint(2, 4)))
    )
    number = rng.randint(2, 4 if vehicles == 1 else 3)
    services = []
    for at in range(number):
        is_chain = rng.random() < 0.3
        stages = tuple(
            Stage(rng.choice([10, 15, 20, 30]), "seal" if rng.random() < 0.2 else "")
            for _ in range(2 if is_chain else 1)
        )
        waits = (Wait(*rng.choice([(10, 30), (200, 400), (600, 2000)])),) if is_chain else ()
        is_required = rng.random() < 0.7
        services.append(
            BayService(
                name=f"s{at}",
                vehicle=f"v{rng.randrange(vehicles)}",
                stages=stages,
                waits=waits,
                setups=tuple(name for name in ("wheels off", "on stands") if rng.random() < 0.4),
                cost_by_day=tuple(rng.randint(0, 900) for _ in range(days)),
                not_before=rng.choice([0, 0, 0, 1]),
                not_after=rng.choice([days - 1, days - 1, 2]),
                is_required=is_required,
                skip_cents=0 if is_required else rng.randint(200, 1500),
                published=Published(rng.randrange(days), 300, 20) if rng.random() < 0.3 else None,
            )
        )
    for at in range(1, number):
        if services[at].vehicle == services[0].vehicle and rng.random() < 0.25:
            one = services[at]
            values = {name: getattr(one, name) for name in BayService.__dataclass_fields__}
            orders = [After("s0", rng.choice([0, 1, 2]))]
            if at > 1 and services[at - 1].vehicle == one.vehicle:
                orders.append(After(f"s{at - 1}", seed % 2))
            services[at] = BayService(**{**values, "after": tuple(orders)})
    return BayProblem(
        name=f"tiny {seed}",
        days=days,
        max_visit_min=rng.choice([600, 3600]),
        setups=(SetUp("wheels off", 10, rng.randint(50, 400)), SetUp("on stands", 5, rng.randint(50, 400))),
        depots=(Depot("yard", rng.choice([1, 1, 2]), rng.randint(0, 600), ((1, 900),)),),
        people=tuple(Hand(name, "yard", ("seal",) if at == 0 else ()) for at, name in enumerate(hands)),
        shifts=shifts,
        vehicles=tuple(
            PlanVehicle(
                f"v{at}",
                "yard",
                rng.choice([0, 5, 10]),
                rng.randint(100, 800),
                rng.choice([0, 30, 60]),
                ((1440, 1440 + 700),) if rng.random() < 0.3 else (),
            )
            for at in range(vehicles)
        ),
        services=tuple(services),
    )
