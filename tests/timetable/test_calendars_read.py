"""The timetable reads calendars in a round of their own, so that a slow one holds up no letter."""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from fleetcare.actions.ports import Change
from fleetcare.actions.read_calendars import CalendarDesk
from fleetcare.assemble import Parts
from fleetcare.clock import MachineClock
from fleetcare.errors import StoreBusy
from fleetcare.fleet.busy import CalendarAnswer, CalendarOwner, CalendarSource
from fleetcare.intake.numbers import parse_amount
from fleetcare.settings.garage_rules import RulesKept
from fleetcare.settings.settings import load_settings
from fleetcare.timetable import Round, start_timetable
from tests.actions.garages import SMALL_NOW, small
from tests.stand_ins import FixedClock, HandedCalendars, KeptLetters


class SlowCalendars(HandedCalendars):
    """Answers only when the test lets it."""

    def __init__(self) -> None:
        super().__init__()
        self.began, self.may_answer = threading.Event(), threading.Event()

    def read(self, source: CalendarSource, *, zone: str, today: date) -> CalendarAnswer:
        """What it was handed, after a while."""
        self.began.set()
        assert self.may_answer.wait(30)
        return super().read(source, zone=zone, today=today)


def parts_with(reader: HandedCalendars, home: Path, **environment: str) -> Parts:
    """A small garage with a calendar of its bay."""
    stage = small()
    with stage.store.write(Change("test", "x", SMALL_NOW)) as unit:
        unit.put_calendar(CalendarSource("bay", CalendarOwner.BAY, "bay", "https://calendar.example/x"))
    parts = Parts(
        settings=load_settings(home, environment),
        home=home,
        kept_rules=RulesKept(stage.rules),
        store=stage.store,
        clock=FixedClock(MachineClock().now()),
        keys=stage.keys,
    )
    # Both are worked out when they are first asked for; here they are there already.
    parts.__dict__["mailer"] = KeptLetters()
    parts.__dict__["calendar_desk"] = CalendarDesk(reader, parse_amount)
    return parts


def test_letters_go_out_while_a_calendar_is_still_being_read(tmp_path: Path) -> None:
    slow = SlowCalendars()
    round_ = Round(parts_with(slow, tmp_path))
    scheduler = start_timetable(round_)
    try:
        assert slow.began.wait(30)
        ended = threading.Event()
        for _ in range(300):
            if round_.last_run_at is not None:
                break
            ended.wait(0.1)
        assert round_.last_run_at is not None, "the round of letters has run"
        assert slow.asked == []
    finally:
        slow.may_answer.set()
        scheduler.shutdown(wait=True)
    assert slow.asked == ["bay"]


def test_calendars_can_be_turned_off(tmp_path: Path) -> None:
    reader = HandedCalendars()
    Round(parts_with(reader, tmp_path, FLEETCARE_CALENDARS_ENABLED="no")).read_calendars()
    assert reader.asked == []


def test_a_store_that_is_busy_is_logged_and_tried_again(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    class BusyCalendars(HandedCalendars):
        """The store fails while a calendar is read."""

        def read(self, source: CalendarSource, *, zone: str, today: date) -> CalendarAnswer:
            """Never anything."""
            raise StoreBusy("Another program holds the database.")

    parts = parts_with(BusyCalendars(), tmp_path)
    Round(parts).read_calendars()
    assert "reading calendars failed" in caplog.text
    good = HandedCalendars()
    parts.__dict__["calendar_desk"] = replace(parts.calendar_desk, reader=good)
    Round(parts).read_calendars()
    assert good.asked == ["bay"]
