"""What bay days are weighed by, as a person sets it; and the prices of a problem made from it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields
from decimal import Decimal
from enum import StrEnum

from fleetcare.bayplan.calm import MovePrices
from fleetcare.bayplan.orders import Order
from fleetcare.bayplan.problem import SetUp
from fleetcare.book.bench import Need
from fleetcare.errors import BadInput, shown
from fleetcare.language import saying


class Stakes(StrEnum):
    """What being late with a service puts at stake."""

    WEAR = "wear"
    HARM = "harm"
    LAW = "law"


@dataclass(frozen=True, slots=True)
class Figure:
    """What stands beside a figure: its meaning in a sentence, and how well it is known."""

    means: str
    status: str


@dataclass(frozen=True, slots=True)
class OpenHours:
    """When the workshop is open each week. weekdays: 0 Monday; start, end: minutes of the day.

    people: keys of who works then; empty: every mechanic. premium_cents_per_min: what time outside usual hours costs.
    is_unusual: it is outside usual hours.
    """

    weekdays: tuple[int, ...]
    start: int
    end: int
    people: tuple[str, ...] = ()
    premium_cents_per_min: int = 0
    is_unusual: bool = False


class FigureKind(StrEnum):
    """How a figure of the workshop is written."""

    MONEY = "money"
    """In whole cents here, in the garage's currency in the file."""
    COUNT = "count"
    SHARE = "share"
    """A part of one."""
    WEIGHT = "weight"


@dataclass(frozen=True, slots=True)
class WorkshopPrices:
    """The figures of `config/workshop.toml`, which says what each means. Money in whole cents; a key of money ends in
    nothing, or in what it is counted by. Raises BadInput, its field the key, for a figure that cannot be."""

    horizon_days: int
    max_visit_hours: int
    shift_share: float
    lateness_weight: float
    labour_per_hour: int
    late_wear_per_day: int
    late_harm_per_day: int
    late_law_per_day: int
    overdue_wear: int
    overdue_harm: int
    overdue_law: int
    arrive: int
    arrive_minutes: int
    out_of_use_per_hour: int
    opening_day: int
    unusual_per_hour: int
    fluid_per_litre: int
    piece: int
    move_once: int
    move_per_day: int
    move_near: int
    skip_share: float
    skip_late_days: int
    setups: tuple[SetUp, ...] = ()
    orders: tuple[Order, ...] = ()
    bays: int = 1

    def __post_init__(self) -> None:
        for one in fields(self):
            value = getattr(self, one.name)
            if one.name not in ("setups", "orders") and value < 0:
                raise BadInput(
                    saying("{name} is less than nought.", name=one.name), remedy="Write nought or more.", field=one.name
                )
        whole = (("bays", 1, 1000), ("horizon_days", 7, 1000), ("max_visit_hours", 1, 1000))
        for key, low, high in (("shift_share", 0.1, 1.0), *whole):
            if not low <= getattr(self, key) <= high:
                raise BadInput(
                    saying("{key} is {figure}.", key=key, figure=getattr(self, key)),
                    remedy=saying("Write a number from {low} to {high}.", low=low, high=high),
                    field=key,
                )
        names = [one.name for one in self.setups]
        for name in names:
            if names.count(name) > 1:
                raise BadInput(
                    saying("Two set-ups are called {name}.", name=shown(name)), remedy="Keep one.", field="setup"
                )

    @property
    def moves(self) -> MovePrices:
        """What moving published services costs."""
        return MovePrices(self.move_once, self.move_per_day, self.move_near)

    def late_per_day(self, stakes: Stakes) -> int:
        """The price of a day late in cents, weighed."""
        plain = {
            Stakes.WEAR: self.late_wear_per_day,
            Stakes.HARM: self.late_harm_per_day,
            Stakes.LAW: self.late_law_per_day,
        }
        return round(plain[stakes] * self.lateness_weight)

    def overdue(self, stakes: Stakes) -> int:
        """The price of being overdue at all in cents, weighed."""
        plain = {Stakes.WEAR: self.overdue_wear, Stakes.HARM: self.overdue_harm, Stakes.LAW: self.overdue_law}
        return round(plain[stakes] * self.lateness_weight)

    def early_per_day(self, *, parts_cents: int, minutes: int, interval_days: int) -> int:
        """What a day of the interval is worth that is thrown away: parts and labour over the interval, in cents."""
        labour = self.labour_per_hour * minutes / 60
        return round((parts_cents + labour) / max(interval_days, 1))

    def materials(self, needs: Iterable[Need]) -> int:
        """What a job uses up in cents: by the litre where it is poured, by the kilogram where it is weighed, else by
        the piece. An amount that no tag tells counts as one of those, for nothing would be too little."""
        total = Decimal(0)
        for need in needs:
            thousandth = need.unit in ("mL", "g")
            each = self.fluid_per_litre if thousandth or need.unit == "L" else self.piece
            amount = Decimal(1) if need.amount is None else need.amount / (1000 if thousandth else 1)
            total += each * amount
        return round(total)

    def skip_cents(self, *, setup_cents: int, likely_in_horizon: bool, stakes: Stakes) -> int:
        """The price of leaving a service for the next plan: a share of a visit of its own (arrival, four hours out of
        use, an opened day, its set-ups), and some lateness if it is likely due before."""
        alone = self.arrive + 4 * self.out_of_use_per_hour + self.opening_day + setup_cents
        late = self.skip_late_days * self.late_per_day(stakes) if likely_in_horizon else 0
        return round(self.skip_share * alone) + late


_COUNTS = frozenset({"bays", "horizon_days", "max_visit_hours", "arrive_minutes", "skip_late_days"})
_SHARES = frozenset({"shift_share", "skip_share"})
FIGURES = tuple(one.name for one in fields(WorkshopPrices) if one.name not in ("setups", "orders"))
"""Keys of the figures, in the order of `WorkshopPrices`."""


def figure_kind(key: str) -> FigureKind:
    """How the figure with that key is written."""
    if key in _COUNTS:
        return FigureKind.COUNT
    if key in _SHARES:
        return FigureKind.SHARE
    return FigureKind.WEIGHT if key == "lateness_weight" else FigureKind.MONEY
