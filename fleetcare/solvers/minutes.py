"""From visits laid into shifts to minutes, people and bays; or the knowledge that they do not fit together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from ortools.sat.python import cp_model

from fleetcare.bayplan.plan import Visit, Work, WorkKind
from fleetcare.bayplan.standing import NOTHING_STANDS, Standing, StandingWork
from fleetcare.solvers.bays import most_at_once
from fleetcare.solvers.columns import Column
from fleetcare.solvers.engine import search_engine
from fleetcare.solvers.grid import DepotGrid

EFFORT = 20.0
"""Deterministic seconds for one cluster of visits."""


class Fit(Enum):
    """Whether visits fit together to the minute."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Piece:
    """One stretch of work of one visit, laid into a shift (index). minutes: how long; hands: who may do it."""

    kind: WorkKind
    shift: int
    minutes: int
    hands: tuple[str, ...]
    setup: str = ""
    service: str = ""
    stage: int = 0


def pieces_of(grid: DepotGrid, column: Column) -> tuple[Piece, ...]:
    """The work of a visit: arrival first, then set-ups, then stages in order."""
    vehicle = grid.vehicles[column.vehicle]
    problem = grid.problem
    found = [
        Piece(WorkKind.ARRIVE, column.arrive, vehicle.vehicle.arrive_min, _hands(grid, column.arrive)),
    ]
    for at, q in column.setups:
        setup = problem.setup_by_name[vehicle.setups[at]]
        found.append(Piece(WorkKind.SETUP, q, setup.minutes, _hands(grid, q), setup=setup.name))
    own = {one.number: one for one in vehicle.services}
    for number, mode in column.modes:
        one = own[number]
        for stage, q in enumerate(one.shifts[mode].tolist()):
            part = one.service.stages[stage]
            found.append(
                Piece(
                    WorkKind.STAGE, q, part.minutes, _hands(grid, q, part.skill), service=one.service.name, stage=stage
                )
            )
    return tuple(found)


def _hands(grid: DepotGrid, q: int, skill: str = "") -> tuple[str, ...]:
    people = sorted(grid.shifts[q].people)
    if not skill:
        # Whoever can do least is asked first, so that the others stay free for what only they can do.
        return tuple(sorted(people, key=lambda name: (len(grid.problem.hand_by_name[name].skills), name)))
    return tuple(name for name in people if skill in grid.problem.hand_by_name[name].skills)


def clusters(grid: DepotGrid, columns: Sequence[Column]) -> list[list[int]]:
    """Visits (places in the list) in groups whose blocked intervals do not meet those of another group."""
    order = sorted(range(len(columns)), key=lambda at: (int(grid.starts[columns[at].arrive]), at))
    groups: list[list[int]] = []
    until = -1
    for at in order:
        if not groups or int(grid.starts[columns[at].arrive]) >= until:
            groups.append([])
        groups[-1].append(at)
        until = max(until, int(grid.ends[columns[at].last]))
    return groups


def place(
    grid: DepotGrid, columns: Sequence[Column], *, seed: int = 1, standing: Standing = NOTHING_STANDS
) -> tuple[Fit, tuple[Visit, ...]]:
    """Lays visits whose blocked intervals meet out to the minute: one after another if that works, else by search. Bays
    are given out later (`with_bays`); here only as many stay at once as there are."""
    work = [pieces_of(grid, column) for column in columns]
    low = min(int(grid.starts[column.arrive]) for column in columns)
    high = max(int(grid.ends[column.last]) for column in columns)
    taken = _Taken(
        [one for one in standing.work if one.start < high and low < one.start + one.minutes],
        [
            (stay.starts_at, stay.ends_at)
            for stay in standing.stays
            if stay.depot == grid.depot.name and stay.starts_at < high and low < stay.ends_at
        ],
    )
    starts = _one_after_another(grid, columns, work, taken)
    if starts is None:
        fit, starts = _searched(grid, work, seed, taken)
        if starts is None:
            return fit, ()
    return Fit.YES, _visits(grid, columns, work, starts)


@dataclass(frozen=True, slots=True)
class _Taken:
    """What stands within reach: work of people, and stays in bays."""

    work: list[StandingWork]
    stays: list[tuple[int, int]]


