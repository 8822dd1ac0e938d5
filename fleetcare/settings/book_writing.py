"""A garage's own rows of the interval book as a file."""

from __future__ import annotations

import json
from collections.abc import Sequence
from decimal import Decimal

from fleetcare.settings.book_files import GivenRow
from fleetcare.settings.book_models import AfterIn, DistanceIn, DutyFigureIn, LimitsIn, ModifierIn, RowIn

_HEAD = "# Rows of the interval book that this garage changes or adds.\n"


def write_own_rows(rows: Sequence[GivenRow]) -> str:
    """A garage's own rows as a file, by key; `parse_rows` reads the same back. Empty text if there are none."""
    if not rows:
        return ""
    return _HEAD + "".join("\n" + "\n".join(_row_lines(row)) + "\n" for row in sorted(rows, key=lambda r: r.key))


def _row_lines(row: GivenRow) -> list[str]:
    head = f"rows.{row.key}"
    given, tables = row.given, []
    lines = [f"[{head}]"]
    for name in RowIn.model_fields:
        value = getattr(given, name)
        if name in given.model_fields_set and value is not None and name not in ("repeat", "first", "after"):
            lines.append(f"{name} = {_toml(value)}")
    for name, limits in (("repeat", given.repeat), ("first", given.first)):
        if limits is not None:
            tables += _limit_lines(f"{head}.{name}", limits)
    if given.after == []:
        lines.append("after = []")
    for event in given.after or ():
        tables.append(f"[[{head}.after]]")
        tables += [f"{name} = {_toml(value)}" for name, value in _set_values(event)]
    return lines + tables


def _limit_lines(head: str, limits: LimitsIn) -> list[str]:
    lines = [f"[{head}]"]
    tables = ("by_duty", "with_modifier")
    lines += [f"{name} = {_toml(value)}" for name, value in _set_values(limits) if name not in tables]
    if limits.by_duty:
        lines.append(f"[{head}.by_duty]")
        lines += [
            f"{duty} = {_toml('no wear' if figure.no_wear else figure)}" for duty, figure in limits.by_duty.items()
        ]
    if limits.with_modifier:
        lines.append(f"[{head}.with_modifier]")
        lines += [f"{name} = {_toml(value)}" for name, value in _set_values(limits.with_modifier)]
    return lines


def _set_values(model: DistanceIn | DutyFigureIn | AfterIn | LimitsIn | ModifierIn) -> list[tuple[str, object]]:
    return [
        (name, getattr(model, name))
        for name in type(model).model_fields
        if name in model.model_fields_set and getattr(model, name) is not None
    ]


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (DistanceIn, DutyFigureIn)):
        return f"{{ {', '.join(f'{name} = {_toml(inner)}' for name, inner in _set_values(value))} }}"
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(_toml(inner) for inner in value)}]"
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, int):
        return str(value)
    # a JSON string is a TOML basic string, as long as it holds no control characters; rows hold none
    return json.dumps(str(value), ensure_ascii=False)
