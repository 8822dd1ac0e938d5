"""The round: what runs when, that no failure stops it, and that failures are said."""

from __future__ import annotations

import logging
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from fleetcare.actions.ports import Change, ReadView, Store, WriteUnit
from fleetcare.assemble import Parts
from fleetcare.clock import MachineClock
from fleetcare.digest.values import DeliveryState
from fleetcare.errors import StoreBusy
from fleetcare.settings.garage_rules import RulesKept
from fleetcare.settings.settings import load_settings
from fleetcare.timetable import LATE_AFTER, Round, start_timetable
from tests.actions.garages import DEMO_NOW, demo
from tests.stand_ins import FixedClock, KeptLetters, MemoryStore


class Watched(MemoryStore):
    """A store that counts its writes by their reason, and refuses those it was told to."""

    def __init__(self, inner: MemoryStore) -> None:
        super().__init__()
        self._memory = inner._memory
        self.whys: list[str] = []
        self.refuses = ""
        self.ran = threading.Event()

    @contextmanager
    def read(self) -> Iterator[ReadView]:
        """Any read is a sign that a round runs."""
        self.ran.set()
        if self.refuses == "every read":
            raise StoreBusy("Another program holds the database.")
        with super().read() as view:
            yield view

    @contextmanager
    def write(self, change: Change, *, typed: bool = True) -> Iterator[WriteUnit]:
        """As usual, or refused."""
        self.whys.append(change.why)
        if self.refuses and change.why == self.refuses:
            raise StoreBusy("Another program holds the database.")
        with super().write(change, typed=typed) as unit:
            yield unit


def parts_with(store: Store, clock: FixedClock, home: Path, **environment: str) -> Parts:
    """Parts on that store and clock; the mailer keeps letters."""
    stage = demo()
    parts = Parts(
        settings=load_settings(home, environment),
        home=home,
        kept_rules=RulesKept(stage.rules),
        store=store,
        clock=clock,
        keys=stage.keys,
    )
    # `mailer` is worked out when it is first asked for; here it is there already.
    parts.__dict__["mailer"] = KeptLetters()
    return parts


@pytest.fixture
def store() -> Watched:
    return Watched(demo().store)


@pytest.fixture
def clock() -> FixedClock:
    return FixedClock(DEMO_NOW)


@pytest.fixture
def round_(store: Watched, clock: FixedClock, tmp_path: Path) -> Round:
    return Round(parts_with(store, clock, tmp_path), ticks_s=lambda: clock.now().timestamp())


def kept(round_: Round) -> KeptLetters:
    mailer: Any = round_.parts.mailer
    assert isinstance(mailer, KeptLetters)
    return mailer


def test_a_round_works_the_day_out_and_sends_what_is_due(round_: Round, store: Watched) -> None:
    assert round_.troubles() == ("the timetable has not run for two minutes",)
    round_.run()
    assert round_.troubles() == ()
    assert kept(round_).sent
    with store.read() as view:
        assert {d.state for d in view.deliveries()} <= {DeliveryState.SENT, DeliveryState.NOTHING}


def test_a_day_is_worked_out_once(round_: Round, store: Watched, clock: FixedClock) -> None:
    """A pass over the fleet writes in several units: its vehicles, and then the feeds."""
    round_.run()
    started = store.whys.count("the start of the program")
    for _ in range(3):
        clock.move(timedelta(seconds=30))
        round_.run()
    assert (store.whys.count("the start of the program"), store.whys.count("a new day")) == (started, 0)
    clock.move(timedelta(days=1))
    round_.run()
    a_day = store.whys.count("a new day")
    assert a_day == started > 0
    round_.run()
    assert (store.whys.count("the start of the program"), store.whys.count("a new day")) == (started, a_day)


def test_the_day_that_counts_is_the_one_in_the_garage(round_: Round, store: Watched, clock: FixedClock) -> None:
    """Denver is six hours behind UTC in April: its day begins at 06:00 UTC."""
    clock.set(DEMO_NOW.replace(hour=23))
    round_.run()
    clock.set((DEMO_NOW + timedelta(days=1)).replace(hour=5, minute=59))
    round_.run()
    assert store.whys.count("a new day") == 0
    clock.move(timedelta(minutes=2))
    round_.run()
    assert store.whys.count("a new day") > 0


@pytest.mark.parametrize(
    "step", ["every read", "the start of the program", "letters due", "letter leased", "letter sent"]
)
def test_a_failure_in_any_step_is_survived_and_said_and_made_good(
    round_: Round, store: Watched, clock: FixedClock, step: str, caplog: pytest.LogCaptureFixture
) -> None:
    store.refuses = step
    with caplog.at_level(logging.CRITICAL, logger="fleetcare.timetable"):
        round_.run()
    assert round_.troubles()
    assert {trouble.partition(": ")[2] for trouble in round_.troubles()} == {"StoreBusy"}
    store.refuses = ""
    clock.move(timedelta(minutes=20))  # a leased letter is free again by then
    round_.run()
    assert round_.troubles() == ()
    with store.read() as view:
        left = {d.state for d in view.deliveries()}
    assert left <= {DeliveryState.SENT, DeliveryState.NOTHING}
    assert kept(round_).sent


def test_a_round_that_does_not_come_is_said(round_: Round, clock: FixedClock) -> None:
    round_.run()
    clock.move(LATE_AFTER)
    assert round_.troubles() == ()
    clock.move(timedelta(seconds=1))
    assert round_.troubles() == ("the timetable has not run for two minutes",)


