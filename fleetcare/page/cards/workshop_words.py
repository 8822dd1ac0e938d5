"""The figures of the workshop in words: what each is called, how it is written, and what belongs together."""

from __future__ import annotations

from collections.abc import Sequence

from fleetcare.bayplan.workshop import FigureKind, OpenHours, figure_kind
from fleetcare.language import in_force, later, tr
from fleetcare.wording import grouped, joined, weekday_name

LABELS = {
    "bays": later("Bays"),
    "horizon_days": later("Planned ahead, days"),
    "max_visit_hours": later("Longest visit, hours"),
    "shift_share": later("Part of a shift that is planned, %"),
    "arrive_minutes": later("Bringing a vehicle in, minutes"),
    "opening_day": later("Opening for a day"),
    "arrive": later("Bringing a vehicle in"),
    "out_of_use_per_hour": later("An hour without the vehicle"),
    "unusual_per_hour": later("An hour outside usual hours"),
    "labour_per_hour": later("An hour of work thrown away"),
    "fluid_per_litre": later("A litre or kilogram thrown away"),
    "piece": later("A filter or seal thrown away"),
    "lateness_weight": later("How much being late weighs"),
    "late_wear_per_day": later("A day late: it wears on"),
    "late_harm_per_day": later("A day late: more would break"),
    "late_law_per_day": later("A day late: set by law"),
    "overdue_wear": later("Overdue at all: it wears on"),
    "overdue_harm": later("Overdue at all: more would break"),
    "overdue_law": later("Overdue at all: set by law"),
    "move_once": later("Moving what people know"),
    "move_per_day": later("And for each day it moves"),
    "move_near": later("Moving it within a fortnight"),
    "skip_share": later("Left for the next plan, % of a visit"),
    "skip_late_days": later("Left although it is due, days late"),
}
"""What each figure is called, by key."""

GROUPS = (
    (later("The bay"), ("bays", "horizon_days", "max_visit_hours", "shift_share", "arrive_minutes")),
    (later("A visit"), ("opening_day", "arrive", "out_of_use_per_hour", "unusual_per_hour")),
    (later("Being early"), ("labour_per_hour", "fluid_per_litre", "piece")),
    (
        later("Being late"),
        (
            *("lateness_weight", "late_wear_per_day", "late_harm_per_day", "late_law_per_day"),
            *("overdue_wear", "overdue_harm", "overdue_law"),
        ),
    ),
    (later("Moving and leaving"), ("move_once", "move_per_day", "move_near", "skip_share", "skip_late_days")),
)
"""Which figures stand together, by heading."""

PROFILES = {"household": later("a household"), "small_shop": later("a small shop")}
"""Whose figures hold where the garage has none of its own."""

SECTIONS = {
    "open": later("opening hours"),
    "closed": later("days off"),
    "skills": later("who can do what"),
    "order": later("what comes after what"),
}
"""What is no single figure, as the log calls it."""


def figure_text(key: str, value: float) -> str:
    """A figure as it is shown and typed: money with two decimals, a share in per cent, a count as it is."""
    kind = figure_kind(key)
    if kind is FigureKind.MONEY:
        told = money_text(round(value))
    elif kind is FigureKind.SHARE:
        told = f"{round(value * 100, 1):g}"
    else:
        told = f"{round(value, 3):g}"
    return told.replace(".", in_force().decimal)


def money_text(cents: int) -> str:
    """An amount with its two decimals and a point: `15.00`."""
    return f"{cents // 100}.{cents % 100:02d}"


def setup_minutes_field(name: str) -> str:
    """The field of a set-up's minutes; its words are not those of a key."""
    return f"minutes.{name}"


def setup_cost_field(name: str) -> str:
    """The field of what a set-up costs."""
    return f"cost.{name}"


def days_told(weekdays: Sequence[int]) -> str:
    """`Tuesday and Thursday`."""
    return joined([weekday_name(day) for day in weekdays])


def clock_text(minute: int) -> str:
    """A time of day: `09:00`."""
    return f"{minute // 60:02d}:{minute % 60:02d}"


def hours_told(each: OpenHours) -> str:
    """`Saturday, 09:00 to 17:00`."""
    return tr(
        "{days}, {start} to {end}",
        days=days_told(each.weekdays),
        start=clock_text(each.start),
        end=clock_text(each.end),
    )


def week_told(hours: Sequence[OpenHours]) -> str:
    """So many hours a week are open: `16.5 h`."""
    minutes = sum((each.end - each.start) * len(each.weekdays) for each in hours)
    whole, half = divmod(minutes, 60)
    return f"{grouped(whole)} h {half:02d}" if half else f"{grouped(whole)} h"
