"""The linear master programme of one depot: columns are whole visits, priced anew until no visit is worth adding."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import highspy
import numpy as np

from fleetcare.bayplan.day_costs import move_cents, out_of_use_cents
from fleetcare.bayplan.problem import BayService
from fleetcare.solvers.columns import Column, Rows
from fleetcare.solvers.grid import DepotGrid, Floats, VehicleGrid
from fleetcare.solvers.pricing import Pricer

STARTS = 8
"""Dates at which each service is offered alone before the first round: without them the first prices are those of
leaving services out, and pricing finds everything worth having."""


class Master:
    """Visits in a linear programme that grows. left_out_cents: the price of leaving out what must be done."""

    def __init__(self, rows: Rows, left_out_cents: int) -> None:
        self.rows, self.grid = rows, rows.grid
        self.columns: list[Column] = []
        self.coefficients: list[dict[int, float]] = []
        self.known: dict[tuple[object, ...], int] = {}
        self.skip_cents = [skip_price(one.service, left_out_cents) for one in rows.modes_of]
        self.pricers = [Pricer(rows, vehicle) for vehicle in self.grid.vehicles]
        self.value = np.inf
        self.y: Floats = np.zeros(rows.count)
        self.is_converged = False
        self.highs = quiet_highs()
        self._build()

    def _build(self) -> None:
        """Rows, then a column for each open day and for leaving each service out."""
        rows, grid = self.rows, self.grid
        lower = np.full(rows.count, -np.inf)
        lower[: rows.n_services] = 1.0
        empty = np.zeros(0, dtype=np.int32)
        upper = rows.upper.copy()
        upper[list(rows.opened_by_row)] = 0.0
        self.highs.addRows(rows.count, lower, upper, 0, np.zeros(rows.count, dtype=np.int32), empty, np.zeros(0))
        self._add(self.skip_cents, [{number: 1.0} for number in range(rows.n_services)])
        days = len(grid.days)
        for k, day in enumerate(grid.days):
            entries = {rows.open_at + v * days + k: -1.0 for v in range(len(grid.vehicles))}
            entries |= {row: -rows.upper[row] for row, at in rows.opened_by_row.items() if at == k and rows.upper[row]}
            self._add([grid.opening[day]], [entries], most=1.0)
        self.fixed = rows.n_services + days

    def _add(self, cents: list[int], entries: list[dict[int, float]], most: float = np.inf) -> None:
        starts = np.cumsum([0] + [len(each) for each in entries])[:-1].astype(np.int32)
        index = np.array([row for each in entries for row in sorted(each)], dtype=np.int32)
        value = np.array([each[row] for each in entries for row in sorted(each)], dtype=np.float64)
        many = len(cents)
        self.highs.addCols(
            many,
            np.array(cents, dtype=np.float64),
            np.zeros(many),
            np.full(many, most),
            len(index),
            starts,
            index,
            value,
        )

    def add(self, columns: Iterable[Column]) -> int:
        """Takes visits in that are not there yet; how many."""
        cents: list[int] = []
        entries = []
        for column in columns:
            key = (column.vehicle, column.arrive, column.last, column.modes, column.setups)
            if key in self.known:
                continue
            self.known[key] = len(self.columns)
            self.columns.append(column)
            found = self.rows.coefficients(column)
            self.coefficients.append(found)
            cents.append(column.cents)
            entries.append(found)
        if cents:
            self._add(cents, entries)
        return len(cents)

    def begin(self) -> None:
        """Offers each service alone at its cheapest dates."""
        for vehicle in self.grid.vehicles:
            for i in range(len(vehicle.services)):
                self.add(cheapest_alone(self.grid, vehicle, i))

    def solve(self) -> None:
        """Solves the programme as it stands; `value` and `y` are then its value and the prices of its rows."""
        self.highs.run()
        if self.highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            # A start that has gone stale numerically; once more from nothing.
            self.highs.clearSolver()
            self.highs.run()
        self.value = self.highs.getInfo().objective_function_value
        self.y = np.array(self.highs.getSolution().row_dual)

    def generate(
        self,
        *,
        most_rounds: int,
        is_stopped: Callable[[], bool],
        tell: Callable[[int, float], None],
        calm_share: float = 0.0,
    ) -> int:
        """Adds visits until none is worth adding (`is_converged`) or the rounds are spent; how many rounds were run.

        calm_share: stop when six rounds together gain less than this share.
        """
        exact = False
        values: list[float] = []
        for number in range(most_rounds):
            self.solve()
            values.append(self.value)
            tell(number, self.value)
            if is_stopped():
                return number
            if calm_share and len(values) > 6 and values[-7] - values[-1] < calm_share * abs(values[-1]):
                return number
            prices = self.rows.prices(self.y)
            added = 0
            for pricer in self.pricers:
                found, _ = pricer.best(prices, most=12, frames_each=None if exact else 5)
                added += self.add(column for _, column in found)
            if added == 0:
                if exact:
                    self.is_converged = all(pricer.is_exact for pricer in self.pricers)
                    return number
                exact = True
            else:
                exact = False
        return most_rounds

    def reduced(self) -> Floats:
        """The reduced price of every visit there is, at the prices `y`."""
        return np.array(
            [
                column.cents - sum(self.y[row] * value for row, value in entries.items())
                for column, entries in zip(self.columns, self.coefficients, strict=True)
            ]
        )


def cheapest_alone(grid: DepotGrid, vehicle: VehicleGrid, i: int, most: int = STARTS) -> list[Column]:
    """Visits with one service alone at its cheapest dates: it arrives and is set up in the shift of the first stage."""
    one = vehicle.services[i]
    setups = [grid.problem.setup_by_name[name] for name in one.service.setups]
    arrive_min, hourly = vehicle.vehicle.arrive_min, vehicle.vehicle.out_cents_per_hour
    ready_min = arrive_min + sum(setup.minutes for setup in setups)
    found = []
    for mode, shifts in enumerate(one.shifts.tolist()):
        a = shifts[0]
        b = max(shifts, key=lambda q: (grid.ends[q], q))
        here = sum(minutes for minutes, q in zip(one.minutes, shifts, strict=True) if q == a)
        if ready_min + here > grid.length[a]:
            continue
        cents = int(one.cents[mode]) + vehicle.vehicle.arrive_cents + sum(setup.cents for setup in setups)
        cents += out_of_use_cents(hourly, int(grid.ends[b] - grid.starts[a])) + ready_min * int(grid.premium[a])
        placed = tuple((vehicle.setups.index(setup.name), a) for setup in setups)
        column = Column(vehicle.number, a, b, ((one.number, mode),), tuple(sorted(placed)), cents)
        found.append((cents + grid.opening[int(grid.day[a])], a, column))
    found.sort(key=lambda each: (each[0], each[1], each[2].modes))
    return [column for _, _, column in found[:most]]


def skip_price(service: BayService, left_out_cents: int) -> int:
    """The price of not doing a service within the horizon."""
    return left_out_cents if service.is_required else service.skip_cents + move_cents(service, None)


class _Quiet(highspy.Highs):
    """Says nothing, not even its name and version, which it otherwise prints as soon as it is made."""

    def enableCallbacks(self) -> None:  # noqa: N802 - the library's name
        self.setOptionValue("output_flag", False)
        super().enableCallbacks()  # type: ignore[no-untyped-call]


def quiet_highs() -> highspy.Highs:
    """A solver that prints nothing, works on one thread and always takes the same way."""
    highs = _Quiet()  # type: ignore[no-untyped-call]
    highs.setOptionValue("output_flag", False)
    highs.setOptionValue("threads", 1)
    highs.setOptionValue("random_seed", 1)
    highs.setOptionValue("parallel", "off")
    return highs


def safe_bound(value: float) -> int:
    """Whole cents under which no plan can be, from a linear programme's value: rounded up, less what rounding may
    hide."""
    return int(np.ceil(value - max(0.01, 1e-9 * abs(value))))
