"""Visits as columns of a master programme, its rows, and what the prices of the rows make of each ingredient."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fleetcare.bayplan.standing import NOTHING_STANDS, Standing
from fleetcare.solvers.grid import DepotGrid, Floats, ServiceModes, VehicleGrid


@dataclass(frozen=True, slots=True)
class Column:
    """One whole visit: where it arrives and ends (shift indexes), its services as (number, mode), its set-ups as (index
    in the vehicle's list, shift). cents: its price without opening the workshop."""

    vehicle: int
    arrive: int
    last: int
    modes: tuple[tuple[int, int], ...]
    setups: tuple[tuple[int, int], ...]
    cents: int


@dataclass(frozen=True, slots=True)
class Prices:
    """What the rows' prices add to each ingredient of a visit, in cents: y -> -A'y, taken apart."""

    service: Floats
    """For each service done."""
    open_day: Floats
    """(vehicles, open days): for working on that day."""
    minute: Floats
    """For each shift, a minute of work."""
    skilled: dict[str, Floats]
    """For each shift, a minute of work that wants the skill."""
    through: Floats
    """For each shift, holding the bay from before its start to after its end."""
    past: Floats
    """For each shift, holding the bay past its end."""
    first: dict[int, Floats]
    """For some services, by open day: beginning on that day."""
    final: dict[int, Floats]
    """For some services, by open day: ending on that day."""


@dataclass(frozen=True, slots=True)
class Use:
    """What a service takes in one of its modes: (shift, minutes) of its stages, (row, minutes) where a skill is wanted,
    rows of orders it stands in, and its number with the open days (places) of its stages."""

    number: int
    minutes: tuple[tuple[int, int], ...]
    skilled: tuple[tuple[int, int], ...]
    orders: tuple[int, ...]
    on_days: tuple[int, ...]


class Rows:
    """The rows of one depot's master programme. After the services come, in this order: working on an open day (vehicle
    by vehicle), minutes of each shift, minutes of each skill in a shift, bays in a shift, bays past its end, orders."""

    def __init__(self, grid: DepotGrid, standing: Standing = NOTHING_STANDS) -> None:
        self.grid = grid
        self.day_at = {day: at for at, day in enumerate(grid.days)}
        self.shift_day = np.array([self.day_at[int(day)] for day in grid.day], dtype=np.int64)
        shifts, days = len(grid.shifts), len(grid.days)
        self.n_services = len(grid.service_names)
        self.open_at = self.n_services
        self.minutes_at = self.open_at + len(grid.vehicles) * days
        self.skill_rows: dict[tuple[int, str], int] = {}
        self.modes_of: tuple[ServiceModes, ...] = grid.services
        wanted = sorted({stage.skill for one in self.modes_of for stage in one.service.stages if stage.skill})
        able: dict[tuple[int, str], int] = {}
        at = self.minutes_at + shifts
        for q, shift in enumerate(grid.shifts):
            for skill in wanted:
                number = sum(skill in grid.problem.hand_by_name[name].skills for name in shift.people)
                if number:
                    self.skill_rows[q, skill] = at
                    able[q, skill] = number
                    at += 1
        self.bays_at = at
        self.past_at = self.bays_at + shifts
        self.order_at = self.past_at + shifts
        numbers = {one.service.name: one.number for one in self.modes_of}
        self.orders = [
            (numbers[after.service], one.number, after.gap_days) for one in self.modes_of for after in one.service.after
        ]
        self.count = self.order_at + len(self.orders) * days
        self.upper = np.full(self.count, np.inf)
        self.upper[: self.n_services] = 1.0
        self.upper[self.open_at : self.minutes_at] = 0.0
        lengths = grid.length.astype(float)
        self.upper[self.minutes_at : self.minutes_at + shifts] = lengths * grid.hands
        for (q, skill), row in self.skill_rows.items():
            self.upper[row] = able[q, skill] * lengths[q]
        self.upper[self.bays_at : self.past_at] = lengths * grid.depot.bays
        self.upper[self.past_at : self.order_at] = grid.depot.bays
        self.upper[self.order_at :] = 1.0
        self._take_away(standing)
        self._whole_days()
        self.day_of: list[int] = self.shift_day.tolist()
        self._arrive_minutes = [one.vehicle.arrive_min for one in grid.vehicles]
        self._setup_minutes = [
            [grid.problem.setup_by_name[name].minutes for name in one.setups] for one in grid.vehicles
        ]
        self._uses: dict[tuple[int, int], Use] = {}
        self._holds: dict[tuple[int, int], dict[int, float]] = {}

    def _take_away(self, standing: Standing) -> None:
        """Takes from the room of each row what stands already needs."""
        grid = self.grid
        place = {shift.name: q for q, shift in enumerate(grid.shifts)}
        for work in standing.work:
            q = place.get(work.shift)
            if q is None:
                continue
            self.upper[self.minutes_at + q] -= work.minutes
            self.upper[self.bays_at + q] -= work.minutes
            if work.skill and (q, work.skill) in self.skill_rows:
                self.upper[self.skill_rows[q, work.skill]] -= work.minutes
        for stay in standing.stays:
            if stay.depot == grid.depot.name and stay.ready < stay.leaves:
                self.upper[self.past_at + np.flatnonzero((grid.ends >= stay.ready) & (grid.ends < stay.leaves))] -= 1
        np.maximum(self.upper, 0.0, out=self.upper)

    def _whole_days(self) -> None:
        """Rows of the integer step alone: minutes, skilled minutes and bays of a whole day. They follow from those of
        its shifts, and hold for visits of which only the day is known."""
        days = len(self.grid.days)
        kinds = ["", *sorted({skill for _, skill in self.skill_rows})]
        self.day_row: dict[int, int] = {}
        for q in range(len(self.grid.shifts)):
            day = int(self.shift_day[q])
            self.day_row[self.minutes_at + q] = self.count + day
            self.day_row[self.bays_at + q] = self.count + days + day
            for at, skill in enumerate(kinds[1:]):
                if (q, skill) in self.skill_rows:
                    self.day_row[self.skill_rows[q, skill]] = self.count + (2 + at) * days + day
        more = np.zeros((1 + len(kinds)) * days)
        for row, day_row in self.day_row.items():
            more[day_row - self.count] += self.upper[row]
        self.room = np.concatenate([self.upper, more])
        # The minutes of a day are there only if it is opened (row to the day): this lifts the bound where hands are
        # scarce. Bays are not among them: a vehicle may stand in one over a day on which nobody works.
        self.opened_by_row = {
            row: (day_row - self.count) % days for row, day_row in self.day_row.items() if row < self.bays_at
        }
        self.opened_by = dict(self.opened_by_row)
        for row in self.opened_by_row:
            self.opened_by[self.day_row[row]] = (self.day_row[row] - self.count) % days

    def with_days(self, entries: dict[int, float]) -> dict[int, float]:
        """A visit's coefficients together with those in the rows of whole days."""
        found = dict(entries)
        for row, value in entries.items():
            day_row = self.day_row.get(row)
            if day_row is not None:
                found[day_row] = found.get(day_row, 0.0) + value
        return found

    def coefficients(self, column: Column) -> dict[int, float]:
        """Row to coefficient of one visit."""
        minutes: dict[int, int] = {column.arrive: self._arrive_minutes[column.vehicle]}
        own = self._setup_minutes[column.vehicle]
        for name_at, q in column.setups:
            minutes[q] = minutes.get(q, 0) + own[name_at]
        found: dict[int, float] = {}
        uses = [self.use_of(number, mode) for number, mode in column.modes]
        for use in uses:
            found[use.number] = 1.0
            for q, worked in use.minutes:
                minutes[q] = minutes.get(q, 0) + worked
            for row, worked in use.skilled:
                found[row] = found.get(row, 0.0) + worked
        open_at = self.open_at + column.vehicle * len(self.grid.days)
        for q, worked in minutes.items():
            found[open_at + self.day_of[q]] = 1.0
            if worked:
                found[self.minutes_at + q] = float(worked)
                found[self.bays_at + q] = float(worked)
        if column.arrive != column.last:
            found.update(self._held(column.arrive, column.last))
        for use in uses:
            for row in use.orders:
                found[row] = found.get(row, 0.0) + 1.0
        return found

    def use_of(self, number: int, mode: int) -> Use:
        """What a service takes in one of its modes, worked out once."""
        if (number, mode) not in self._uses:
            one = self.modes_of[number]
            shifts = one.shifts[mode].tolist()
            stages = list(zip(one.service.stages, shifts, strict=True))
            self._uses[number, mode] = Use(
                number,
                tuple((q, stage.minutes) for stage, q in stages),
                tuple((self.skill_rows[q, stage.skill], stage.minutes) for stage, q in stages if stage.skill),
                tuple(self._order_rows(number, shifts)),
                (number, *(self.day_of[q] for q in shifts)),
            )
        return self._uses[number, mode]

    def _order_rows(self, number: int, shifts: list[int]) -> Iterator[int]:
        days = self.grid.days
        first, final = (int(self.grid.day[shifts[at]]) for at in (0, -1))
        for at, (before, behind, gap) in enumerate(self.orders):
            row = self.order_at + at * len(days)
            if before == number:
                yield from (row + k for k, day in enumerate(days) if final >= day)
            if behind == number:
                yield from (row + k for k, day in enumerate(days) if first < day + gap)

    def _held(self, arrive: int, last: int) -> dict[int, float]:
        """Rows of bays held past the end of a shift, and through whole shifts."""
        if (arrive, last) not in self._holds:
            grid = self.grid
            ready, leaves = grid.ends[arrive], grid.starts[last]
            past = np.flatnonzero((grid.ends >= ready) & (grid.ends < leaves)).tolist()
            through = np.flatnonzero((grid.starts >= ready) & (grid.ends <= leaves)).tolist()
            self._holds[arrive, last] = {self.past_at + q: 1.0 for q in past} | {
                self.bays_at + q: float(grid.length[q]) for q in through
            }
        return self._holds[arrive, last]

    def prices(self, y: Floats) -> Prices:
        """The rows' prices (their effect on the least cost of a unit more on the right) taken apart by ingredient."""
        grid = self.grid
        shifts, days = len(grid.shifts), len(grid.days)
        bays = y[self.bays_at : self.past_at]
        minute = -y[self.minutes_at : self.minutes_at + shifts] - bays
        skilled: dict[str, Floats] = {}
        for (q, skill), row in self.skill_rows.items():
            skilled.setdefault(skill, np.zeros(shifts))[q] = -y[row]
        first: dict[int, Floats] = {}
        final: dict[int, Floats] = {}
        for at, (before, behind, gap) in enumerate(self.orders):
            mine = -y[self.order_at + at * days : self.order_at + (at + 1) * days]
            if mine.any():
                # Ending on day k stands in the rows of all days up to it; beginning on k in those later than k - gap.
                ended = final.setdefault(before, np.zeros(days))
                ended += np.cumsum(mine)
                open_days = np.array(grid.days)
                begun = first.setdefault(behind, np.zeros(days))
                begun += ((open_days[None, :] + gap > open_days[:, None]) * mine[None, :]).sum(axis=1)
        return Prices(
            service=-y[: self.n_services],
            open_day=-y[self.open_at : self.minutes_at].reshape(len(grid.vehicles), days),
            minute=minute,
            skilled=skilled,
            through=-bays * grid.length,
            past=-y[self.past_at : self.order_at],
            first=first,
            final=final,
        )

    def mode_values(self, one: ServiceModes, prices: Prices) -> Floats:
        """For each mode of a service its price less what its rows are worth; infinite one past the last."""
        values = np.full(len(one.shifts) + 1, np.inf)
        if not len(one.shifts):
            return values
        mine = one.cents + prices.service[one.number]
        for at, stage in enumerate(one.service.stages):
            q = one.shifts[:, at]
            mine = mine + stage.minutes * prices.minute[q]
            if stage.skill and stage.skill in prices.skilled:
                mine = mine + stage.minutes * prices.skilled[stage.skill][q]
        if one.number in prices.first:
            mine = mine + prices.first[one.number][self.shift_day[one.shifts[:, 0]]]
        if one.number in prices.final:
            mine = mine + prices.final[one.number][self.shift_day[one.shifts[:, -1]]]
        values[:-1] = mine
        return values


def vehicle_of(grid: DepotGrid, column: Column) -> VehicleGrid:
    """The vehicle a column is about."""
    return grid.vehicles[column.vehicle]


def touched_days(grid: DepotGrid, column: Column) -> range:
    """All days from a visit's first to its last, those without work among them."""
    return range(int(grid.day[column.arrive]), int(grid.day[column.last]) + 1)
