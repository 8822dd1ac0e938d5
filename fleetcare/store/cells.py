"""How single values lie in a column, and come out of it: days, instants, tenths, splits, figures."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from functools import lru_cache
from typing import Any

from fleetcare.errors import BadInput
from fleetcare.fleet.duty import DutySplit
from fleetcare.language import saying
from fleetcare.store.column_kinds import MOST_TENTHS
from fleetcare.store.gate import gated, gated_figure

Columns = dict[str, Any]
"""A row on its way in: column name to text, whole number, bytes, bool or None."""


NOT_READ = -1
"""In place of a meter value that nobody read."""


def day_text(day: date | None) -> str | None:
    """A day as stored."""
    return None if day is None else day.isoformat()


def instant_text(instant: datetime) -> str:
    """An instant as stored: UTC, microseconds always there, so that text sorts as time does."""
    if instant.tzinfo is None:
        raise ValueError("an instant has a zone")  # taken for local time it would be stored hours off
    return instant.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


def instant_or_none(instant: datetime | None) -> str | None:
    """An instant as stored, or None."""
    return None if instant is None else instant_text(instant)


def tenths(value: Decimal) -> int:
    """A meter value as whole tenths. Raises BadInput if it has more than one decimal, or is no value of a dial."""
    if not value.is_finite() or value < 0 or value * 10 > MOST_TENTHS:
        raise BadInput("No dial shows that.", remedy="Type what the dial shows, digits only.", field="value")
    whole = int(value * 10)
    if Decimal(whole) / 10 != value:
        raise BadInput(
            saying("{value} has more than one decimal.", value=value), remedy="Leave out what stands after the tenths."
        )
    return whole


def day_or_none(text: str | None) -> date | None:
    """A stored day, or None."""
    return None if text is None else date.fromisoformat(text)


def instant_of(text: str) -> datetime:
    """A stored instant, in UTC."""
    return datetime.fromisoformat(text)


def instant_of_or_none(text: str | None) -> datetime | None:
    """A stored instant, in UTC, or None."""
    return None if text is None else instant_of(text)


def from_tenths(whole: int) -> Decimal:
    """A meter value of its whole tenths; without a decimal where it has none."""
    value = Decimal(whole) / 10
    return value.quantize(Decimal(1)) if whole % 10 == 0 else value


def as_json(value: object) -> str:
    """Lists and figures as they lie in one column. Raises BadInput for a value that no database takes."""
    return json.dumps(_gated_through(value), ensure_ascii=False, separators=(",", ":"))


def _gated_through(value: object) -> object:
    """Lists through and through: in JSON a NUL is spelt out, and the gate on the row would not see it."""
    if isinstance(value, (list, tuple)):
        return [_gated_through(part) for part in value]
    return gated_figure(value) if isinstance(value, float) else gated(value)


def figure_text(value: Decimal | None) -> str | None:
    """An exact figure as stored. Raises BadInput if it is no number."""
    if value is not None and not value.is_finite():
        raise BadInput("A figure is not a number.", remedy="Type it anew.")
    return None if value is None else str(value)


@lru_cache(maxsize=1024)
def split_text(split: DutySplit | None) -> str | None:
    """A split as stored."""
    return None if split is None else as_json([[duty, share] for duty, share in split.shares])


@lru_cache(maxsize=1024)
def split_of(text: str) -> DutySplit:
    """A stored split."""
    return DutySplit(tuple((duty, share) for duty, share in json.loads(text)))


def json_object(figures: Mapping[str, Any]) -> str:
    """Named figures as they lie in one column. Raises BadInput for a value that no database takes."""
    for figure in figures.values():
        _gated_through(figure)
    return json.dumps(figures, separators=(",", ":"))
