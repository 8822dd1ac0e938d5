"""The limit a measured value is judged by: what the component's tag says, else a published one."""

from __future__ import annotations

import re
from decimal import Decimal

from fleetcare.fleet.component import Component
from fleetcare.quantities import MM_PER
from fleetcare.work.findings import LimitKnown, Measure, Worse

UNKNOWN = "unknown"
"""Basis of a value on a tag that nobody vouches for; such a value judges nothing."""
_RANGE = re.compile(r"(\d+(?:\.\d+)?)\s*(?:to|–|-)\s*(\d+(?:\.\d+)?)\s*(.*)")
_FIGURE = re.compile(r"(?:at least|at most|not under|not over)?\s*(\d+(?:\.\d+)?)\s*(.*)")


def limit_on_tag(component: Component, measure: Measure) -> LimitKnown | None:
    """What the tag says of that measure, else the published limit of the book, else None.

    A fact reads `3 mm`, `0.15 to 0.23 mm` or `0.006 to 0.009 in`. One in a unit that does not convert, or of unknown
    basis, is passed over: a limit taken wrongly is worse than none.
    """
    fact = next((f for f in component.facts if f.name.casefold() == measure.tag_name.casefold()), None)
    if fact is not None and fact.basis != UNKNOWN:
        text = fact.value.strip()
        both, one = _RANGE.match(text), _FIGURE.match(text)
        source = f"the tag, {fact.basis}"
        if both is not None and (factor := _factor(both[3], measure.unit)) is not None:
            low, high = Decimal(both[1]) * factor, Decimal(both[2]) * factor
            if low <= high:
                return LimitKnown(low, high, source)
        elif both is None and one is not None and measure.worse is not Worse.OUTSIDE:
            factor = _factor(one[2], measure.unit)
            if factor is not None:
                return _one_sided(measure, Decimal(one[1]) * factor, source)
    if measure.limit is not None:
        return _one_sided(measure, measure.limit, "the book of findings")
    return None


def _one_sided(measure: Measure, limit: Decimal, source: str) -> LimitKnown:
    if measure.worse is Worse.SMALLER:
        return LimitKnown(limit, None, source)
    return LimitKnown(None, limit, source)


def _factor(rest: str, unit: str) -> Decimal | None:
    """What a figure whose unit begins `rest` is multiplied by to stand in `unit`; None if it does not convert."""
    given = rest.strip().partition(",")[0].partition(" ")[0].rstrip(".;")
    if given == unit:
        return Decimal(1)
    if given in MM_PER and unit in MM_PER:
        return Decimal(repr(MM_PER[given])) / Decimal(repr(MM_PER[unit]))
    return None