Placed = list[list[tuple[int, str]]]
"""For each visit, for each of its pieces, start and person."""


def _one_after_another(
    grid: DepotGrid, columns: Sequence[Column], work: list[tuple[Piece, ...]], taken: _Taken
) -> Placed | None:
    """Visits in order, each piece as early as it goes; None if that leads nowhere."""
    busy: dict[str, list[tuple[int, int]]] = {}
    for one in taken.work:
        busy.setdefault(one.person, []).append((one.start, one.start + one.minutes))
    held = list(taken.stays)
    found: Placed = [[] for _ in work]
    order = sorted(
        range(len(work)),
        key=lambda at: (int(grid.starts[columns[at].arrive]), -int(grid.ends[columns[at].last]), at),
    )
    for at in order:
        placed = _one_visit(grid, work[at], busy)
        if placed is None:
            return None
        begins = min(start for start, _ in placed)
        ends = max(start + piece.minutes for (start, _), piece in zip(placed, work[at], strict=True))
        held.append((begins, ends))
        if most_at_once(held) > grid.depot.bays:
            return None
        for (start, person), piece in zip(placed, work[at], strict=True):
            busy.setdefault(person, []).append((start, start + piece.minutes))
        found[at] = placed
    return found


def _one_visit(
    grid: DepotGrid, pieces: tuple[Piece, ...], busy: dict[str, list[tuple[int, int]]]
) -> list[tuple[int, str]] | None:
    own: list[tuple[int, int]] = []
    placed: dict[int, tuple[int, str]] = {}

    def lay(at: int, low: int, high: int) -> bool:
        """high: the latest start."""
        piece = pieces[at]
        low = max(low, int(grid.starts[piece.shift]))
        high = min(high, int(grid.ends[piece.shift]) - piece.minutes)
        best: tuple[int, str] | None = None
        for person in piece.hands:
            start = _gap(sorted([*own, *busy.get(person, [])]), low, piece.minutes)
            if start <= high and (best is None or start < best[0]):
                best = (start, person)
        if best is None:
            return False
        placed[at] = best
        own.append((best[0], best[0] + piece.minutes))
        return True

    if not lay(0, 0, 2**40):
        return None
    ready = placed[0][0] + pieces[0].minutes
    setups_end: dict[str, int] = {}
    chains: dict[str, list[int]] = {}
    for at, piece in enumerate(pieces):
        if piece.kind is WorkKind.SETUP:
            if not lay(at, ready, 2**40):
                return None
            setups_end[piece.setup] = placed[at][0] + piece.minutes
        elif piece.kind is WorkKind.STAGE:
            chains.setdefault(piece.service, []).append(at)
    # What stands and waits begins first, so that other work can be done meanwhile.
    for name in sorted(chains, key=lambda one: (-len(chains[one]), chains[one])):
        service = grid.problem.service_by_name[name]
        low, high = max([ready, *(setups_end[each] for each in service.setups)]), 2**40
        for stage, at in enumerate(chains[name]):
            if not lay(at, low, high):
                return None
            if stage < len(service.waits):
                ends = placed[at][0] + pieces[at].minutes
                low, high = ends + service.waits[stage].least, ends + service.waits[stage].most
    return [placed[at] for at in range(len(pieces))]


def _gap(spans: list[tuple[int, int]], low: int, minutes: int) -> int:
    """The first start from `low` on at which so many minutes are free; none at all are free anywhere."""
    if minutes == 0:
        return low
    start = low
    for begins, ends in spans:
        if begins >= start + minutes:
            break
        start = max(start, ends)
    return start


