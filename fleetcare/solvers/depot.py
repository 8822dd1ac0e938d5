"""One depot planned: visits generated, chosen, laid out to the minute, and widened until no cheaper plan can be."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from fleetcare.bayplan.plan import Visit
from fleetcare.bayplan.standing import NOTHING_STANDS, Standing
from fleetcare.solvers.bays import with_bays
from fleetcare.solvers.choose import Choice, Offer, choose
from fleetcare.solvers.clashes import clashes, without
from fleetcare.solvers.columns import Column, Prices, Rows
from fleetcare.solvers.grid import DepotGrid
from fleetcare.solvers.groups import Alike, Group, Key, alike, apart, grouped, key_of
from fleetcare.solvers.master import Master, safe_bound
from fleetcare.solvers.minutes import Fit, clusters, place

MOST_VISITS = 250_000
"""Visits taken into one integer step; beyond this a proof is given up."""
MOST_CUTS = 400
FIRST_WIDTH = 0.003
"""The share of the bound by which the first widening takes visits in: there what does not fit is learnt cheaply. Each
next one is 2.5 times as wide, or as wide as a proof needs if that comes to no more than `FEW_VISITS`."""
FEW_VISITS = 60_000
ROUND_STEPS = 0.05
"""What one round of pricing counts as, in steps."""


@dataclass(slots=True)
class Search:
    """How a depot's search stands: the best plan so far, what is proven, and what was learnt about minutes. left: steps
    that may still be spent. left_out_cents: the price of a required service left out."""

    grid: DepotGrid
    left_out_cents: int
    seed: int
    left: float
    is_stopped: Callable[[], bool]
    tell: Callable[[Search, str], None]
    steps: float = 0.0
    """How many there were at first."""
    columns: list[Column] = field(default_factory=list)
    visits: tuple[Visit, ...] = ()
    cents: int | None = None
    bound: int = -(2**62)
    is_proven: bool = False
    together: dict[tuple[Key, ...], bool] = field(default_factory=dict)
    """Sets of visits that do not fit together to the minute; true where that is proven."""
    split: dict[Alike, None] = field(default_factory=dict)
    """Groups of visits that were told apart: they are not taken together again."""
    fits: dict[tuple[Key, ...], tuple[Fit, tuple[Visit, ...]]] = field(default_factory=dict)
    standing: Standing = NOTHING_STANDS
    is_from_below: bool = False
    """The plan is thought to be good, and what is wanted is the proof."""
    has_doubt: bool = False
    """Some visits might fit together to the minute and were taken not to: nothing can be proven then."""

    @property
    def is_over(self) -> bool:
        """Nothing more is to be done."""
        return self.is_proven or self.left <= 0 or self.is_stopped()

    def laid_out(self, columns: Sequence[Column]) -> tuple[Visit, ...] | None:
        """The visits to the minute; None if they do not fit, and what does not is then in `together`."""
        visits: list[Visit] = []
        whole = True
        for group in clusters(self.grid, columns):
            members = [columns[at] for at in group]
            fit, laid = self._placed(members)
            if fit is Fit.YES:
                visits += laid
                continue
            whole = False
            if fit is Fit.UNKNOWN:
                self.has_doubt = True
                self.together[tuple(key_of(each) for each in members)] = False
                continue
            smallest = self._smallest(members)
            self.together[tuple(key_of(each) for each in smallest)] = True
        return tuple(visits) if whole else None

    def _placed(self, members: Sequence[Column]) -> tuple[Fit, tuple[Visit, ...]]:
        key = tuple(key_of(each) for each in members)
        if key not in self.fits:
            self.fits[key] = place(self.grid, members, seed=self.seed, standing=self.standing)
        return self.fits[key]

    def _in_bays(self, visits: tuple[Visit, ...]) -> tuple[Visit, ...]:
        depot = self.grid.depot
        stays = [(one.bay, one.starts_at, one.ends_at) for one in self.standing.stays if one.depot == depot.name]
        return with_bays(self.grid.problem, visits, depot.bays, stays)

    def _smallest(self, members: list[Column]) -> list[Column]:
        """Visits, and services in them, of which none can be spared for them not to fit together."""
        kept = list(members)
        for one in members:
            fewer = [each for each in kept if each is not one]
            if fewer and self._placed(fewer)[0] is Fit.NO:
                kept = fewer
        for at, one in enumerate(kept):
            for number, _ in one.modes:
                fewer = [*kept[:at], without(self.grid, kept[at], number), *kept[at + 1 :]]
                if self._placed(fewer)[0] is Fit.NO:
                    kept = fewer
        return kept

    def take(self, columns: Sequence[Column], cents: int) -> bool:
        """Makes this the best plan so far if it fits to the minute and is cheaper; false if it does not fit."""
        visits = self.laid_out(columns)
        if visits is None:
            return False
        visits = self._in_bays(visits)
        if any(visit.bay < 0 for visit in visits):
            # Stays that stand hold their bays, and what is left does not go into the others.
            self.has_doubt = True
            self.together[tuple(key_of(each) for each in columns)] = False
            return False
        if self.cents is None or cents < self.cents:
            self.columns, self.visits, self.cents = list(columns), visits, cents
            self.tell(self, "choosing")
        return True


def decide(search: Search, rows: Rows, master: Master, columns: Sequence[Column], *, effort: float) -> Choice:
    """Chooses among these visits until a choice fits to the minute. The choice returned closes only if nothing that
    fits is cheaper."""
    own = {key_of(column): column for column in (*columns, *search.columns)}
    groups = grouped(rows, own.values(), search.split)
    bound = -(2**62)
    for _ in range(MOST_CUTS):
        choice = _chosen(search, rows, master, groups, effort)
        bound = max(bound, choice.bound)
        if choice.cents is None:
            return Choice((), None, bound, choice.spent, choice.is_closed)
        picked = [groups[at] for at in choice.picked]
        fits = _told_apart(search, rows, master, picked, choice.cents, effort)
        if fits or search.left <= 0 or search.is_stopped():
            return Choice(choice.picked, choice.cents, bound, choice.spent, choice.is_closed and fits)
        split = {id(group) for group in picked if len(group.members) > 1}
        search.split |= {alike(rows, group.shown): None for group in picked if len(group.members) > 1}
        groups = [each for group in groups for each in (apart(rows, group) if id(group) in split else [group])]
    return Choice((), None, bound, 0.0, False)


def _chosen(search: Search, rows: Rows, master: Master, groups: Sequence[Group], effort: float) -> Choice:
    every = {key_of(column): at for at, group in enumerate(groups) for column in group.members}
    offer = Offer(
        [group.shown for group in groups],
        [group.entries for group in groups],
        master.skip_cents,
        search.grid.opening,
        clashes([group.members for group in groups], search.together),
    )
    choice = choose(
        rows,
        offer,
        effort=min(effort, max(search.left, 0.01)),
        seed=search.seed,
        hint=[every[key_of(column)] for column in search.columns if key_of(column) in every],
        is_from_below=search.is_from_below,
        is_stopped=search.is_stopped,
    )
    search.left -= choice.spent + 0.001
    return choice


def _told_apart(search: Search, rows: Rows, master: Master, picked: Sequence[Group], cents: int, effort: float) -> bool:
    """Tries to make a plan of this price from the members of the groups picked; true if that worked. Whatever plan is
    found on the way is kept if it is the best so far."""
    if all(len(group.members) == 1 for group in picked):
        return search.take([group.shown for group in picked], cents)
    members = [each for group in picked for each in apart(rows, group)]
    for _ in range(MOST_CUTS):
        choice = _chosen(search, rows, master, members, effort)
        if choice.cents is None:
            return False
        fits = search.take([members[at].shown for at in choice.picked], choice.cents)
        if fits or choice.cents > cents:
            return fits and choice.cents <= cents
    return False


def is_in_reach(search: Search, rows: Rows, master: Master) -> bool:
    """Whether there are few enough visits that a plan cheaper than the one there is could hold."""
    if not master.is_converged or search.cents is None:
        return False
    prices, room, seen = rows.prices(master.y), search.cents - master.value, 0
    for pricer in master.pricers:
        for wide in pricer.wide_below(prices, room, FEW_VISITS):
            seen = FEW_VISITS + 1 if wide is None else seen + len(wide.value)
            if seen > FEW_VISITS or search.is_stopped():
                return False
    return True


def widen(search: Search, rows: Rows, master: Master, effort: float) -> None:
    """Takes in every visit that a cheaper plan could hold, by growing width, until plan and bound meet."""
    if not master.is_converged:
        return
    low = master.value
    prices = rows.prices(master.y)
    width = max(FIRST_WIDTH * abs(low), 2.0)
    has_begun = False
    while not search.is_over and search.cents is not None:
        room = search.cents - low
        if room < 1.0 or search.bound >= search.cents:
            search.is_proven = not search.has_doubt
            search.bound = max(search.bound, search.cents) if search.is_proven else search.bound
            return
        width = min(width, room)
        whole = _below(search, master, prices, room, FEW_VISITS) if has_begun else None
        has_begun = True
        width = width if whole is None else room
        pool = _below(search, master, prices, width, MOST_VISITS) if whole is None else whole
        if pool is None or search.is_stopped():
            return
        search.left -= len(pool) / 50_000
        choice = decide(search, rows, master, pool, effort=effort)
        # Whatever is cheaper than low + width holds none but these visits.
        if not search.has_doubt:
            search.bound = max(search.bound, min(choice.bound, safe_bound(low + width)))
        if choice.is_closed and not search.has_doubt and search.cents <= search.bound:
            search.bound, search.is_proven = search.cents, True
            return
        search.tell(search, "widening")
        if not choice.is_closed:
            effort *= 2
        elif width >= room:
            return
        else:
            width *= 2.5


def _below(search: Search, master: Master, prices: Prices, width: float, most: int) -> list[Column] | None:
    """Every visit worth at most so much; None if there are more, or if not every visit could be looked at."""
    pool: list[Column] = []
    for pricer in master.pricers:
        found, is_whole = pricer.below(prices, width + 0.01, most - len(pool))
        if not is_whole or not pricer.is_exact:
            return None
        pool += [column for _, column in found]
        if search.is_stopped():
            break
    return pool
