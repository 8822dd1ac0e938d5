"""Killed in the middle of reading a calendar, parent or child, nothing is lost: copy and bookings stay as they were."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from fleetcare.actions.keep_calendars import add_calendar
from fleetcare.actions.ports import LineState, LogEntry
from fleetcare.actions.read_calendars import CalendarRead, read_calendar
from fleetcare.assemble import Parts, assemble
from fleetcare.calendar_in.child import answer_of_child
from fleetcare.calendar_in.limits import Limits
from fleetcare.calendar_in.told import told
from fleetcare.cli.bringing import bring_in_files
from fleetcare.errors import CalendarTrouble
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.busy import CalendarSource
from fleetcare.fleet.component import LineKey
from tests.actions.garages import SMALL_NOW
from tests.calendar_in.texts import calendar, event, task, trip
from tests.cli.small_garage import write_garage
from tests.faults.calendar_server import CalendarServer
from tests.faults.reading_process import SETTINGS
from tests.house.tree import ROOT
from tests.stand_ins import FixedClock, NumberedKeys

FIRST = trip("Lake, 900 km towing", first="20210206", end="20210209")
SECOND = trip("Lake, 100 km towing", first="20210306", end="20210309", uid="other@x")
SLOW = calendar(
    *(
        line
        for i in range(40)
        for line in event("DTSTART:19700101T000000Z", "RRULE:FREQ=DAILY;BYSETPOS=366", uid=f"u{i}")
    )
)
"""Keeps a child busy for as long as it may be."""
GIVE_UP_AFTER_S = 60.0


@pytest.fixture
def server() -> Iterator[CalendarServer]:
    with CalendarServer(body=FIRST) as running:
        yield running


@pytest.fixture
def home(tmp_path: Path, server: CalendarServer) -> Path:
    """A home whose calendar was read well once."""
    parts = open_parts(tmp_path / "home")
    bring_in_files(parts, write_garage(tmp_path / "files"))
    add_calendar(parts.store, "Pocket", server.url("good"), now=SMALL_NOW, who="test")
    parts.close()
    assert read(tmp_path / "home").put == 1
    return tmp_path / "home"


def read(home: Path) -> CalendarRead:
    """Reads Pocket's calendar in this process."""
    parts = open_parts(home)
    try:
        return read_calendar(
            parts.store,
            parts.rules,
            parts.calendar_desk,
            "po",
            clock=parts.clock,
            base_url="https://g.example",
            who="x",
        )
    finally:
        parts.close()


def open_parts(home: Path) -> Parts:
    """The home, opened in this process."""
    return assemble(home, {}, clock=FixedClock(SMALL_NOW), keys=NumberedKeys(), overrides=SETTINGS)


@dataclass(frozen=True)
class Stored:
    """What lies on the disk of a home."""

    calendars: tuple[CalendarSource, ...]
    bookings: tuple[Booking, ...]
    windows: dict[LineKey, LineState]
    log: tuple[LogEntry, ...]

    @property
    def titles(self) -> list[str]:
        """Of the bookings."""
        return [booking.title for booking in self.bookings]


def stored(home: Path) -> Stored:
    """The calendars with their copies, the bookings, the dates and the log, from the disk."""
    parts = open_parts(home)
    try:
        with parts.store.read() as view:
            return Stored(view.calendars(), view.bookings(), view.windows(), view.log())
    finally:
        parts.close()


def begun(home: Path) -> subprocess.Popen[str]:
    """A process that has begun to read."""
    reading = subprocess.Popen(
        [sys.executable, "-m", "tests.faults.reading_process", str(home)], stdout=subprocess.PIPE, text=True, cwd=ROOT
    )
    assert reading.stdout is not None
    assert reading.stdout.readline() == "begins\n"
    return reading


def killed(reading: subprocess.Popen[str]) -> str:
    """Kills it, and returns what it had said until then."""
    reading.kill()
    said, _ = reading.communicate(timeout=GIVE_UP_AFTER_S)
    return said


