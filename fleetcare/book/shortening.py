"""An interval cut to a part of itself, for one time."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from fleetcare.book.rows import Limits
from fleetcare.quantities import PrintedDistance


def shortened(limits: Limits, factor: Decimal) -> Limits:
    """Every limit times `factor`, which is more than 0 and at most 1. Months and weeks are rounded down, at least 1."""
    return replace(
        limits,
        distance=_part(limits.distance, factor),
        by_duty=tuple(replace(figure, distance=_part(figure.distance, factor)) for figure in limits.by_duty),
        months=_count(limits.months, factor),
        weeks=_count(limits.weeks, factor),
        hours=None if limits.hours is None else limits.hours * factor,
    )


def _part(distance: PrintedDistance | None, factor: Decimal) -> PrintedDistance | None:
    if distance is None:
        return None
    return replace(
        distance,
        km=None if distance.km is None else distance.km * factor,
        mi=None if distance.mi is None else distance.mi * factor,
    )


def _count(whole: int | None, factor: Decimal) -> int | None:
    return None if whole is None else max(1, int(whole * factor))
