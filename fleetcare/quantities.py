"""Units, factors, half-open day spans and month arithmetic: the only place that converts."""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from enum import StrEnum

KM_PER_MILE = 1.609344
"""Exact. Source: NIST SP 811 (2008), Appendix B.8."""
L_PER_US_QUART = 0.946352946
"""Exact (231 in3 to the US gallon). Source: NIST SP 811 (2008), Appendix B.8, printed 0.946 352 9."""
L_PER_US_GALLON = 3.785411784
L_PER_US_PINT = 0.473176473
L_PER_IMPERIAL_GALLON = 4.54609
ML_PER_US_FLUID_OUNCE = 29.5735295625
NM_PER_LBF_FT = 1.3558179483314004
"""Source: NIST SP 811 (2008), Appendix B.8, printed 1.355 818."""
NM_PER_LBF_IN = NM_PER_LBF_FT / 12
NM_PER_KGF_M = 9.80665
KPA_PER_PSI = 6.894757293168361

DAYS_PER_YEAR = 365.25
"""Mean Julian year; rates per year in the forecast are per 365.25 days."""


class DistanceUnit(StrEnum):
    """What a dial, a limit or a person counts distance in."""

    KM = "km"
    MI = "mi"


class MeterUnit(StrEnum):
    """What a meter counts: distance in one of two units, or running hours."""

    KM = "km"
    MI = "mi"
    HOURS = "h"

    @property
    def distance(self) -> DistanceUnit | None:
        """The distance unit, or None for an hour meter."""
        return None if self is MeterUnit.HOURS else DistanceUnit(self.value)


_KM_PER: dict[DistanceUnit, float] = {DistanceUnit.KM: 1.0, DistanceUnit.MI: KM_PER_MILE}


def km_from(value: float | Decimal, unit: DistanceUnit) -> float:
    """A distance given in `unit`, in km."""
    return float(value) * _KM_PER[unit]


def km_to(km: float, unit: DistanceUnit) -> float:
    """A distance in km, in `unit`."""
    return km / _KM_PER[unit]


@dataclass(frozen=True, slots=True)
class PrintedDistance:
    """A distance limit as a book prints it: in km, in mi, or as a pair.

    A printed pair is often no exact conversion (7500 mi beside 12 500 km), so both figures are kept
    and one of them is primary: that one is used in calculations, the other is only shown.
    """

    primary: DistanceUnit
    km: Decimal | None = None
    mi: Decimal | None = None

    def __post_init__(self) -> None:
        for figure in (self.km, self.mi):
            if figure is not None and figure <= 0:
                raise ValueError(f"a distance limit is more than nothing, not {figure}")
        if self.figure is None:
            raise ValueError(f"the primary figure ({self.primary}) is missing")

    @property
    def figure(self) -> Decimal | None:
        """The primary figure, in its own unit."""
        return self.km if self.primary is DistanceUnit.KM else self.mi

    @property
    def in_km(self) -> float:
        """The primary figure in km, which is what is reckoned with."""
        figure = self.figure
        assert figure is not None  # __post_init__ saw to it
        return km_from(figure, self.primary)

    @classmethod
    def of(cls, value: Decimal | int | str, unit: DistanceUnit) -> PrintedDistance:
        """A limit printed in one unit only."""
        figure = Decimal(value)
        return cls(unit, km=figure) if unit is DistanceUnit.KM else cls(unit, mi=figure)


@dataclass(frozen=True, slots=True, order=True)
class DateSpan:
    """Days from `first` up to and without `end`. Never empty."""

    first: date
    end: date

    def __post_init__(self) -> None:
        if self.end <= self.first:
            raise ValueError(f"a span ends after it begins: {self.first} to {self.end}")

    @classmethod
    def of_days(cls, first: date, last: date) -> DateSpan:
        """The span whose last day is `last` itself."""
        return cls(first, last + timedelta(days=1))

    @property
    def last(self) -> date:
        """The last day that belongs to the span."""
        return self.end - timedelta(days=1)

    @property
    def days(self) -> int:
        """How many days it holds, at least 1."""
        return (self.end - self.first).days

    def __contains__(self, day: date) -> bool:
        return self.first <= day < self.end

    def overlaps(self, other: DateSpan) -> bool:
        """True if the two share a day."""
        return self.first < other.end and other.first < self.end


def months_after(anchor: date, months: int) -> date:
    """`months` calendar months after `anchor`, the day clamped to the month's length.

    Always counted from the anchor, never chained, so that 31 January + 2 months is 31 March.
    Raises OverflowError past the year 9999 (or before year 1).
    Source: W3C XML Schema Part 2, Appendix E (adding durations to dates).
    """
    index = anchor.year * 12 + anchor.month - 1 + months
    year, month = divmod(index, 12)
    if not date.min.year <= year <= date.max.year:
        raise OverflowError(f"{months} months after {anchor} is outside the calendar")
    day = min(anchor.day, calendar.monthrange(year, month + 1)[1])
    return date(year, month + 1, day)


class TorqueUnit(StrEnum):
    """What a torque is printed in."""

    NM = "N·m"
    LBF_FT = "lb·ft"
    LBF_IN = "lb·in"
    KGF_M = "kgf·m"


_NM_PER: dict[TorqueUnit, float] = {
    TorqueUnit.NM: 1.0,
    TorqueUnit.LBF_FT: NM_PER_LBF_FT,
    TorqueUnit.LBF_IN: NM_PER_LBF_IN,
    TorqueUnit.KGF_M: NM_PER_KGF_M,
}

L_PER: dict[str, float] = {
    "L": 1.0,
    "mL": 0.001,
    "US pt": L_PER_US_PINT,
    "US qt": L_PER_US_QUART,
    "US gal": L_PER_US_GALLON,
    "Imp gal": L_PER_IMPERIAL_GALLON,
    "US fl oz": ML_PER_US_FLUID_OUNCE / 1000,
}
"""Litres to one of each unit a volume is printed in."""

MM_PER: dict[str, float] = {"mm": 1.0, "cm": 10.0, "in": 25.4}
"""Millimetres to one of each unit a length is printed in. Exact. Source: NIST SP 811 (2008), Appendix B.8."""


def nm_from(value: float | Decimal, unit: TorqueUnit) -> float:
    """A torque given in `unit`, in N·m."""
    return float(value) * _NM_PER[unit]


def nm_to(nm: float, unit: TorqueUnit) -> float:
    """A torque in N·m, in `unit`."""
    return nm / _NM_PER[unit]
