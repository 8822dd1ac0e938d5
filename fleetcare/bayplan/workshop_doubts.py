"""What in the figures of a workshop leads nowhere: said by name, while everything else is planned."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from fleetcare.bayplan.garage_problem import Wanted
from fleetcare.bayplan.orders import circles
from fleetcare.bayplan.shared_setups import shared_set_ups
from fleetcare.bayplan.workshop import WorkshopPrices


@dataclass(frozen=True, slots=True)
class WorkshopDoubts:
    """circles: orders that go round, names in their order. unknown: names in orders that no service has. unpriced:
    set-ups that a job names and workshop.toml does not."""

    circles: tuple[tuple[str, ...], ...] = ()
    unknown: tuple[str, ...] = ()
    unpriced: tuple[str, ...] = ()


NO_DOUBTS = WorkshopDoubts()


def workshop_doubts(prices: WorkshopPrices, wanted: Sequence[Wanted], shorts: Collection[str]) -> WorkshopDoubts:
    """What these figures cannot mean. shorts: every short name of the interval book."""
    named = sorted({name for order in prices.orders for name in (order.first, order.then)} - set(shorts))
    shared = shared_set_ups([(each.line, each.set_ups, each.fluid) for each in wanted], prices.setups)
    return WorkshopDoubts(circles(prices.orders), tuple(named), shared.unpriced)
