"""Reads the demo garage with nothing but tomllib and csv, apart from the program's own reader."""

from __future__ import annotations

import csv
import tomllib
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from fleetcare.book.rows import BookRow, IntervalBook
from tests.book.shipped import BOOK_FILE, row_from, tables

DEMO = Path(__file__).parents[2] / "demo_fleet"
TODAY = date(2026, 4, 14)
NEW_FIELDS = ("title", "short", "components", "source", "status")


def toml(name: str) -> dict[str, Any]:
    return tomllib.loads((DEMO / name).read_text(encoding="utf-8"))


def rows(name: str) -> list[dict[str, str]]:
    with (DEMO / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file, strict=True))


def vehicles() -> dict[str, dict[str, Any]]:
    """By name, in the garage's order."""
    return {vehicle["name"]: vehicle for vehicle in toml("vehicles.toml")["vehicle"]}


def marks() -> dict[str, str]:
    return {vehicle["mark"]: name for name, vehicle in vehicles().items()}


@dataclass(frozen=True, slots=True)
class Seen:
    """A reading that counts, and the true distance behind the dial."""

    on: date
    dial: int
    true: int
    split: str


def used_readings(name: str) -> list[Seen]:
    """The used readings of one vehicle in day order, with rollovers and meter changes taken out."""
    meters = vehicles()[name].get("meter", [])
    if not meters:
        return []
    (meter,) = meters
    changes = sorted(meter.get("changes", []), key=lambda change: change["on"])
    lap = 10 ** meter.get("digits", 6)
    found: list[Seen] = []
    offset, last = 0, None
    for row in sorted((r for r in rows("readings.csv") if r["vehicle"] == name), key=lambda r: r["date"]):
        if row["state"] != "used":
            continue
        on, dial = date.fromisoformat(row["date"]), int(row["value"])
        while changes and changes[0]["on"] <= on:
            change = changes.pop(0)
            offset += change["old_end"] - change["new_start"]
            last = None
        if last is not None and dial < last and meter.get("rolls_over", False):
            offset += lap
        found.append(Seen(on, dial, dial + offset, row["split"]))
        last = dial
    return found


def duty_parts(split: str) -> dict[str, float]:
    """Shares of a split as it is written: `towing=3 daily=1`."""
    given = {duty: float(part) for duty, part in (pair.split("=") for pair in split.split())}
    return {duty: part / sum(given.values()) for duty, part in given.items()}


def merged_book() -> IntervalBook:
    """The shipped book with the garage's own changes laid over it."""
    shipped = tables(BOOK_FILE)["rows"]
    own = tables(DEMO / "book.toml")["rows"]
    merged: dict[str, BookRow] = {}
    for key in [*shipped, *(key for key in own if key not in shipped)]:
        change = {name: value for name, value in own.get(key, {}).items() if name != "reason"}
        merged[key] = row_from(key, _laid_over(shipped.get(key, {}), change))
    return IntervalBook(merged)


def _laid_over(below: dict[str, Any], above: dict[str, Any]) -> dict[str, Any]:
    """Limits field by field, duty by duty; a printed distance is one thing and is replaced whole."""
    result = dict(below)
    for name, value in above.items():
        deeper = name in {"repeat", "first", "by_duty"} and name in below
        result[name] = _laid_over(below[name], value) if deeper else value
    return result