def _searched(grid: DepotGrid, work: list[tuple[Piece, ...]], seed: int, taken: _Taken) -> tuple[Fit, Placed | None]:
    """The same by constraint search, which also finds out that there is no way."""
    model = cp_model.CpModel()
    by_person: dict[str, list[cp_model.IntervalVar]] = {}
    stays = []
    begun: list[list[cp_model.IntVar]] = []
    chosen: list[list[list[tuple[str, cp_model.IntVar | None]]]] = []
    for pieces in work:
        starts: list[cp_model.IntVar] = []
        people: list[list[tuple[str, cp_model.IntVar | None]]] = []
        own = []
        for piece in pieces:
            low, high = int(grid.starts[piece.shift]), int(grid.ends[piece.shift]) - piece.minutes
            if low > high or not piece.hands:
                return Fit.NO, None
            start = model.new_int_var(low, high, "")
            starts.append(start)
            if piece.minutes:
                own.append(model.new_fixed_size_interval_var(start, piece.minutes, ""))
            if len(piece.hands) == 1 or not piece.minutes:
                if piece.minutes:
                    by_person.setdefault(piece.hands[0], []).append(own[-1])
                people.append([(piece.hands[0], None)])
                continue
            options: list[tuple[str, cp_model.IntVar | None]] = []
            for person in piece.hands:
                does = model.new_bool_var("")
                by_person.setdefault(person, []).append(
                    model.new_optional_fixed_size_interval_var(start, piece.minutes, does, "")
                )
                options.append((person, does))
            model.add_exactly_one([does for _, does in options if does is not None])
            people.append(options)
        model.add_no_overlap(own)
        _order(model, grid, pieces, starts)
        least, most = int(grid.starts[pieces[0].shift]), max(int(grid.ends[piece.shift]) for piece in pieces)
        leaves, stay = model.new_int_var(least, most, ""), model.new_int_var(0, most - least, "")
        for piece, start in zip(pieces, starts, strict=True):
            model.add(leaves >= start + piece.minutes)
        stays.append(model.new_interval_var(starts[0], stay, leaves, ""))
        begun.append(starts)
        chosen.append(people)
    for one in taken.work:
        if one.person in by_person and one.minutes:
            by_person[one.person].append(model.new_fixed_size_interval_var(one.start, one.minutes, ""))
    for person in sorted(by_person):
        model.add_no_overlap(by_person[person])
    stays += [model.new_fixed_size_interval_var(start, end - start, "") for start, end in taken.stays]
    if grid.depot.bays == 1:
        model.add_no_overlap(stays)
    elif len(stays) > grid.depot.bays:
        model.add_cumulative(stays, [1] * len(stays), grid.depot.bays)
    solver = search_engine(effort=EFFORT, seed=seed)
    status = solver.solve(model)
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Fit.YES, [
            [
                (
                    solver.value(start),
                    next(person for person, does in options if does is None or solver.boolean_value(does)),
                )
                for start, options in zip(starts, people, strict=True)
            ]
            for starts, people in zip(begun, chosen, strict=True)
        ]
    return (Fit.NO if status == cp_model.INFEASIBLE else Fit.UNKNOWN), None


def _order(model: cp_model.CpModel, grid: DepotGrid, pieces: tuple[Piece, ...], starts: list[cp_model.IntVar]) -> None:
    """Arrival before all, set-ups before what needs them, waits within their bounds."""
    setup_at = {piece.setup: at for at, piece in enumerate(pieces) if piece.kind is WorkKind.SETUP}
    stage_at = {(piece.service, piece.stage): at for at, piece in enumerate(pieces) if piece.kind is WorkKind.STAGE}
    for at, piece in enumerate(pieces):
        if at:
            model.add(starts[at] >= starts[0] + pieces[0].minutes)
        if piece.kind is not WorkKind.STAGE:
            continue
        service = grid.problem.service_by_name[piece.service]
        if piece.stage == 0:
            for name in service.setups:
                before = setup_at[name]
                model.add(starts[at] >= starts[before] + pieces[before].minutes)
        else:
            before, wait = stage_at[piece.service, piece.stage - 1], service.waits[piece.stage - 1]
            model.add(starts[at] >= starts[before] + pieces[before].minutes + wait.least)
            model.add(starts[at] <= starts[before] + pieces[before].minutes + wait.most)


def _visits(
    grid: DepotGrid, columns: Sequence[Column], work: list[tuple[Piece, ...]], placed: Placed
) -> tuple[Visit, ...]:
    return tuple(
        Visit(
            grid.vehicles[column.vehicle].vehicle.name,
            0,
            tuple(
                Work(piece.kind, grid.shifts[piece.shift].name, person, start, piece.setup, piece.service, piece.stage)
                for piece, (start, person) in zip(work[at], placed[at], strict=True)
            ),
        )
        for at, column in enumerate(columns)
    )