def children_reading(parent: int) -> list[int]:
    """Processes that take a calendar apart and were started by that one."""
    found = []
    for entry in Path("/proc").iterdir():
        if not entry.name.isdigit():
            continue
        try:
            state = (entry / "stat").read_text().rpartition(")")[2].split()
            words = (entry / "cmdline").read_bytes()
        except OSError:
            continue
        if int(state[1]) == parent and state[0] != "Z" and b"calendar_in.expanding" in words:
            found.append(int(entry.name))
    return found


def runs(process: int) -> bool:
    """Whether it does anything any more; one that nobody has asked after its end does not."""
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def waited_for(parent: int) -> int:
    """The child of that process that reads a calendar, once there is one."""
    ends_at = time.monotonic() + GIVE_UP_AFTER_S
    while time.monotonic() < ends_at:
        if found := children_reading(parent):
            return found[0]
        time.sleep(0.02)
    raise AssertionError("no child was started")


needs_proc = pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="looks for processes in /proc")


def test_killed_while_it_waits_for_the_server_nothing_is_lost(home: Path, server: CalendarServer) -> None:
    before = stored(home)
    server.body = SECOND
    server.may_answer.clear()
    asked = len(server.visits)
    reading = begun(home)
    ends_at = time.monotonic() + GIVE_UP_AFTER_S
    while len(server.visits) == asked and time.monotonic() < ends_at:
        time.sleep(0.02)
    assert killed(reading) == ""
    server.may_answer.set()
    assert stored(home) == before


@needs_proc
def test_killed_while_its_child_works_nothing_is_lost_and_the_child_ends(home: Path, server: CalendarServer) -> None:
    before = stored(home)
    server.body = SLOW
    reading = begun(home)
    child = waited_for(reading.pid)
    assert killed(reading) == ""
    ends_at = time.monotonic() + GIVE_UP_AFTER_S
    while runs(child) and time.monotonic() < ends_at:
        time.sleep(0.05)
    assert not runs(child), "it ends with who started it"
    assert stored(home) == before


@needs_proc
def test_a_child_that_is_killed_is_one_failed_reading_and_no_more(home: Path, server: CalendarServer) -> None:
    before = stored(home)
    server.body = SLOW
    reading = begun(home)
    os.kill(waited_for(reading.pid), signal.SIGKILL)
    said, _ = reading.communicate(timeout=GIVE_UP_AFTER_S)
    assert said.startswith("done It could not be read")
    after = stored(home)
    assert (after.bookings, after.windows) == (before.bookings, before.windows)
    (was,), (now,) = before.calendars, after.calendars
    assert (now.copy, now.good_at, now.failures) == (was.copy, was.good_at, 1)


@pytest.mark.parametrize("part", range(3))
def test_killed_at_any_moment_it_is_read_wholly_or_not_at_all(home: Path, server: CalendarServer, part: int) -> None:
    """Three moments over the time that one reading takes; each leaves the state before or the state after."""
    before = stored(home)
    server.body = SECOND
    reading = begun(home)
    time.sleep(0.25 * part)
    said = killed(reading)
    after = stored(home)
    if said:
        assert after.titles == ["Lake, 100 km towing"], "what it said it did is on the disk"
    if after != before:
        assert after.titles == ["Lake, 100 km towing"]
        assert after.calendars[0].copy is not None
        assert after.calendars[0].copy.events[0].title == "Lake, 100 km towing"
    assert read(home).source.trouble == ""
    assert stored(home).titles == ["Lake, 100 km towing"]


def test_a_child_gets_no_more_memory_than_its_limit() -> None:
    days = ("DTSTART;VALUE=DATE:20260501", f"DESCRIPTION:{'x' * 1800}")
    many = calendar(*(line for i in range(4900) for line in event(*days, uid=f"u{i}")))
    answer = answer_of_child(many, task(limits=Limits(memory_octets=60_000_000)))
    assert json.loads(answer) == {"refused": ["memory", {}]}
    assert "more memory" in told("memory")


def test_a_child_writes_no_more_than_its_limit() -> None:
    many = calendar(*(line for i in range(500) for line in event("DTSTART;VALUE=DATE:20260501", uid=f"u{i}")))
    with pytest.raises(CalendarTrouble):
        answer_of_child(many, task(limits=Limits(result_octets=10_000)))
