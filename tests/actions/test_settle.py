"""What follows a write: windows worked out again, each move logged with its cause, feeds renewed."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from fleetcare.actions.check_promises import check_promises
from fleetcare.actions.close_work import close_work
from fleetcare.actions.links import make_key, open_key
from fleetcare.actions.look_ahead import look_ahead
from fleetcare.actions.note_event import note_event
from fleetcare.actions.ports import Change
from fleetcare.actions.record_reading import Given, Recorded, record_reading
from fleetcare.actions.refresh import refresh
from fleetcare.actions.settle import state_in_words
from fleetcare.errors import NotAllowed
from fleetcare.fleet.access import Purpose
from fleetcare.fleet.booking import UseEvent
from fleetcare.fleet.component import LineKey
from fleetcare.intake.splits import parse_split
from fleetcare.meter.reading import Door
from fleetcare.work.record import Finding
from tests.actions.garages import BASE_URL, DEMO_NOW, SMALL_NOW, Stage, demo, log_of, pocket_leaves, small
from tests.stand_ins import MemoryStore

TODAY = date(2026, 4, 14)


def read_anvil(stage: Stage, value: str = "113300") -> Recorded:
    given = Given("Anvil", Decimal(value), "teo", Door.COMMAND)
    recorded = record_reading(stage.store, stage.rules, given, now=DEMO_NOW, base_url=BASE_URL)
    assert isinstance(recorded, Recorded)
    return recorded


def test_each_window_that_moved_is_logged_with_its_cause_and_only_those() -> None:
    stage = demo()
    with stage.store.read() as view:
        before, logged = view.windows(), len(view.log())
    recorded = read_anvil(stage)
    with stage.store.read() as view:
        after = view.windows()
        new = view.log()[: len(view.log()) - logged]
    moved = {key for key in after if after[key] != before.get(key)}
    assert moved == {each.line.key for each in recorded.settled.moved} != set()
    entries = [entry for entry in new if entry.what == "due window"]
    assert sorted(entry.subject for entry in entries) == sorted(str(key) for key in moved)
    for entry in entries:
        key = LineKey(*entry.subject.split("/"))
        assert (entry.before, entry.after) == (state_in_words(before[key]), state_in_words(after[key]))
        assert (entry.change.who, entry.change.at) == ("teo", DEMO_NOW)
        assert entry.change.why == "the reading of 14 April 2026"
    assert {key.mark for key in moved} == {"AN"}


def test_a_line_that_is_gone_is_dropped_and_logged() -> None:
    stage = demo()
    with stage.store.write(Change("test", "the hitch is sold", DEMO_NOW)) as unit:
        anvil = next(v for v in unit.vehicles() if v.mark == "AN")
        unit.put_vehicle(replace(anvil, components=tuple(c for c in anvil.components if c.key != "hitch")))
    refresh(stage.store, stage.rules, now=DEMO_NOW, base_url=BASE_URL, why="looked again")
    key = LineKey("AN", "hitch", "hitch-bolts")
    with stage.store.read() as view:
        assert key not in view.windows()
        newest = view.log(str(key))[0]
    assert (newest.after, newest.change.why) == ("the line is gone", "looked again")
    assert check_promises(stage.store, stage.rules, now=DEMO_NOW).broken == ()


def test_a_new_day_is_worked_out_with_every_change_under_its_reason() -> None:
    """Without a new reading a day moves little; Pocket leaves the fleet, and its lines have no date from that day."""
    stage = demo()
    tomorrow = DEMO_NOW + timedelta(days=1)
    pocket_leaves(stage, TODAY + timedelta(days=1))
    came = refresh(stage.store, stage.rules, now=tomorrow, base_url=BASE_URL, why="a new day")
    assert came is not None
    entries = [entry for entry in log_of(stage.store, "due window") if entry.change.at == tomorrow]
    assert len(entries) == came.moved > 0
    assert {entry.subject.partition("/")[0] for entry in entries} == {"PO"}
    assert {(entry.change.why, entry.after) for entry in entries} == {("a new day", "out of the fleet")}
    with stage.store.read() as view:
        version = view.version()
    again = refresh(stage.store, stage.rules, now=tomorrow, base_url=BASE_URL, why="a new day")
    assert again is not None
    assert again.moved == 0
    with stage.store.read() as view:
        assert view.version() == version, "the same day worked out twice writes nothing"


def test_without_a_garage_there_is_nothing_to_work_out() -> None:
    assert refresh(MemoryStore(), demo().rules, now=DEMO_NOW, base_url=BASE_URL, why="started") is None


def test_work_restarts_its_line_from_the_measured_value() -> None:
    stage = demo()
    closed = close_work(
        stage.store,
        stage.rules,
        now=DEMO_NOW,
        base_url=BASE_URL,
        who="teo",
        vehicle_name="Anvil",
        service="rear axle fluid",
        at=Decimal(113_100),
        findings=(Finding("paste on the magnet", look_again_on=date(2026, 7, 1)),),
    )
    assert (closed.known, closed.line.last_done_on) == (False, TODAY)
    ahead = look_ahead(stage.store, stage.rules, now=DEMO_NOW, marks=("AN",))
    (line,) = (each for each in ahead.outlooks[0].lines if each.key == closed.line.key)
    assert any("113\u2009100 mi" in step.text for step in line.steps), "it counts from what the dial showed"
    (entry,) = log_of(stage.store, "work done")[-1:]
    assert entry.after == "2026-04-14 at 113100 mi; found: paste on the magnet"
    assert check_promises(stage.store, stage.rules, now=DEMO_NOW).broken == ()


def test_a_later_reading_wears_the_line_from_the_measured_value_on() -> None:
    """25 000 towing miles are the limit of the demo, 50 000 daily ones: 500 daily miles are one hundredth."""
    stage = demo()
    words = {"now": DEMO_NOW, "base_url": BASE_URL}
    close_work(
        stage.store,
        stage.rules,
        who="teo",
        vehicle_name="AN",
        service="rear axle fluid",
        at=Decimal(113_100),
        **words,  # type: ignore[arg-type]
    )
    next_week = DEMO_NOW + timedelta(days=7)
    given = Given("AN", Decimal(113_600), "teo", Door.COMMAND, split=lambda gain: parse_split("daily=1", distance=gain))
    recorded = record_reading(stage.store, stage.rules, given, now=next_week, base_url=BASE_URL)
    assert isinstance(recorded, Recorded)
    line = next(each for each in recorded.settled.outlooks[0].lines if each.key.service == "rear-axle-fluid")
    assert line.q_read == pytest.approx(500 / 50_000, rel=0.02)


def test_an_event_counts_once_and_is_logged_once() -> None:
    stage = demo()
    event = UseEvent("Bellows", "Immersion", TODAY, "rear-axle")
    first = note_event(stage.store, stage.rules, event, now=DEMO_NOW, base_url=BASE_URL, who="teo")
    assert first.moved
    again = note_event(stage.store, stage.rules, event, now=DEMO_NOW, base_url=BASE_URL, who="teo")
    assert again.moved == ()
    assert [e.after for e in log_of(stage.store, "event")] == ["immersion on 2026-04-14"]


def test_a_link_opens_until_its_time_is_over_and_always_says_the_same_after() -> None:
    stage = small()
    key = make_key(
        stage.store,
        stage.keys,
        now=SMALL_NOW,
        who="test",
        purpose=Purpose.ODOMETER,
        mark="Pocket",
        lasts=timedelta(days=2),
    )
    opened = open_key(stage.store, key, Purpose.ODOMETER, now=SMALL_NOW + timedelta(days=2, seconds=-1))
    assert opened.vehicle is not None
    assert opened.vehicle.mark == "PO"
    answers = set()
    for what, purpose, days in ((key, Purpose.ODOMETER, 2), (key, Purpose.FEED, 0), ("unknown", Purpose.ODOMETER, 0)):
        with pytest.raises(NotAllowed) as closed:
            open_key(stage.store, what, purpose, now=SMALL_NOW + timedelta(days=days))
        answers.add(str(closed.value))
    assert len(answers) == 1
