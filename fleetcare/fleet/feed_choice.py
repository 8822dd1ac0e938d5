"""What a person wants in their calendar: which kinds of entry, which dates, which vehicles, which alarms."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum

from fleetcare.errors import BadInput, shown
from fleetcare.language import saying


class Topic(StrEnum):
    """Kinds of entry a person may have or leave out."""

    DUE = "due"
    BAY_DAYS = "bay-days"
    STANDING = "standing"
    SPOKEN_FOR = "spoken-for"
    READINGS = "readings"
    LOOK_AGAIN = "look-again"
    LAID_UP = "laid-up"


class WindowDate(StrEnum):
    """Which dates of a due window stand in the calendar. Past late is always shown with the topic."""

    EARLY = "early"
    LIKELY = "likely"
    LATE = "late"


FIRST_HOUR = timedelta(hours=6)
LAST_HOUR = timedelta(hours=21)
"""An alarm rings between these, on a day before. Judgement: nobody wants to be woken for engine oil."""
MOST_ALARMS = 3


@dataclass(frozen=True, slots=True)
class FeedAlarm:
    """An alarm of an all-day entry: so many days before it, at that time of the reader's day.

    name: what it is called where alarms are chosen. Raises BadInput for one that would ring at night, or on the day
    itself (some programs take such an alarm for one before midnight).
    """

    name: str
    days_before: int
    at: timedelta

    def __post_init__(self) -> None:
        if not 1 <= self.days_before <= 60:
            raise BadInput(
                saying(
                    "The alarm {name} rings {days_before} days before.",
                    name=shown(self.name),
                    days_before=self.days_before,
                ),
                remedy="Give 1 to 60 days.",
                field="days_before",
            )
        if not FIRST_HOUR <= self.at <= LAST_HOUR:
            raise BadInput(
                saying("The alarm {name} would ring at night.", name=shown(self.name)),
                remedy="Give a time between 06:00 and 21:00.",
                field="at",
            )


@dataclass(frozen=True, slots=True)
class FeedChoice:
    """What one person wants. As it stands: everything, on the likely dates, without alarms.

    marks: vehicles, of those the person is shown; empty for all of them.
    Raises BadInput if nothing would be left, or for more than three alarms.
    """

    topics: tuple[Topic, ...] = tuple(Topic)
    dates: tuple[WindowDate, ...] = (WindowDate.LIKELY,)
    marks: tuple[str, ...] = ()
    alarms: tuple[FeedAlarm, ...] = ()

    def __post_init__(self) -> None:
        if not self.topics:
            raise BadInput("A calendar without any kind of entry would be empty.", remedy="Choose one.", field="topics")
        if Topic.DUE in self.topics and not self.dates:
            raise BadInput("Due services need a date.", remedy="Choose early, likely or late.", field="dates")
        if len(self.alarms) > MOST_ALARMS:
            raise BadInput(
                saying("That is {alarms} alarms for one entry.", alarms=len(self.alarms)),
                remedy="Choose three.",
                field="alarms",
            )
        if len({(alarm.days_before, alarm.at) for alarm in self.alarms}) < len(self.alarms):
            raise BadInput("Two alarms would ring at once.", remedy="Leave one out.", field="alarms")