def test_where_letters_are_off_none_is_written(store: Watched, clock: FixedClock, tmp_path: Path) -> None:
    round_ = Round(parts_with(store, clock, tmp_path, FLEETCARE_LETTERS_ENABLED="false"))
    round_.run()
    assert round_.troubles() == ()
    with store.read() as view:
        assert view.deliveries() == ()


def test_a_home_without_a_garage_is_no_trouble(clock: FixedClock, tmp_path: Path) -> None:
    round_ = Round(parts_with(MemoryStore(), clock, tmp_path))
    round_.run()
    assert round_.troubles() == ()


def test_the_timer_runs_the_first_round_at_once_and_ends_when_it_is_told(round_: Round, store: Watched) -> None:
    scheduler = start_timetable(round_)
    try:
        assert store.ran.wait(10), "no round began"
    finally:
        scheduler.shutdown(wait=True)
    assert not scheduler.running
    assert round_.troubles() == (), "a round that began was let finish"
    assert replace(round_.parts).store is store


def test_a_timer_whose_clock_was_set_back_a_day_is_woken_all_the_same(
    round_: Round, monkeypatch: pytest.MonkeyPatch
) -> None:
    """To APScheduler, which reckons by the clock, the next moment then lies a day ahead."""
    runs = threading.Semaphore(0)
    monkeypatch.setattr(round_, "read_calendars", runs.release)
    scheduler = start_timetable(round_, watch_every_s=0.05)
    try:
        assert runs.acquire(timeout=20), "no round began"
        # Counted, not seen: a round that is woken before this line is done counts as much as one after it.
        for job in scheduler.get_jobs():
            scheduler.modify_job(job.id, next_run_time=MachineClock().now() + timedelta(days=1))
        assert runs.acquire(timeout=20), "the round sleeps for a day"
    finally:
        scheduler.shutdown(wait=True)


@pytest.mark.parametrize(("by", "told"), [(timedelta(days=-1), "back by 24.0 h"), (timedelta(hours=2), "forward by 2")])
def test_a_clock_that_is_set_while_the_program_runs_is_said_for_a_day(
    store: Watched, clock: FixedClock, tmp_path: Path, by: timedelta, told: str
) -> None:
    ticks = [0.0]
    round_ = Round(parts_with(store, clock, tmp_path), ticks_s=lambda: ticks[0])
    round_.look()
    assert round_.troubles() == ()
    clock.move(by)
    assert round_.troubles() == ("the timetable has not run for two minutes",)
    for _ in range(2):
        round_.look()
        assert [told in trouble for trouble in round_.troubles()] == [True]
    ticks[0] += 86_401.0
    clock.move(timedelta(seconds=86_401))
    round_.look()
    assert round_.troubles() == ()


def test_a_clock_set_by_some_minutes_is_no_trouble(store: Watched, clock: FixedClock, tmp_path: Path) -> None:
    round_ = Round(parts_with(store, clock, tmp_path), ticks_s=lambda: 0.0)
    clock.move(timedelta(minutes=59))
    round_.look()
    assert round_.troubles() == ()


class Waiting(KeptLetters):
    """A mail server that takes the first letter and answers only when the test lets it."""

    def __init__(self) -> None:
        super().__init__()
        self.began, self.may_answer = threading.Event(), threading.Event()

    def send(self, raw: bytes, to_mail: str, *, next_to_mail: str | None = None) -> str:
        """As usual, late."""
        self.began.set()
        assert self.may_answer.wait(30)
        return super().send(raw, to_mail)


def test_while_one_letter_waits_for_its_answer_the_others_go_over_a_second_connection(round_: Round) -> None:
    slow, quick, third = Waiting(), KeptLetters(), KeptLetters()
    round_.parts.__dict__["mailer"] = slow
    round_.parts.__dict__["second_mailer"] = quick
    round_.look()
    first = threading.Thread(target=round_.send)
    first.start()
    assert slow.began.wait(30)
    round_.send()
    assert quick.sent
    assert slow.sent == []
    slow.may_answer.set()
    first.join(30)
    everybody = [raw for _, raw in slow.sent + quick.sent]
    assert len(everybody) == len(set(everybody)) > 2
    round_.parts.__dict__["mailer"] = third
    round_.send()
    assert third.sent == []


def test_there_is_never_a_third_connection(round_: Round) -> None:
    lanes = [Waiting(), Waiting()]
    round_.parts.__dict__["mailer"], round_.parts.__dict__["second_mailer"] = lanes
    round_.look()
    threads = [threading.Thread(target=round_.send) for _ in range(2)]
    for thread in threads:
        thread.start()
    assert all(lane.began.wait(30) for lane in lanes)
    round_.send()  # comes back at once, with nothing done
    for lane in lanes:
        lane.may_answer.set()
    for thread in threads:
        thread.join(30)
    assert len(lanes[0].sent) + len(lanes[1].sent) > 2


def test_letters_that_were_written_are_sent_at_once_and_not_at_the_next_wake(round_: Round) -> None:
    scheduler = start_timetable(round_)
    try:
        ends = threading.Event()
        for _ in range(100):
            if kept(round_).sent:
                break
            ends.wait(0.1)
    finally:
        scheduler.shutdown(wait=True)
    assert kept(round_).sent, "half a minute is long when a letter lies there"
