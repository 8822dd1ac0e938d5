"""The tag of a component: what is stamped on it or printed for it, as typed values, each with where it is from.

A garage writes a tag as facts (`TagFact`: a name, the value in words, its basis). `fleet/tag_reading.py` reads those
whose names it knows into these values and leaves the others as they are: nothing a garage wrote is lost or reworded.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import Generic, TypeVar

from fleetcare.errors import BadInput
from fleetcare.fleet.component import TagFact
from fleetcare.language import later, saying
from fleetcare.quantities import TorqueUnit, nm_from, nm_to

T = TypeVar("T")


class Basis(StrEnum):
    """Where a value of a tag is from."""

    STAMPED = "stamped"
    MANUAL = "manual"
    MEASURED = "measured"
    UNKNOWN = "unknown"
    """Nobody knows it: sheets print a blank to fill in."""

    @property
    def words(self) -> str:
        """As it is said beside a value."""
        return _BASIS_WORDS[self]


_BASIS_WORDS = {
    Basis.STAMPED: later("as stamped"),
    Basis.MANUAL: later("from the manual"),
    Basis.MEASURED: later("measured"),
    Basis.UNKNOWN: later("unknown"),
}


@dataclass(frozen=True, slots=True)
class Entry(Generic[T]):
    """One value of a tag. value: None if nobody knows it, or if its words say nothing that can be read."""

    name: str
    value: T | None
    basis: Basis
    words: str
    """The value as the garage wrote it."""


@dataclass(frozen=True, slots=True)
class Pass:
    """One round of tightening: `first pass`, with its torque in the unit of the range if it has one of its own."""

    name: str
    value: Decimal | None = None
    after_wait: bool = False


@dataclass(frozen=True, slots=True)
class Torque:
    """A torque as printed: from `low` to `high` in `unit`, perhaps with the same range beside it in another unit.

    The aim is the middle of the range (common practice). Raises BadInput if the range is upside down, is nothing, or
    if the two printed ranges are not the same as far as their digits show.
    """

    low: Decimal
    high: Decimal
    unit: TorqueUnit
    beside: tuple[Decimal, Decimal, TorqueUnit] | None = None
    count: int | None = None
    """How many fasteners."""
    thread: str = ""
    """`M8`, `7/16-14`."""
    drive: str = ""
    """What the tool has to fit: `3/8 inch square`."""
    passes: tuple[Pass, ...] = ()
    note: str = ""

    def __post_init__(self) -> None:
        if self.low <= 0:
            raise BadInput(
                saying("A torque of {low} {unit} is nothing.", low=self.low, unit=self.unit),
                remedy="Give both ends of the range.",
            )
        if self.low > self.high:
            raise BadInput(
                saying(
                    "The torque from {low} to {high} {unit} is upside down.",
                    low=self.low,
                    high=self.high,
                    unit=self.unit,
                ),
                remedy=saying(
                    "Write {high} to {low} {unit}, if that is what the manual says.",
                    high=self.high,
                    low=self.low,
                    unit=self.unit,
                ),
            )
        for each in self.passes:
            if each.value is not None and each.value > self.high:
                raise BadInput(
                    saying(
                        "The {name} of {each} {unit} is above the range, which ends at {high}.",
                        name=each.name,
                        each=each.value,
                        unit=self.unit,
                        high=self.high,
                    ),
                    remedy="A pass leads up to the range and not beyond it.",
                )
        if self.beside is not None:
            self._check_beside(*self.beside)

    @property
    def aim(self) -> Decimal:
        """The middle of the range, in `unit`."""
        return (self.low + self.high) / 2

    @property
    def low_nm(self) -> float:
        """The lower end in N·m."""
        return nm_from(self.low, self.unit)

    @property
    def high_nm(self) -> float:
        """The upper end in N·m."""
        return nm_from(self.high, self.unit)

    def ends_in(self, unit: TorqueUnit) -> tuple[float, float, float]:
        """Lower end, aim and upper end in another unit; the printed ones where the pair has that unit."""
        if self.beside is not None and self.beside[2] is unit:
            low, high = float(self.beside[0]), float(self.beside[1])
            return low, (low + high) / 2, high
        low, high = nm_to(self.low_nm, unit), nm_to(self.high_nm, unit)
        return low, nm_to(nm_from(self.aim, self.unit), unit), high

    def holds(self, value: Decimal) -> bool:
        """Whether a torque reached, in `unit`, lies in the range."""
        return self.low <= value <= self.high

    def _check_beside(self, low: Decimal, high: Decimal, unit: TorqueUnit) -> None:
        for printed, other in ((self.low, low), (self.high, high)):
            if not _same_as_printed(nm_from(printed, self.unit), other, unit) and not _same_as_printed(
                nm_from(other, unit), printed, self.unit
            ):
                really = nm_to(nm_from(printed, self.unit), unit)
                raise BadInput(
                    saying(
                        "{printed} {unit} and {other} {other_unit} are not the same: {printed} {unit} is {really} "
                        "{other_unit}.",
                        printed=printed,
                        unit=self.unit,
                        other=other,
                        other_unit=unit,
                        really=f"{really:.3g}",
                    ),
                    remedy="Look at both figures again; one of them may be in another unit.",
                )


def _same_as_printed(nm: float, printed: Decimal, unit: TorqueUnit) -> bool:
    """Whether a torque rounds to the printed figure; a last digit may be off by one, as makers round up and down."""
    exponent = printed.as_tuple().exponent
    assert isinstance(exponent, int)  # a printed figure is finite
    step = float(Decimal(1).scaleb(exponent))
    return abs(nm_to(nm, unit) - float(printed)) <= step


class FillTo(StrEnum):
    """To where a component is filled: not one rule for all."""

    THE_HOLE = "to the hole"
    BELOW_THE_HOLE = "below the hole"
    BY_VOLUME = "by volume only"
    THE_MARK = "to the mark"


@dataclass(frozen=True, slots=True)
class FillRule:
    """To the hole, so many mm below it, by volume only, or to the mark of a dipstick or tank; `when`: cold or warm."""

    to: FillTo
    low_mm: Decimal | None = None
    high_mm: Decimal | None = None
    when: str = ""

    def __post_init__(self) -> None:
        if self.low_mm is not None and self.high_mm is not None and self.low_mm > self.high_mm:
            raise BadInput(
                saying(
                    "A level {low_mm} to {high_mm} mm below the hole is upside down.",
                    low_mm=self.low_mm,
                    high_mm=self.high_mm,
                ),
                remedy="Put the smaller figure first.",
            )


class ModifierNeed(StrEnum):
    """Whether a limited slip wants its friction modifier."""

    REQUIRED = "required"
    FORBIDDEN = "forbidden"
    NOT_NEEDED = "not needed"


@dataclass(frozen=True, slots=True)
class FrictionModifier:
    """Whether one is put in, and how much of it in mL. Raises BadInput for an amount of what must not go in."""

    need: ModifierNeed
    amount_ml: Decimal | None = None

    def __post_init__(self) -> None:
        if self.amount_ml is not None and self.need is not ModifierNeed.REQUIRED:
            raise BadInput(
                saying(
                    "The friction modifier is {need}, and yet there is an amount of {amount_ml} mL.",
                    need=self.need,
                    amount_ml=self.amount_ml,
                ),
                remedy="Say required, or leave the amount out.",
            )


class ClosureKind(StrEnum):
    """What makes the cover tight."""

    SEALANT = "sealant"
    GASKET = "gasket"
    O_RING = "O-ring"


@dataclass(frozen=True, slots=True)
class Closure:
    """How a component is closed; bolts is their number, thread theirs."""

    kind: ClosureKind
    bolts: int | None = None
    thread: str = ""


@dataclass(frozen=True, slots=True)
class WaitTime:
    """A time in minutes as the label has it, and the least there is if the label says no more."""

    minutes: int
    least_minutes: int | None = None

    def __post_init__(self) -> None:
        if self.least_minutes is not None and self.least_minutes > self.minutes:
            raise BadInput(
                saying(
                    "At least {least_minutes} min is more than the {minutes} min of the label.",
                    least_minutes=self.least_minutes,
                    minutes=self.minutes,
                ),
                remedy="Put the label's time first and the least behind it.",
            )


class VentKind(StrEnum):
    """What kind of vent it is."""

    CAP = "cap"
    HOSE = "hose"
    VALVE = "valve"


@dataclass(frozen=True, slots=True)
class Vent:
    """What kind of vent a component has, and where."""

    kind: VentKind
    place: str = ""


@dataclass(frozen=True, slots=True)
class Fluid:
    """A fluid's grade (`75W-140`) and service class (`GL-5`); what else was written goes into `note`."""

    grade: str
    service_class: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Tag:
    """The tag of one component. None: nothing was written about it.

    blanks: names that a component of this kind ought to have and of which nothing is known, in the order of a sheet.
    """

    kind: str
    ratio: Entry[Decimal] | None = None
    ring_gear_mm: Entry[Decimal] | None = None
    stamped: Entry[str] | None = None
    fluid: Entry[Fluid] | None = None
    capacity_l: Entry[Decimal] | None = None
    refill_l: Entry[Decimal] | None = None
    fill: Entry[FillRule] | None = None
    friction_modifier: Entry[FrictionModifier] | None = None
    closure: Entry[Closure] | None = None
    open_time: Entry[WaitTime] | None = None
    before_final_turn: Entry[WaitTime] | None = None
    before_filling: Entry[WaitTime] | None = None
    bolt_pattern: Entry[str] | None = None
    vent: Entry[Vent] | None = None
    magnet: Entry[str] | None = None
    backlash_mm: Entry[tuple[Decimal, Decimal]] | None = None
    torques: dict[str, Entry[Torque]] = field(default_factory=dict)
    """By name: `cover bolts`, `fill plug`, `wheel nuts`."""
    others: tuple[TagFact, ...] = ()
    """Facts with other names, and those whose words could not be read."""
    blanks: tuple[str, ...] = ()

    @property
    def refill(self) -> Decimal | None:
        """Litres to have ready for a fluid change: the quantity for a refill in the vehicle, else the capacity."""
        for entry in (self.refill_l, self.capacity_l):
            if entry is not None and entry.value is not None:
                return entry.value
        return None

    @property
    def has_modifier(self) -> bool:
        """True if the tag requires a friction modifier."""
        entry = self.friction_modifier
        return entry is not None and entry.value is not None and entry.value.need is ModifierNeed.REQUIRED
