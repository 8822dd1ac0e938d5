"""Which repeat rules are worked out, and which are not because nobody could say when they would be done."""

from __future__ import annotations

import pytest
from icalendar import vRecur

from fleetcare.calendar_in.limits import Limits
from fleetcare.calendar_in.rules import rule_trouble


@pytest.mark.parametrize(
    "rule",
    [
        *("FREQ=DAILY", "FREQ=WEEKLY;BYDAY=MO,WE", "FREQ=MONTHLY;BYDAY=-1SU", "FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=29"),
        *("FREQ=DAILY;COUNT=10000", "FREQ=DAILY;INTERVAL=3;UNTIL=20270101T000000Z", "FREQ=MONTHLY;BYMONTHDAY=-1"),
        *("FREQ=HOURLY;COUNT=10", "FREQ=DAILY;BYHOUR=8,12,16", "FREQ=YEARLY;BYMONTH=1,2;BYMONTHDAY=30"),
    ],
)
def test_rules_that_people_make_are_worked_out(rule: str) -> None:
    assert rule_trouble(vRecur.from_ical(rule), Limits()) is None


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        ("FREQ=SECONDLY", "more often than daily"),
        ("FREQ=MINUTELY;UNTIL=20991231T000000Z", "more often than daily"),
        ("FREQ=HOURLY;COUNT=1001", "more often than daily"),
        ("FREQ=DAILY;INTERVAL=0", "INTERVAL"),
        ("FREQ=DAILY;INTERVAL=-1", "INTERVAL"),
        ("FREQ=DAILY;COUNT=1000000000", "COUNT"),
        ("FREQ=DAILY;COUNT=0", "COUNT"),
        ("FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30", "no month"),
        ("FREQ=YEARLY;BYMONTH=4,6;BYMONTHDAY=31,-31", "no month"),
        ("FREQ=MONTHLY;BYMONTHDAY=32", "no month"),
        ("FREQ=DAILY;BYSECOND=" + ",".join(map(str, range(60))), "times a day"),
        ("FREQ=DAILY;BYHOUR=1,2,3,4,5,6,7;BYMINUTE=1,2,3,4,5,6,7", "times a day"),
        ("FREQ=YEARLY;BYYEARDAY=" + ",".join(["1"] * 900), "more than 800 values"),
        ("FREQ=DAILY,WEEKLY", "cannot be read"),
        ("INTERVAL=2", "cannot be read"),
        ("", "cannot be read"),
    ],
)
def test_rules_that_nobody_makes_are_not(rule: str, words: str) -> None:
    assert words in str(rule_trouble(vRecur.from_ical(rule) if rule else {}, Limits()))
