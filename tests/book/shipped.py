"""Reads the shipped book strictly, by a way of its own, so that the book is judged apart from the program's reader."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from pathlib import Path
from typing import Any

from fleetcare.book.rows import AfterEvent, BookRow, DutyFigure, IntervalBook, IntervalRule, Limits, Mixing, Status
from fleetcare.fleet.vehicle import VehicleKind
from fleetcare.quantities import KM_PER_MILE, DistanceUnit, PrintedDistance

CONFIG = Path(__file__).parents[2] / "config"
BOOK_FILE = CONFIG / "interval_book.toml"
DUTIES_FILE = CONFIG / "duty_cycles.toml"

_ROW_KEYS = {
    *("title", "short", "components", "vehicles", "action", "source", "status", "note", "proposed", "look_first"),
    *("give_days", "mixing", "repeat", "first", "after"),
}


def shipped_book() -> IntervalBook:
    rows = tables(BOOK_FILE)["rows"]
    return IntervalBook({key: row_from(key, dict(table)) for key, table in rows.items()})


def shipped_duties() -> dict[str, dict[str, Any]]:
    duties: dict[str, dict[str, Any]] = tables(DUTIES_FILE)["duties"]
    return duties


def tables(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"), parse_float=Decimal)


def row_from(key: str, table: dict[str, Any]) -> BookRow:
    """One row; raises on a key that the format does not know."""
    assert set(table) <= _ROW_KEYS, (key, set(table) - _ROW_KEYS)
    return BookRow(
        key=key,
        title=table["title"],
        short=table["short"],
        components=tuple(table["components"]),
        vehicles=tuple(VehicleKind(kind) for kind in table.get("vehicles", ())),
        rule=IntervalRule(
            repeat=_limits(table.get("repeat", {})),
            first=_limits(table["first"]) if "first" in table else None,
            after=tuple(_after(dict(entry)) for entry in table.get("after", ())),
            mixing=Mixing(table.get("mixing", "blend")),
        ),
        source=table["source"],
        status=Status(table["status"]),
        action=table.get("action", ""),
        note=table.get("note", ""),
        proposed=table.get("proposed", True),
        give_days=table.get("give_days"),
        look_first=table.get("look_first", True),
    )


def events_of(book: IntervalBook) -> set[str]:
    """Every event that some row waits for."""
    return {after.event for row in book.rows.values() for after in row.rule.after}


def limits_of(row: BookRow) -> tuple[Limits, ...]:
    return (row.rule.repeat,) if row.rule.first is None else (row.rule.first, row.rule.repeat)


def printed_distances(row: BookRow) -> list[PrintedDistance]:
    """Every distance a row prints: plain, by duty, first, and after events."""
    found = [after.distance for after in row.rule.after]
    for limits in limits_of(row):
        found += [limits.distance, *(figure.distance for figure in limits.by_duty)]
    return [distance for distance in found if distance is not None]


def pair_gap(printed: PrintedDistance) -> float | None:
    """By which share the other figure of a printed pair is longer than the reckoned one; None if there is no pair."""
    if printed.km is None or printed.mi is None:
        return None
    other_km = float(printed.mi) * KM_PER_MILE if printed.primary is DistanceUnit.KM else float(printed.km)
    return other_km / printed.in_km - 1.0


def _limits(table: dict[str, Any]) -> Limits:
    assert set(table) <= {"distance", "months", "weeks", "hours", "by_duty", "with_modifier"}, table
    hours = table.get("hours")
    return Limits(
        distance=_distance(table["distance"]) if "distance" in table else None,
        by_duty=tuple(_duty(duty, figure) for duty, figure in sorted(table.get("by_duty", {}).items())),
        months=table.get("months"),
        weeks=table.get("weeks"),
        hours=None if hours is None else Decimal(hours),
        with_modifier=_limits(table["with_modifier"]) if "with_modifier" in table else None,
    )


def _duty(duty: str, figure: str | dict[str, Any]) -> DutyFigure:
    if isinstance(figure, str):
        assert figure == "no wear", figure
        return DutyFigure(duty, None)
    rest = {name: value for name, value in figure.items() if name != "waived_by"}
    return DutyFigure(duty, _distance(rest), tuple(figure.get("waived_by", ())))


def _after(table: dict[str, Any]) -> AfterEvent:
    event, days, hours = table.pop("event"), table.pop("days", None), table.pop("hours", None)
    return AfterEvent(event, _distance(table) if table else None, days, None if hours is None else Decimal(hours))


def _distance(table: dict[str, Any]) -> PrintedDistance:
    assert set(table) <= {"km", "mi", "primary"}, table
    assert ("primary" in table) == ({"km", "mi"} <= set(table)), table
    primary = table.get("primary") or ("km" if "km" in table else "mi")
    figures = {unit: Decimal(table[unit]) for unit in ("km", "mi") if unit in table}
    return PrintedDistance(DistanceUnit(primary), **figures)
