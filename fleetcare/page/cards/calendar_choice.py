"""What a calendar holds, as boxes to tick: kinds of entries, dates, vehicles, alarms."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

from fleetcare.fleet.feed_choice import FeedAlarm, FeedChoice, Topic, WindowDate
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import later, tr
from fleetcare.page.cards.ticks import vehicle_ticks
from fleetcare.wording import days_words, sentence

KIND_FIELD, DATE_FIELD, VEHICLE_FIELD, ALARM_FIELD = "kind", "date", "vehicle", "alarm"
OTHERS_FIELD = "others"
"""Marks of vehicles that are not there to tick."""
CHOICE_ANCHOR = "#holds"
"""Where on the page they stand."""

_TOPICS = {
    Topic.DUE: (later("Services"), later("on the dates ticked below, and those past late")),
    Topic.BAY_DAYS: (later("Bay days"), later("hands on a vehicle, pencilled or inked")),
    Topic.STANDING: (later("Standing time"), later("while a vehicle must not be moved")),
    Topic.SPOKEN_FOR: (later("Days a vehicle is spoken for"), later("from the first day to the last")),
    Topic.READINGS: (later("Readings wanted"), later("a nudge; the link itself comes by mail")),
    Topic.LOOK_AGAIN: (later("Looks at findings"), later("on the day somebody set")),
    Topic.LAID_UP: (later("Vehicles laid up"), later("while their dates wait")),
}
_DATES = {
    WindowDate.EARLY: (later("Early"), later("the window opens")),
    WindowDate.LIKELY: (later("Likely"), later("the day it is reckoned for")),
    WindowDate.LATE: (later("Late"), later("the window closes")),
}


@dataclass(frozen=True, slots=True)
class Tried:
    """A form that could not be taken. where: short mark of the address, empty for a new one, or `CHOICE_ANCHOR`.

    field: the field that is wrong. typed: the name that was typed. ticked: the boxes that were ticked, field and value.
    """

    where: str
    field: str
    problem: str
    typed: str = ""
    ticked: tuple[tuple[str, str], ...] = ()
    mark: str = ""
    """A vehicle that was typed by its mark."""


@dataclass(frozen=True, slots=True)
class Tick:
    """One box to tick."""

    field: str
    value: str
    text: str
    told: str
    is_on: bool


@dataclass(frozen=True, slots=True)
class TickGroup:
    """Boxes under one heading. told: said under the heading. problem: what is wrong with them.

    others: marks typed of vehicles that are not there to tick; None where all are.
    """

    field: str
    heading: str
    told: str
    ticks: tuple[Tick, ...]
    problem: str
    others: str | None = None


def tick_groups(
    choice: FeedChoice, vehicles: Sequence[Vehicle], alarms: Sequence[FeedAlarm], tried: Tried
) -> tuple[TickGroup, ...]:
    """The boxes, by what they are about, as they stand or as somebody ticked them."""
    # A chosen alarm that the garage no longer offers stays on the page, or saving would lose it unasked.
    offered = {alarm.name: alarm for alarm in (*choice.alarms, *alarms)}
    is_tried = tried.where == CHOICE_ANCHOR
    problems: Mapping[str, str] = {tried.field: tried.problem} if is_tried else {}
    called = {vehicle.mark: vehicle.called for vehicle in vehicles}
    marks = [value for name, value in tried.ticked if name == VEHICLE_FIELD] if is_tried else choice.marks
    typed = next((value for name, value in tried.ticked if name == OTHERS_FIELD), "") if is_tried else ""
    listed = vehicle_ticks(vehicles, marks, there=choice.marks, others=typed)

    def group(
        field: str, heading: str, told: str, boxes: Sequence[tuple[str, str, str]], on: Collection[str]
    ) -> TickGroup:
        now_on = [value for name, value in tried.ticked if name == field] if is_tried else on
        ticks = tuple(Tick(field, value, text, more, value in now_on) for value, text, more in boxes)
        return TickGroup(field, heading, told, ticks, problems.get(field, ""))

    return (
        group(
            KIND_FIELD,
            tr("Kinds of entry"),
            "",
            [(key, tr(name), tr(told)) for key, (name, told) in _TOPICS.items()],
            choice.topics,
        ),
        group(
            DATE_FIELD,
            tr("Which dates of a service"),
            tr("Each one ticked is an entry of its own. Past late is always there."),
            [(key, tr(name), tr(told)) for key, (name, told) in _DATES.items()],
            choice.dates,
        ),
        group(
            ALARM_FIELD,
            tr("Alarms"),
            tr("None ticked: it never rings."),
            [(name, _alarm_words(alarm), "") for name, alarm in offered.items()],
            [alarm.name for alarm in choice.alarms],
        ),
        replace(
            group(
                VEHICLE_FIELD,
                tr("Vehicles"),
                tr("None ticked: all that you are shown.")
                if listed.others is None
                else tr("None ticked or typed: all that you are shown."),
                [(each.value, each.text, called[each.value]) for each in listed.rows],
                choice.marks,
            ),
            others=listed.others,
        ),
    )


def _alarm_words(alarm: FeedAlarm) -> str:
    minutes = alarm.at // timedelta(minutes=1)
    return tr(
        "{days} before, at {value}:{value2}",
        days=sentence(days_words(alarm.days_before)),
        value=f"{minutes // 60:02d}",
        value2=f"{minutes % 60:02d}",
    )
