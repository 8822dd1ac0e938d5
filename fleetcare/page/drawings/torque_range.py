"""A torque as a line from its lowest to its highest value, with the aim in the middle."""

from __future__ import annotations

from dataclasses import dataclass

from fleetcare.fleet.tag import Torque
from fleetcare.language import tr
from fleetcare.quantities import TorqueUnit


@dataclass(frozen=True, slots=True)
class TorqueRange:
    """The drawing. low, mid, high: in `unit`; beside: the same in the other unit, small below. label: in words."""

    low: str
    mid: str
    high: str
    unit: str
    beside: str
    label: str


def torque_range(torque: Torque) -> TorqueRange:
    """In N·m with lb·ft below, whichever was printed; figures in lb·ft as printed are kept where there is a pair."""
    low, mid, high = _figures(torque, TorqueUnit.NM)
    other = _figures(torque, TorqueUnit.LBF_FT)
    beside = tr("{other} to {other2} lb·ft, middle {other3}", other=other[0], other2=other[2], other3=other[1])
    label = tr("{low} to {high} N·m, aim for {mid}; {beside}", low=low, high=high, mid=mid, beside=beside)
    return TorqueRange(low, mid, high, TorqueUnit.NM.value, beside, label)


def _figures(torque: Torque, unit: TorqueUnit) -> tuple[str, str, str]:
    if unit is torque.unit:
        # As printed; the middle of a printed range may be a half.
        low, mid, high = (f"{value.normalize():f}" for value in (torque.low, torque.aim, torque.high))
    else:
        low, mid, high = (_figure(value) for value in torque.ends_in(unit))
    return low, mid, high


def _figure(value: float) -> str:
    """Whole from 10 on, one decimal below: no torque wrench shows more."""
    return f"{value:.0f}" if value >= 10 else f"{value:.1f}".removesuffix(".0")
