"""What cannot be in a bay problem: names that lead nowhere, figures out of range, orders that go round in circles."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from fleetcare.bayplan.problem import (
    DAY_MIN,
    MOST_CENTS,
    MOST_DAYS,
    MOST_MINUTES,
    BayProblem,
    BayService,
)
from fleetcare.errors import BadInput, shown
from fleetcare.language import saying

CERTAIN_PPM = 1_000_000


def check_problem(problem: BayProblem) -> None:
    """Raises BadInput, with the place in `field`, for the first thing that cannot be."""
    _within(problem.days, 1, MOST_DAYS, "days")
    _within(problem.max_visit_min, 1, MOST_MINUTES, "max_visit_min")
    for at, setup in enumerate(problem.setups):
        _within(setup.minutes, 0, MOST_MINUTES, f"setups[{at}].min")
        _within(setup.cents, 0, MOST_CENTS, f"setups[{at}].cents")
    for at, depot in enumerate(problem.depots):
        _within(depot.bays, 0, 10_000, f"depots[{at}].bays")
        _within(depot.open_cents, 0, MOST_CENTS, f"depots[{at}].open_cents")
        for day, cents in depot.open_by_day:
            _within(day, 0, problem.days - 1, f"depots[{at}].open_by_day")
            _within(cents, 0, MOST_CENTS, f"depots[{at}].open_by_day")
    for at, hand in enumerate(problem.people):
        _known(hand.depot, problem.depot_by_name, "depot", f"people[{at}].depot")
    _check_shifts(problem)
    for at, vehicle in enumerate(problem.vehicles):
        place = f"vehicles[{at}]"
        _known(vehicle.depot, problem.depot_by_name, "depot", f"{place}.depot")
        _within(vehicle.arrive_min, 0, MOST_MINUTES, f"{place}.arrive_min")
        _within(vehicle.arrive_cents, 0, MOST_CENTS, f"{place}.arrive_cents")
        _within(vehicle.out_cents_per_hour, 0, MOST_CENTS, f"{place}.out_cents_per_hour")
        for begins, ends in vehicle.away:
            if begins >= ends:
                raise BadInput(
                    saying(
                        "{name} is away from minute {begins} to {ends}.", name=vehicle.name, begins=begins, ends=ends
                    ),
                    remedy="The end comes after the start.",
                    field=f"{place}.away",
                )
    for at, service in enumerate(problem.services):
        _check_service(problem, service, f"services[{at}]")
    _check_order(problem)


def _check_shifts(problem: BayProblem) -> None:
    for at, shift in enumerate(problem.shifts):
        place = f"shifts[{at}]"
        _known(shift.depot, problem.depot_by_name, "depot", f"{place}.depot")
        _within(shift.day, 0, problem.days - 1, f"{place}.day")
        _within(shift.start, 0, DAY_MIN - 1, f"{place}.start")
        _within(shift.end, shift.start + 1, DAY_MIN, f"{place}.end")
        _within(shift.premium_cents_per_min, 0, MOST_CENTS, f"{place}.premium_cents_per_min")
        for name in shift.people:
            hand = _known(name, problem.hand_by_name, "person", f"{place}.people")
            if problem.hand_by_name[hand].depot != shift.depot:
                raise BadInput(
                    saying(
                        "{name} works in {depot}, the shift is in {shift_depot}.",
                        name=name,
                        depot=problem.hand_by_name[hand].depot,
                        shift_depot=shift.depot,
                    ),
                    remedy="Name people of the same depot.",
                    field=f"{place}.people",
                )
        if len(frozenset(shift.people)) != len(shift.people):
            raise BadInput("A person stands twice in a shift.", remedy="Name each once.", field=f"{place}.people")


def _check_service(problem: BayProblem, service: BayService, place: str) -> None:
    _known(service.vehicle, problem.vehicle_by_name, "vehicle", f"{place}.vehicle")
    for name in service.setups:
        _known(name, problem.setup_by_name, "set-up", f"{place}.setups")
    if not service.stages:
        raise BadInput(
            saying("{name} has no stage.", name=service.name),
            remedy='Write "stages": [{"min": 30}].',
            field=f"{place}.stages",
        )
    for at, stage in enumerate(service.stages):
        _within(stage.minutes, 1, MOST_MINUTES, f"{place}.stages[{at}].min")
    if len(service.waits) != len(service.stages) - 1:
        raise BadInput(
            saying(
                "{name} has {stages} stages and {waits} waits.",
                name=service.name,
                stages=len(service.stages),
                waits=len(service.waits),
            ),
            remedy="There is one wait between two stages.",
            field=f"{place}.waits",
        )
    for at, wait in enumerate(service.waits):
        _within(wait.least, 0, MOST_MINUTES, f"{place}.waits[{at}].min")
        _within(wait.most, wait.least, MOST_MINUTES, f"{place}.waits[{at}].max")
    for key in ("early_cents_per_day", "late_cents_per_day", "overdue_cents", "skip_cents"):
        _within(getattr(service, key), 0, MOST_CENTS, f"{place}.{key}")
    if service.cost_by_day:
        if len(service.cost_by_day) != problem.days:
            raise BadInput(
                saying(
                    "{name} has a price for {cost_by_day} of {days} days.",
                    name=service.name,
                    cost_by_day=len(service.cost_by_day),
                    days=problem.days,
                ),
                remedy="Give one price for each day.",
                field=f"{place}.cost_by_day",
            )
        for cents in service.cost_by_day:
            _within(cents, -MOST_CENTS, MOST_CENTS, f"{place}.cost_by_day")
    else:
        _check_due(service, f"{place}.due")
    if service.published is not None:
        _within(service.published.move_cents, 0, MOST_CENTS, f"{place}.published.move_cents")
        _within(service.published.per_day_cents, 0, MOST_CENTS, f"{place}.published.per_day_cents")
    for at, after in enumerate(service.after):
        where = f"{place}.after" if len(service.after) == 1 else f"{place}.after[{at}]"
        _known(after.service, problem.service_by_name, "service", f"{where}.service")
        _within(after.gap_days, 0, MOST_DAYS, f"{where}.gap_days")
        if problem.service_by_name[after.service].vehicle != service.vehicle:
            raise BadInput(
                saying(
                    "{name} comes after {service}, which is on another vehicle.",
                    name=service.name,
                    service=after.service,
                ),
                remedy="Order services of one vehicle.",
                field=f"{where}.service",
            )


def _check_due(service: BayService, place: str) -> None:
    if not service.due:
        raise BadInput(
            saying("{name} has neither due days nor a price for each day.", name=service.name),
            remedy='Write "due": [[day, ppm], ...] or "cost_by_day".',
            field=place,
        )
    last_day, last_ppm = None, 0
    for day, ppm in service.due:
        if (last_day is not None and day <= last_day) or not last_ppm <= ppm <= CERTAIN_PPM:
            raise BadInput(
                saying("The due days of {name} do not rise at [{day}, {ppm}].", name=service.name, day=day, ppm=ppm),
                remedy="Days rise, chances do not fall, from 0 to 1000000.",
                field=place,
            )
        last_day, last_ppm = day, ppm
    if last_ppm != CERTAIN_PPM:
        raise BadInput(
            saying("The due days of {name} end at a chance of {last_ppm} ppm.", name=service.name, last_ppm=last_ppm),
            remedy="The last point is [day, 1000000].",
            field=place,
        )


def _check_order(problem: BayProblem) -> None:
    """No service comes, by way of others, after itself."""
    after = {one.name: [each.service for each in one.after] for one in problem.services}
    cleared: set[str] = set()
    for at, service in enumerate(problem.services):
        # The way to where we are, and what is still to be looked at from each place on it.
        walked, ahead = [service.name], [list(after[service.name])]
        while walked:
            if not ahead[-1]:
                ahead.pop()
                cleared.add(walked.pop())
                continue
            name = ahead[-1].pop(0)
            if name in walked:
                circle = " after ".join([*walked[walked.index(name) :], name])
                raise BadInput(
                    saying("The order goes round in a circle: {circle}.", circle=circle),
                    remedy="Take one of these orders away.",
                    field=f"services[{at}].after",
                )
            if name not in cleared:
                walked.append(name)
                ahead.append(list(after[name]))


def _within(value: int, least: int, most: int, place: str) -> None:
    if not least <= value <= most:
        raise BadInput(
            saying("{value} is not from {least} to {most}.", value=value, least=least, most=most),
            remedy="Write a number in that range.",
            field=place,
        )


def _known(name: str, among: Mapping[str, object] | Iterable[str], kind: str, place: str) -> str:
    if name not in among:
        raise BadInput(
            saying("There is no {kind} called {name}.", kind=kind, name=shown(name)),
            remedy="Name one that is listed.",
            field=place,
        )
    return name
