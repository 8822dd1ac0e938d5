"""The figures of the workshop from their file, each with what it means."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

from fleetcare.bayplan.orders import Order
from fleetcare.bayplan.problem import SetUp
from fleetcare.bayplan.workshop import FIGURES, Figure, FigureKind, OpenHours, WorkshopPrices, figure_kind
from fleetcare.errors import BadFile, BadInput, Fault, shown
from fleetcare.language import saying
from fleetcare.settings.days_off import DaysOff
from fleetcare.settings.reading_files import text_of
from fleetcare.settings.toml_text import TomlText
from fleetcare.wording import WEEKDAYS

PROFILES = ("household", "small_shop")
MOST_GAP_DAYS = 1_000
_OF_FIGURE = {"value", "small_shop", "means", "status"}
_DAYS = tuple(day.casefold() for day in WEEKDAYS)
_TIME = re.compile(r"([01]?[0-9]|2[0-3]):([0-5][0-9])")
_OF_OPEN = {"days", "from", "until", "people", "unusual", "means", "status"}
_OF_CLOSED = {"country", "region", "also", "open_on", "means", "status"}
_OF_SETUP = {"name", "minutes", "cost", "means", "status"}
_OF_ORDER = {"first", "then", "gap_days", "means", "status"}


@dataclass(frozen=True, slots=True)
class Workshop:
    """The figures, and beside each (by key; set-ups by name) its meaning and status."""

    prices: WorkshopPrices
    figures: dict[str, Figure]
    hours: tuple[OpenHours, ...] = ()
    days_off: DaysOff = field(default_factory=DaysOff)
    skills: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """What each person may do, by key; empty: nobody has said, and everybody may do everything."""
    profile: str = PROFILES[0]


def load_workshop(shipped: Path, own: Path | None = None) -> Workshop:
    """The figures of `shipped`, and over them those of `own` if that file is there.

    own: may hold only what it changes; its set-ups are added, or replace those of the same name. Raises BadFile, with
    the line, for a key that is unknown or a figure that cannot be.
    """
    documents = [TomlText(text_of(shipped), shipped.name)]
    if own is not None and own.is_file():
        documents.append(TomlText(text_of(own), own.name))
    return workshop_of(documents)


def workshop_of(documents: Sequence[TomlText]) -> Workshop:
    """The figures of the first text, and over them those of the others. Raises BadFile as `load_workshop`."""
    profile = PROFILES[0]
    for document in documents:
        profile = _profile(document, profile)
    values: dict[str, Any] = {}
    figures: dict[str, Figure] = {}
    setups: dict[str, SetUp] = {}
    orders: dict[tuple[str, str], Order] = {}
    skills: dict[str, tuple[str, ...]] = {}
    opened: tuple[TomlText, Any] | None = None
    closed: tuple[TomlText, Any] | None = None
    for document in documents:
        for key, table in document.tables.items():
            if key == "profile":
                continue
            if key == "closed":
                closed = (document, table)
                continue
            if key == "skills":
                skills = _skills(document, table)
                continue
            if key == "open":
                opened = (document, table)
                continue
            if key == "order":
                _take_orders(document, table, orders, figures)
            elif key == "setup":
                _take_setups(document, table, setups, figures)
            else:
                _take_figure(document, key, table, profile, values, figures)
    missing = [key for key in FIGURES if key not in values]
    if missing:
        raise _fault(documents[0], 0, saying("The figure {missing} is missing.", missing=missing[0]), "Add its table.")
    try:
        prices = WorkshopPrices(**values, setups=tuple(setups.values()), orders=tuple(orders.values()))
    except BadInput as bad:
        at = next((each for each in reversed(documents) if bad.field in each.tables), documents[0])
        raise _fault(at, at.line(bad.field), bad.what, bad.remedy) from None
    hours = () if opened is None else _hours(*opened, prices.unusual_per_hour)
    return Workshop(prices, figures, hours, DaysOff() if closed is None else _days_off(*closed), skills, profile)


def _profile(document: TomlText, before: str) -> str:
    given = document.tables.get("profile", before)
    if given not in PROFILES:
        raise _fault(
            document,
            document.line("profile"),
            saying("The profile is {given}.", given=shown(str(given))),
            'Write "household" or "small_shop".',
        )
    return str(given)


def _take_figure(
    document: TomlText, key: str, table: Any, profile: str, values: dict[str, Any], figures: dict[str, Figure]
) -> None:
    if key not in FIGURES:
        raise _fault(
            document, document.line(key), saying("There is no figure called {key}.", key=shown(key)), "Take it out."
        )
    if not isinstance(table, dict):
        raise _fault(
            document,
            document.line(key),
            saying("{key} is no table.", key=key),
            saying("Write [{key}] and under it value = 1.", key=key),
        )
    for name in table:
        if name not in _OF_FIGURE:
            raise _fault(
                document,
                document.line(key, name),
                saying("There is no key called {name}.", name=shown(name)),
                "Take it out.",
            )
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


def _take_orders(
    document: TomlText, tables: Any, orders: dict[tuple[str, str], Order], figures: dict[str, Figure]
) -> None:
    """An order that is there already gets another gap. One that goes round in a circle with others is no fault of the
    file: whoever plans says so by name."""
    for at, table in enumerate(tables if isinstance(tables, list) else [tables]):
        line = document.line("order", at)
        if not isinstance(table, dict) or not {"first", "then"} <= set(table) <= _OF_ORDER:
            raise _fault(document, line, "An order has first and then.", 'Write first = "axle oil" and then = "hubs".')
        first, then = str(table["first"]).strip(), str(table["then"]).strip()
        gap = table.get("gap_days", 0)
        if not first or not then or isinstance(gap, bool) or not isinstance(gap, int) or not 0 <= gap <= MOST_GAP_DAYS:
            remedy = f"Name both, and write gap_days from 0 to {MOST_GAP_DAYS}."
            raise _fault(document, line, "An order has two services and whole days between them.", remedy)
        orders[first, then] = Order(first, then, gap)
        figures[f"{first}, then {then}"] = Figure(
            str(table.get("means", "")), str(table.get("status", "set by this garage"))
        )


def _skills(document: TomlText, table: Any) -> dict[str, tuple[str, ...]]:
    line = document.line("skills")
    if not isinstance(table, dict):
        raise _fault(document, line, "skills is no table.", 'Write [skills] and under it ines = ["brakes"].')
    for key, given in table.items():
        if not isinstance(given, list) or not all(isinstance(each, str) and each.strip() for each in given):
            at = document.line("skills", key)
            raise _fault(
                document, at, saying("The skills of {key} are no list of words.", key=shown(key)), 'Write ["brakes"].'
            )
    return {key: tuple(dict.fromkeys(each.strip() for each in given)) for key, given in table.items()}


def _days_off(document: TomlText, table: Any) -> DaysOff:
    line = document.line("closed")
    if not isinstance(table, dict) or not set(table) <= _OF_CLOSED:
        raise _fault(document, line, "[closed] has country, region, also and open_on.", "Write only these.")
    also, open_on = table.get("also", {}), table.get("open_on", [])
    if not isinstance(also, dict) or not all(isinstance(why, str) for why in also.values()):
        raise _fault(document, line, "also is a table of days.", 'Write also = { 2026-12-24 = "inventory" }.')
    try:
        days = tuple((date.fromisoformat(day), why) for day, why in also.items())
        opened = tuple(day if isinstance(day, date) else date.fromisoformat(day) for day in open_on)
    except (TypeError, ValueError):
        raise _fault(document, line, "A day in [closed] is none.", "Write days as 2026-12-24.") from None
    words = [table.get(key, "") for key in ("country", "region")]
    if not all(isinstance(word, str) for word in words):
        raise _fault(document, line, "country and region are codes.", 'Write them as in country = "DE".')
    try:
        return DaysOff(words[0].strip().upper(), words[1].strip().upper(), days, opened)
    except BadInput as bad:
        raise _fault(document, document.line("closed", bad.field), bad.what, bad.remedy) from None


def _hours(document: TomlText, tables: Any, unusual_per_hour: int) -> tuple[OpenHours, ...]:
    found = []
    for at, table in enumerate(tables if isinstance(tables, list) else [tables]):
        line = document.line("open", at)
        if not isinstance(table, dict) or not {"days", "from", "until"} <= set(table) <= _OF_OPEN:
            raise _fault(document, line, "Open hours have days, from and until.", "Write these three.")
        days, people = table["days"], table.get("people", [])
        if not isinstance(days, list) or not days or not set(days) <= set(_DAYS):
            raise _fault(document, line, "days are weekdays.", 'Write them as in ["saturday", "sunday"].')
        if not isinstance(people, list) or not all(isinstance(each, str) for each in people):
            raise _fault(document, line, "people are keys of persons.", 'Write them as in ["ines"].')
        start, end = (_minute(document, line, table[key]) for key in ("from", "until"))
        if end <= start:
            raise _fault(document, line, "The workshop would close before it opens.", "Write until after from.")
        unusual = table.get("unusual") is True
        premium = round(unusual_per_hour / 60) if unusual else 0
        weekdays = tuple(sorted(_DAYS.index(day) for day in set(days)))
        found.append(OpenHours(weekdays, start, end, tuple(people), premium, unusual))
    return tuple(found)


def _minute(document: TomlText, line: int, given: Any) -> int:
    found = _TIME.fullmatch(str(given))
    if found is None:
        raise _fault(
            document,
            line,
            saying("{given} is no time of day.", given=shown(str(given))),
            'Write it as "09:00", of 24 hours.',
        )
    return int(found[1]) * 60 + int(found[2])


def _number(document: TomlText, path: tuple[str | int, ...], given: Any, key: str) -> float:
    """A count as it stands, a share as it stands, money as cents."""
    if isinstance(given, bool) or not isinstance(given, (int, Decimal)):
        raise _fault(
            document,
            document.line(*path),
            saying("{path} is {given}.", path=path[0], given=shown(str(given))),
            "Write a number.",
        )
    exact = Decimal(given)
    if not exact.is_finite() or abs(exact) > 10**9:
        raise _fault(
            document,
            document.line(*path),
            saying("{path} is {given}.", path=path[0], given=shown(str(given))),
            "Write a smaller number.",
        )
    kind = figure_kind(key)
    if kind in (FigureKind.SHARE, FigureKind.WEIGHT):
        return float(exact)
    whole = exact if kind is FigureKind.COUNT else exact * 100
    if whole != whole.to_integral_value():
        what = saying("a whole number") if kind is FigureKind.COUNT else saying("whole cents")
        raise _fault(
            document,
            document.line(*path),
            saying("{path} is {given}.", path=path[0], given=shown(str(given))),
            saying("Write {what}.", what=what),
        )
    return int(whole)


def _fault(document: TomlText, line: int, what: str, remedy: str) -> BadFile:
    return BadFile([Fault(document.file, line, what, remedy)])
