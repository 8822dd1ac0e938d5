"""The figures of the workshop from their file, each with what it means."""

from __future__ import annotations

from dataclasses import dataclass, fields
from decimal import Decimal
from pathlib import Path
from typing import Any

from fleetcare.bayplan.problem import SetUp
from fleetcare.bayplan.workshop import Figure, WorkshopPrices
from fleetcare.errors import BadFile, BadInput, Fault, shown
from fleetcare.settings.reading_files import text_of
from fleetcare.settings.toml_text import TomlText

PROFILES = ("household", "small_shop")
_KEYS = tuple(one.name for one in fields(WorkshopPrices) if one.name != "setups")
_COUNTS = frozenset({"horizon_days", "max_visit_hours", "arrive_minutes", "skip_late_days"})
_SHARES = frozenset({"shift_share", "lateness_weight", "skip_share"})
_OF_FIGURE = {"value", "small_shop", "means", "status"}
_OF_SETUP = {"name", "minutes", "cost", "means", "status"}


@dataclass(frozen=True, slots=True)
class Workshop:
    """The figures, and beside each (by key; set-ups by name) its meaning and status."""

    prices: WorkshopPrices
    figures: dict[str, Figure]


def load_workshop(shipped: Path, own: Path | None = None) -> Workshop:
    """The figures of `shipped`, and over them those of `own` if that file is there.

    own: may hold only what it changes; its set-ups are added, or replace those of the same name. Raises BadFile, with
    the line, for a key that is unknown or a figure that cannot be.
    """
    documents = [TomlText(text_of(shipped), shipped.name)]
    if own is not None and own.is_file():
        documents.append(TomlText(text_of(own), own.name))
    profile = PROFILES[0]
    for document in documents:
        profile = _profile(document, profile)
    values: dict[str, Any] = {}
    figures: dict[str, Figure] = {}
    setups: dict[str, SetUp] = {}
    for document in documents:
        for key, table in document.tables.items():
            if key == "profile":
                continue
            if key == "setup":
                _take_setups(document, table, setups, figures)
            else:
                _take_figure(document, key, table, profile, values, figures)
    missing = [key for key in _KEYS if key not in values]
    if missing:
        raise _fault(documents[0], 0, f"The figure {missing[0]} is missing.", "Add its table.")
    try:
        prices = WorkshopPrices(**values, setups=tuple(setups.values()))
    except BadInput as bad:
        at = next((each for each in reversed(documents) if bad.field in each.tables), documents[0])
        raise _fault(at, at.line(bad.field), bad.what, bad.remedy) from None
    return Workshop(prices, figures)


def _profile(document: TomlText, before: str) -> str:
    given = document.tables.get("profile", before)
    if given not in PROFILES:
        raise _fault(
            document,
            document.line("profile"),
            f"The profile is {shown(str(given))}.",
            'Write "household" or "small_shop".',
        )
    return str(given)


def _take_figure(
    document: TomlText, key: str, table: Any, profile: str, values: dict[str, Any], figures: dict[str, Figure]
) -> None:
    if key not in _KEYS:
        raise _fault(document, document.line(key), f"There is no figure called {shown(key)}.", "Take it out.")
    if not isinstance(table, dict):
        raise _fault(document, document.line(key), f"{key} is no table.", f"Write [{key}] and under it value = 1.")
    for name in table:
        if name not in _OF_FIGURE:
            raise _fault(document, document.line(key, name), f"There is no key called {shown(name)}.", "Take it out.")
    for name in ("value", "small_shop"):
        if name in table and (name == "value" or profile == "small_shop"):
            values[key] = _number(document, (key, name), table[name], key)
    known = figures.get(key)
    means, status = table.get("means", known.means if known else ""), table.get("status", "set by this garage")
    figures[key] = Figure(str(means), str(status))


def _take_setups(document: TomlText, tables: Any, setups: dict[str, SetUp], figures: dict[str, Figure]) -> None:
    for at, table in enumerate(tables if isinstance(tables, list) else [tables]):
        line = document.line("setup", at)
        if not isinstance(table, dict) or not {"name", "minutes", "cost"} <= set(table) <= _OF_SETUP:
            raise _fault(document, line, "A set-up has a name, minutes and cost.", "Write these three.")
        name = str(table["name"]).strip()
        minutes = _number(document, ("setup", at, "minutes"), table["minutes"], "arrive_minutes")
        cents = _number(document, ("setup", at, "cost"), table["cost"], "arrive")
        if not name or minutes < 0 or cents < 0:
            raise _fault(document, line, "A set-up has a name, and nothing less than nought.", "Correct it.")
        setups[name] = SetUp(name, int(minutes), int(cents))
        figures[name] = Figure(str(table.get("means", "")), str(table.get("status", "set by this garage")))


def _number(document: TomlText, path: tuple[str | int, ...], given: Any, key: str) -> float:
    """A count as it stands, a share as it stands, money as cents."""
    if isinstance(given, bool) or not isinstance(given, (int, Decimal)):
        raise _fault(document, document.line(*path), f"{path[0]} is {shown(str(given))}.", "Write a number.")
    exact = Decimal(given)
    if not exact.is_finite() or abs(exact) > 10**9:
        raise _fault(document, document.line(*path), f"{path[0]} is {shown(str(given))}.", "Write a smaller number.")
    if key in _SHARES:
        return float(exact)
    whole = exact if key in _COUNTS else exact * 100
    if whole != whole.to_integral_value():
        what = "a whole number" if key in _COUNTS else "whole cents"
        raise _fault(document, document.line(*path), f"{path[0]} is {shown(str(given))}.", f"Write {what}.")
    return int(whole)


def _fault(document: TomlText, line: int, what: str, remedy: str) -> BadFile:
    return BadFile([Fault(document.file, line, what, remedy)])
