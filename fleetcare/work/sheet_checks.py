"""What a sheet says held against the tag of the component: torque ranges, and how much fluid went in."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from fleetcare.fleet.component import Component
from fleetcare.fleet.tag import Torque
from fleetcare.fleet.tag_reading import tag_of
from fleetcare.language import FromBook, saying
from fleetcare.work.order import Filled, TorqueSet

_FAR = Decimal("0.15")
"""More than so much of the refill above or below it is worth a word. Common practice, no source."""


def with_range(torque: TorqueSet, component: Component) -> TorqueSet:
    """The torque with the range of the tag, in its own unit; as it is if there is none, or it has one already."""
    if torque.low is not None or torque.high is not None:
        return torque
    entries = {name.casefold(): entry for name, entry in tag_of(component).torques.items()}
    entry = entries.get(torque.fastener.strip().casefold())
    printed = None if entry is None else entry.value
    if printed is None:
        return torque
    low, high = _ends(printed, torque)
    return replace(torque, low=low, high=high)


def _ends(printed: Torque, torque: TorqueSet) -> tuple[Decimal, Decimal]:
    if torque.unit is printed.unit:
        return printed.low, printed.high
    low, _, high = printed.ends_in(torque.unit)
    return Decimal(repr(round(low, 2))), Decimal(repr(round(high, 2)))


def fill_remark(filled: Filled, component: Component) -> str:
    """A word on a fill that is far from what the tag says, empty if it is not."""
    refill = tag_of(component).refill
    if refill is None or abs(filled.litres - refill) <= _FAR * refill:
        return ""
    told = {"component": FromBook(component.title), "litres": filled.litres, "refill": refill}
    if filled.litres > refill:
        return saying(
            "{component}: {litres} L went in, more than the {refill} L of its tag. Look at the level again.", **told
        )
    return saying(
        "{component}: {litres} L went in, less than the {refill} L of its tag. Look at the level again.", **told
    )
