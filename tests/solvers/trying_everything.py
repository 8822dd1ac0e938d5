"""The cheapest plan by trying every one: each split of the services into visits, every shift, person and minute.

Independent of the solvers and of the audit: rules and prices are written down here once more, from their definition.
Good for tiny problems only (coarse minutes, a handful of services).
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, product

from fleetcare.bayplan.problem import BayProblem, BayService, PlanVehicle, Shift

Job = tuple[str, int, frozenset[str], int]
"""What it is, its minutes, who may do it, place in its chain."""


def cheapest(problem: BayProblem) -> int | None:
    """The least price of a plan in cents; None if none keeps the rules."""
    optional = [one for one in problem.services if not one.is_required]
    best: int | None = None
    for size in range(len(optional) + 1):
        for left in combinations(optional, size):
            done = [one for one in problem.services if one not in left]
            skipped = sum(one.skip_cents + (one.published.move_cents if one.published else 0) for one in left)
            found = _cheapest_with(problem, done)
            if found is not None and (best is None or found + skipped < best):
                best = found + skipped
    return best


def _partitions(items: list[BayService]) -> Iterator[list[list[BayService]]]:
    if not items:
        yield []
        return
    first, rest = items[0], items[1:]
    for smaller in _partitions(rest):
        yield [[first], *smaller]
        for at in range(len(smaller)):
            yield [*smaller[:at], [first, *smaller[at]], *smaller[at + 1 :]]


class _Laid:
    """One visit laid into shifts: its pieces as (shift, minutes, people, tag), and what it costs without opening."""

    def __init__(self, vehicle: PlanVehicle, pieces: list[tuple[Shift, int, tuple[str, ...], str]], cents: int) -> None:
        self.vehicle, self.pieces, self.cents = vehicle, pieces, cents
        self.shifts = [piece[0] for piece in pieces]
        self.days = range(min(s.day for s in self.shifts), max(s.day for s in self.shifts) + 1)


def _layouts(problem: BayProblem, services: list[BayService]) -> list[_Laid]:
    """Every way to lay one visit into shifts, people left open."""
    vehicle = next(one for one in problem.vehicles if one.name == services[0].vehicle)
    shifts = [one for one in problem.shifts if one.depot == vehicle.depot]
    needed = sorted({name for one in services for name in one.setups})
    found = []
    slots = [(one, k) for one in services for k in range(len(one.stages))]
    for arrival in shifts:
        for where in product(shifts, repeat=len(slots)):
            laid = dict(zip([(one.name, k) for one, k in slots], where, strict=True))
            used = [arrival, *where]
            begins = min(s.day * 1440 + s.start for s in used)
            ends = max(s.day * 1440 + s.end for s in used)
            if arrival.day * 1440 + arrival.start != begins or ends - begins > problem.max_visit_min:
                continue
            if any(begins < back and gone < ends for gone, back in vehicle.away):
                continue
            homes: dict[str, Shift] = {}
            fine = True
            for one in services:
                first, last = laid[one.name, 0], laid[one.name, len(one.stages) - 1]
                fine = fine and first.day >= one.not_before and last.day <= one.not_after
                for name in one.setups:
                    fine = fine and homes.setdefault(name, first).name == first.name
            if not fine:
                continue
            cents = vehicle.arrive_cents + (vehicle.out_cents_per_hour * (ends - begins) + 30) // 60
            pieces = [(arrival, vehicle.arrive_min, arrival.people, "arrive")]
            for name in needed:
                setup = next(one for one in problem.setups if one.name == name)
                cents += setup.cents
                pieces.append((homes[name], setup.minutes, homes[name].people, f"setup {name}"))
            for one, k in slots:
                stage, shift = one.stages[k], laid[one.name, k]
                able = tuple(
                    p.name
                    for p in problem.people
                    if p.name in shift.people and (not stage.skill or stage.skill in p.skills)
                )
                pieces.append((shift, stage.minutes, able, f"stage {one.name} {k}"))
                if k == len(one.stages) - 1:
                    cents += one.cost_by_day[shift.day]
                if k == 0 and one.published and one.published.day != shift.day:
                    moved = min(abs(one.published.day - shift.day), 30)
                    cents += one.published.move_cents + one.published.per_day_cents * moved
            cents += sum(minutes * shift.premium_cents_per_min for shift, minutes, _, _ in pieces)
            if all(people for _, _, people, _ in pieces):
                found.append(_Laid(vehicle, pieces, cents))
    return found


def _cheapest_with(problem: BayProblem, done: list[BayService]) -> int | None:
    by_vehicle = [[one for one in done if one.vehicle == v.name] for v in problem.vehicles]
    best: int | None = None
    for split in product(*(list(_partitions(each)) for each in by_vehicle)):
        visits = [services for part in split for services in part]
        options = [sorted(_layouts(problem, services), key=lambda laid: laid.cents) for services in visits]
        if any(not each for each in options):
            continue
        best = _search(problem, visits, options, [], 0, best)
    return best


def _search(
    problem: BayProblem,
    visits: list[list[BayService]],
    options: list[list[_Laid]],
    chosen: list[_Laid],
    cents: int,
    best: int | None,
) -> int | None:
    if len(chosen) == len(options):
        total = cents + _opening(problem, chosen)
        if (best is None or total < best) and _keeps_orders(problem, visits, chosen) and _fits(problem, visits, chosen):
            return total
        return best
    for laid in options[len(chosen)]:
        if best is not None and cents + laid.cents >= best:
            break
        if any(laid.vehicle is other.vehicle and set(laid.days) & set(other.days) for other in chosen):
            continue
        best = _search(problem, visits, options, [*chosen, laid], cents + laid.cents, best)
    return best


def _opening(problem: BayProblem, chosen: list[_Laid]) -> int:
    opened = {(laid.vehicle.depot, shift.day) for laid in chosen for shift in laid.shifts}
    depots = {one.name: one for one in problem.depots}
    return sum(dict(depots[name].open_by_day).get(day, depots[name].open_cents) for name, day in opened)


def _keeps_orders(problem: BayProblem, visits: list[list[BayService]], chosen: list[_Laid]) -> bool:
    days: dict[str, list[int]] = {}
    for laid in chosen:
        for shift, _, _, tag in laid.pieces:
            if tag.startswith("stage "):
                days.setdefault(tag[6:].rsplit(" ", 1)[0], []).append(shift.day)
    return all(
        min(days[one.name]) >= max(days[after.service]) + after.gap_days
        for services in visits
        for one in services
        for after in one.after
        if after.service in days
    )


def _fits(problem: BayProblem, visits: list[list[BayService]], chosen: list[_Laid]) -> bool:
    """Whether people, bays and minutes can be found: every order of the work of a visit, every person, as early as it
    goes or at any later multiple of five minutes."""
    return all(
        _fits_depot(depot.bays, visits, [c for c in chosen if c.vehicle.depot == depot.name])
        for depot in problem.depots
    )


def _fits_depot(bays: int, visits: list[list[BayService]], chosen: list[_Laid]) -> bool:
    services = {one.name: one for group in visits for one in group}

    if not all(_has_hours([laid]) for laid in chosen) or not _has_hours(chosen):
        return False

    def place(at: int, busy: list[tuple[str, int, int]], held: list[tuple[int, int]]) -> bool:
        if at == len(chosen):
            return True
        for spans in _timings(services, chosen[at], busy):
            stay = (min(start for _, start, _ in spans), max(end for _, _, end in spans))
            if _most_at_once([*held, stay]) <= bays and place(at + 1, [*busy, *spans], [*held, stay]):
                return True
        return False

    return place(0, [], [])


def _has_hours(chosen: list[_Laid]) -> bool:
    """Whether the minutes in each shift are no more than one vehicle, or all its people, can take: saves trying."""
    minutes: dict[str, int] = {}
    for laid in chosen:
        for shift, length, _, _ in laid.pieces:
            minutes[shift.name] = minutes.get(shift.name, 0) + length
    hands = 1 if len(chosen) == 1 else 99
    return all(
        minutes[shift.name] <= (shift.end - shift.start) * min(hands, len(shift.people))
        for laid in chosen
        for shift in laid.shifts
    )


def _most_at_once(spans: list[tuple[int, int]]) -> int:
    return max(sum(a <= start < b for a, b in spans) for start, _ in spans)


def _timings(
    services: dict[str, BayService], laid: _Laid, busy: list[tuple[str, int, int]]
) -> Iterator[list[tuple[str, int, int]]]:
    """Every timing of one visit on a grid of five minutes, as (person, start, end) in the order of its pieces."""
    tags = [tag for _, _, _, tag in laid.pieces]

    def lay(at: int, starts: list[int], spans: list[tuple[str, int, int]]) -> Iterator[list[tuple[str, int, int]]]:
        if at == len(laid.pieces):
            yield spans
            return
        shift, minutes, people, tag = laid.pieces[at]
        low, high = shift.day * 1440 + shift.start, shift.day * 1440 + shift.end - minutes
        if at:
            low = max(low, starts[0] + laid.pieces[0][1])
        if tag.startswith("stage "):
            name, number = tag[6:].rsplit(" ", 1)
            if int(number) == 0:
                for setup in services[name].setups:
                    before = tags.index(f"setup {setup}")
                    low = max(low, starts[before] + laid.pieces[before][1])
            else:
                before = tags.index(f"stage {name} {int(number) - 1}")
                wait = services[name].waits[int(number) - 1]
                ended = starts[before] + laid.pieces[before][1]
                low, high = max(low, ended + wait.least), min(high, ended + wait.most)
        for start in range(low, high + 1, 5):
            end = start + minutes
            if any(a < end and start < b for _, a, b in spans):
                continue
            for person in people:
                if all(who != person or end <= a or b <= start for who, a, b in busy):
                    yield from lay(at + 1, [*starts, start], [*spans, (person, start, end)])

    yield from lay(0, [], [])
