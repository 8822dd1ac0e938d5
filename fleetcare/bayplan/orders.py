"""Which services of a vehicle come after which: the garage's own orders, and those that go round in a circle."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fleetcare.bayplan.problem import After
from fleetcare.fleet.component import LineKey


@dataclass(frozen=True, slots=True)
class Order:
    """On one vehicle `then` begins no sooner than so many days after the last day of `first` (0: the same day will do).
    Both are short names of the interval book, as on pages."""

    first: str
    then: str
    gap_days: int = 0


def circles(orders: Sequence[Order]) -> tuple[tuple[str, ...], ...]:
    """Orders that go round in a circle, for each the shortest way back, each circle once: names in their order, the
    least first. No plan can keep all of a circle, so it keeps none of it (`standing_orders`)."""
    found = {_from_the_least(way) for order in orders for way in [_way_back(order, orders)] if way}
    return tuple(sorted(found))


def standing_orders(orders: Sequence[Order]) -> tuple[Order, ...]:
    """Those that are in no circle."""
    return tuple(order for order in orders if not _way_back(order, orders))


def _way_back(order: Order, orders: Sequence[Order]) -> tuple[str, ...]:
    """The shortest circle that the order is in, from its first; nothing if it is in none."""
    after: dict[str, list[str]] = {}
    for each in orders:
        after.setdefault(each.first, []).append(each.then)
    ways: dict[str, tuple[str, ...]] = {order.then: (order.first, order.then)}
    waiting = [order.then]
    while waiting and order.first not in ways:
        name = waiting.pop(0)
        for then in sorted(after.get(name, ())):
            if then not in ways:
                ways[then] = (*ways[name], then)
                waiting.append(then)
    return ways.get(order.first, ())[:-1]


def _from_the_least(way: tuple[str, ...]) -> tuple[str, ...]:
    at = way.index(min(way))
    return way[at:] + way[:at]


def afters(wanted: Mapping[LineKey, tuple[str, date]], orders: Sequence[Order]) -> dict[LineKey, tuple[After, ...]]:
    """What each service comes after. wanted: the short name and the likely day of each line.

    By each order a service comes after one other: of several of that name, after the one on its own component, else the
    one likely due last.
    """
    found: dict[LineKey, tuple[After, ...]] = {}
    kept = standing_orders(orders)
    for line, (name, _) in wanted.items():
        gaps: dict[str, int] = {}
        for order in kept:
            before = [
                (other.component == line.component, due, str(other))
                for other, (theirs, due) in wanted.items()
                if order.then == name and other.mark == line.mark and other != line and theirs == order.first
            ]
            if before:
                _, _, service = max(before)
                gaps[service] = max(order.gap_days, gaps.get(service, 0))
        if gaps:
            found[line] = tuple(After(service, gap_days) for service, gap_days in sorted(gaps.items()))
    return found
