"""The numbers of the calendars: the shipped file says what the code says, and a fault is named with its line."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from fleetcare.calendar_feed.rules import FeedRules
from fleetcare.errors import BadFile
from fleetcare.fleet.feed_choice import FeedAlarm
from fleetcare.settings.feed_file import load_feed_rules
from fleetcare.settings.places import SHIPPED_FEEDS, shipped_config

SHIPPED = shipped_config() / SHIPPED_FEEDS


def test_the_shipped_file_carries_the_figures_of_the_code() -> None:
    rules = load_feed_rules(SHIPPED)
    assert replace(rules, alarms=()) == FeedRules()
    assert [(alarm.name, alarm.days_before) for alarm in rules.alarms] == [("day", 1), ("week", 7), ("fortnight", 14)]


def test_a_home_changes_what_it_names_and_leaves_the_rest(tmp_path: Path) -> None:
    own = tmp_path / "calendar_feed.toml"
    own.write_text('[calm]\ncalm_days = 7\n[[alarm]]\nname = "month"\ndays_before = 30\nat = "08:30"\n')
    rules = load_feed_rules(SHIPPED, own)
    assert rules.calm_days == 7
    assert rules.calm_share == 0.1
    assert rules.alarms == (FeedAlarm("month", 30, timedelta(hours=8, minutes=30)),)
    assert load_feed_rules(SHIPPED, tmp_path / "none.toml") == load_feed_rules(SHIPPED)


@pytest.mark.parametrize(
    ("text", "line", "part"),
    [
        ("[calm]\ncalm_days = 0\n", 2, "calm_days"),
        ("[calm]\ncalm_dayz = 3\n", 2, "calm_dayz"),
        ('[calm]\n\ncalm_days = "3"\n', 3, "number"),
        ("[calm]\ncalm_days = true\n", 2, "number"),
        ("[calm]\ncalm_days = 2.5\n", 2, "number"),
        ('[[alarm]]\nname = "a"\n', 1, "days_before"),
        ('[[alarm]]\nname = "a"\ndays_before = 0\nat = "09:00"\n', 1, "1 to 60"),
        ('[[alarm]]\nname = "a"\ndays_before = 1\nat = "23:00"\n', 1, "night"),
        ('[[alarm]]\nname = "a"\ndays_before = 1\nat = "nine"\n', 1, "at a time"),
        ('[[alarm]]\nname = "off"\ndays_before = 1\nat = "09:00"\n', 1, "off"),
    ],
)
def test_a_number_that_cannot_be_is_named_with_its_line(tmp_path: Path, text: str, line: int, part: str) -> None:
    own = tmp_path / "calendar_feed.toml"
    own.write_text(text)
    with pytest.raises(BadFile) as refused:
        load_feed_rules(SHIPPED, own)
    (fault,) = refused.value.faults
    assert (fault.file, fault.line) == ("calendar_feed.toml", line)
    assert part in f"{fault.what} {fault.instead}"
