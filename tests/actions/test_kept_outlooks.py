"""What a process has worked out is what it would work out now, whatever was written in between, by whomever."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.actions import gather, kept_outlooks
from fleetcare.actions.gather import facts_of, outlooks_from
from fleetcare.actions.go_shopping import shopping_ahead
from fleetcare.actions.kept_outlooks import KeptOutlooks
from fleetcare.actions.look_ahead import Ahead, look_ahead, look_at_once
from fleetcare.actions.look_at_findings import findings_waiting
from fleetcare.actions.plan_visits import visits_ahead
from fleetcare.actions.ports import Change, WriteUnit
from fleetcare.actions.refresh import refresh
from fleetcare.actions.waiting_readings import waiting_readings
from fleetcare.due.judging import held_doubts
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.people import Garage
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import as_written_down, speaking
from fleetcare.language.measure import measuring
from fleetcare.meter.reading import Door, Reading, ReadingState
from fleetcare.quantities import DateSpan, DistanceUnit, MeterUnit
from fleetcare.settings.catalogues import tongue_of
from fleetcare.settings.job_files import load_jobs
from fleetcare.settings.places import SHIPPED_JOBS, shipped_config
from fleetcare.work.moves import Move
from fleetcare.work.open_findings import open_findings
from fleetcare.work.record import Finding, WorkDone
from tests.actions.garages import DEMO_NOW, Stage, demo

TODAY = DEMO_NOW.date()


class Looked(NamedTuple):
    """What was asked for, and of which vehicles it was worked out anew."""

    ahead: Ahead
    anew: set[str]


def look(stage: Stage, kept: KeptOutlooks, monkeypatch: pytest.MonkeyPatch, days: int = 0) -> Looked:
    anew: set[str] = set()
    real = gather.facts_of

    def noted(view, marks):  # type: ignore[no-untyped-def]
        anew.update(marks)
        return real(view, marks)

    with monkeypatch.context() as patch:
        patch.setattr(kept_outlooks, "facts_of", noted)
        ahead = look_ahead(stage.store, stage.rules, now=DEMO_NOW + timedelta(days=days), kept=kept)
    return Looked(ahead, anew)


def fresh(stage: Stage, days: int = 0) -> Ahead:
    """What is worked out with nothing kept, without what is told of it: steps, and what the pace rests on."""
    with as_written_down():
        ahead = look_ahead(stage.store, stage.rules, now=DEMO_NOW + timedelta(days=days))
    bare = (replace(each, lines=tuple(replace(line, steps=()) for line in each.lines)) for each in ahead.outlooks)
    return replace(ahead, outlooks=tuple(bare))


def is_the_same(one: Ahead, other: Ahead) -> bool:
    by_line = (sorted(each.work, key=repr) for each in (one, other))
    return one.outlooks == other.outlooks and next(by_line) == next(by_line)


def read(unit: WriteUnit, mark: str = "AN") -> None:
    last = max((r for r in unit.readings((mark,))), key=lambda r: (r.on, r.value))
    new = Reading(mark, last.meter, TODAY, last.value + Decimal(37), last.unit, DEMO_NOW, "ines", Door.PHONE)
    unit.add_readings([new])


def work_done(unit: WriteUnit) -> None:
    (anvil,) = unit.vehicles(("AN",))
    component = anvil.components[0]
    line = LineKey("AN", component.key, component.lines[0].service)
    unit.add_work([WorkDone(line, TODAY, Decimal(112_900), MeterUnit.MI, "ines")])


def book(unit: WriteUnit) -> None:
    days = DateSpan.of_days(TODAY + timedelta(days=5), TODAY + timedelta(days=9))
    unit.put_booking(Booking("x", "A long way", days, ("AN",), Decimal(2_000), DistanceUnit.KM))


def rename(unit: WriteUnit) -> None:
    (anvil,) = unit.vehicles(("AN",))
    unit.put_vehicle(replace(anvil, name="Anvil the second"))


def event(unit: WriteUnit) -> None:
    unit.add_events([UseEvent("AN", "track day", TODAY)])


WRITES: dict[str, Callable[[WriteUnit], None]] = {
    "a reading": read,
    "work": work_done,
    "a booking": book,
    "a name": rename,
    "an event": event,
}


@pytest.mark.parametrize("what", WRITES)
def test_only_the_vehicle_that_was_written_about_is_worked_out_anew(what: str, monkeypatch: pytest.MonkeyPatch) -> None:
    stage, kept = demo(), KeptOutlooks()
    first = look(stage, kept, monkeypatch)
    assert first.anew == {outlook.vehicle.mark for outlook in first.ahead.outlooks}
    assert look(stage, kept, monkeypatch).anew == set()
    with stage.store.write(Change("test", what, DEMO_NOW)) as unit:
        WRITES[what](unit)
    again = look(stage, kept, monkeypatch)
    assert again.anew == {"AN"}
    assert is_the_same(again.ahead, fresh(stage))
    # No service of Anvil's waits for a day on the track, so that is known and changes nothing.
    assert is_the_same(again.ahead, first.ahead) == (what == "an event")


def test_a_new_day_and_other_rules_work_everything_out_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    stage, kept = demo(), KeptOutlooks()
    look(stage, kept, monkeypatch)
    tomorrow = look(stage, kept, monkeypatch, days=1)
    assert tomorrow.anew
    assert is_the_same(tomorrow.ahead, fresh(stage, days=1))
    other = replace(
        stage, rules=replace(stage.rules, priors=replace(stage.rules.priors, m0=3.9), own_numbers=frozenset({"m0"}))
    )
    assert look(other, kept, monkeypatch, days=1).anew == tomorrow.anew
    with stage.store.write(Change("restore", "from a backup", DEMO_NOW)) as unit:
        unit.put_feed_era(unit.feed_era() + 1)
    assert look(other, kept, monkeypatch, days=1).anew == tomorrow.anew, "stamps of another past may be the same"


def test_a_component_that_moved_takes_both_vehicles_along(monkeypatch: pytest.MonkeyPatch) -> None:
    stage, kept = demo(), KeptOutlooks()
    with stage.store.write(Change("test", "moved", DEMO_NOW)) as unit:
        unit.put_move(Move(TODAY, "AN", "rear-axle", "BE", "rear-axle"))
    look(stage, kept, monkeypatch)
    with stage.store.write(Change("test", "read", DEMO_NOW)) as unit:
        read(unit)
    again = look(stage, kept, monkeypatch)
    assert again.anew == {"AN", "BE"}
    assert is_the_same(again.ahead, fresh(stage))


@settings(max_examples=15, deadline=None)
@given(st.lists(st.sampled_from(sorted(WRITES)), max_size=4), st.integers(1, 9))
def test_however_little_is_kept_it_comes_to_the_same(writes: list[str], most: int) -> None:
    stage, kept = demo(), KeptOutlooks(most)
    for what in writes:
        assert is_the_same(look_ahead(stage.store, stage.rules, now=DEMO_NOW, kept=kept), fresh(stage))
        with stage.store.write(Change("test", what, DEMO_NOW)) as unit:
            WRITES[what](unit)
    assert is_the_same(look_ahead(stage.store, stage.rules, now=DEMO_NOW, kept=kept), fresh(stage))


def test_what_is_kept_is_worked_out_once_for_every_language_and_unit(monkeypatch: pytest.MonkeyPatch) -> None:
    stage, kept = demo(), KeptOutlooks()
    with speaking(tongue_of("de")), measuring(DistanceUnit.MI):
        german = look(stage, kept, monkeypatch)
        assert german.anew
        assert is_the_same(german.ahead, fresh(stage))
    english = look(stage, kept, monkeypatch)
    assert english.anew == set()
    assert english.ahead == german.ahead


def test_dates_doubts_and_findings_are_the_same_in_every_language_and_unit() -> None:
    stage = demo()
    with stage.store.write(Change("test", "something to doubt, and something found", DEMO_NOW)) as unit:
        held(unit)
        told(unit)
    with stage.store.read() as view:
        facts = facts_of(view)

    def known() -> tuple[list[object], ...]:
        outlooks = outlooks_from(facts, stage.rules, TODAY, with_steps=False)
        return (
            [replace(each, basis="") for each in outlooks],
            [doubt for each in facts for doubt in held_doubts(each, stage.rules.priors)],
            [finding for each in facts for finding in open_findings(each.found, each.work)],
            # The guard can fail: what is told of the pace is another text in another language.
            [each.basis for each in outlooks],
        )

    english = known()
    with speaking(tongue_of("de")), measuring(DistanceUnit.MI):
        german = known()
    assert german[:3] == english[:3]
    assert german[3] != english[3]
    assert all(english)


def held(unit: WriteUnit) -> None:
    last = max((r for r in unit.readings(("AN",))), key=lambda r: (r.on, r.value))
    off = Reading("AN", last.meter, TODAY, last.value * 7, last.unit, DEMO_NOW, "ines", Door.PHONE)
    unit.add_readings([replace(off, state=ReadingState.HELD)])


def told(unit: WriteUnit) -> None:
    (anvil,) = unit.vehicles(("AN",))
    line = LineKey("AN", anvil.components[0].key, anvil.components[0].lines[0].service)
    record = WorkDone(line, TODAY, Decimal(112_900), MeterUnit.MI, "ines", findings=(Finding("A seep."),))
    unit.add_work([record])


@pytest.mark.parametrize("what", [*WRITES, "a held reading", "a finding"])
def test_what_waits_and_what_to_buy_is_the_same_with_and_without_what_is_kept(what: str) -> None:
    stage, kept, jobs = demo(), KeptOutlooks(), load_jobs(shipped_config() / SHIPPED_JOBS)

    def looks(kept: KeptOutlooks | None) -> tuple[object, ...]:
        store, rules = stage.store, stage.rules
        return (
            findings_waiting(store, rules, now=DEMO_NOW, kept=kept),
            waiting_readings(store, rules, ("AN", "BE"), now=DEMO_NOW, kept=kept),
            shopping_ahead(store, rules, jobs, now=DEMO_NOW, weeks=26, kept=kept),
            visits_ahead(store, rules, now=DEMO_NOW, kept=kept),
        )

    before = looks(kept)
    assert before == looks(None)
    with stage.store.write(Change("test", what, DEMO_NOW)) as unit:
        {**WRITES, "a held reading": held, "a finding": told}[what](unit)
    after = looks(kept)
    assert after == looks(None)
    # The guard can fail: what was written stands on the page that tells of it.
    if what == "a finding":
        assert after[0] != before[0]
    if what == "a held reading":
        assert after[1] != before[1]


MORE = kept_outlooks.AT_ONCE + kept_outlooks.STRETCH + 1


def with_many_more(stage: Stage) -> None:
    with stage.store.write(Change("test", "a larger garage", DEMO_NOW)) as unit:
        (anvil,) = unit.vehicles(("AN",))
        readings, work = unit.readings(("AN",)), unit.work(("AN",))
        for number in range(MORE):
            mark = f"X{number}"
            unit.put_vehicle(replace(anvil, mark=mark, name=f"Wagon {number}"))
            unit.add_readings([replace(each, mark=mark, id=None) for each in readings])
            unit.add_work([replace(each, line=each.line._replace(mark=mark), id=None) for each in work])
    refresh(stage.store, stage.rules, now=DEMO_NOW, base_url="http://127.0.0.1", why="a larger garage")


def at_once(stage: Stage, kept: KeptOutlooks, first: Callable[[Vehicle, Garage], bool] | None = None) -> Ahead:
    return look_at_once(stage.store, stage.rules, now=DEMO_NOW, kept=kept, first=first)


def first_late(outlook: VehicleOutlook) -> date:
    return min((line.window.late for line in outlook.lines if line.window is not None), default=date.max)


def test_who_looks_before_a_large_garage_is_worked_out_is_shown_what_is_due_first() -> None:
    stage, kept = demo(), KeptOutlooks()
    with_many_more(stage)
    whole = fresh(stage)
    some = at_once(stage, kept)
    shown = {outlook.vehicle.mark for outlook in some.outlooks}
    assert len(shown) == kept_outlooks.AT_ONCE
    assert some.missing == len(whole.outlooks) - kept_outlooks.AT_ONCE
    # In the garage's order, and each as it will be once all are there.
    assert list(some.outlooks) == [each for each in whole.outlooks if each.vehicle.mark in shown]
    left = [first_late(each) for each in whole.outlooks if each.vehicle.mark not in shown]
    assert max(map(first_late, some.outlooks)) <= min(left)
    assert {visit.mark for visit in some.visits} <= shown
    # Asked again it shows the same without working any more of them out, and all of them once they are there.
    assert at_once(stage, kept).outlooks == some.outlooks
    look_ahead(stage.store, stage.rules, now=DEMO_NOW, kept=kept)
    all_ = at_once(stage, kept)
    assert is_the_same(all_, whole)
    assert (all_.missing, all_.visits) == (0, whole.visits)


def test_the_vehicles_a_page_is_about_are_among_those_that_are_shown_at_once() -> None:
    stage = demo()
    with_many_more(stage)
    named = {f"X{number}" for number in range(MORE) if number % 5 == 0}
    plain = {outlook.vehicle.mark for outlook in at_once(stage, KeptOutlooks()).outlooks}
    assert not named <= plain
    some = at_once(stage, KeptOutlooks(), lambda vehicle, _: vehicle.mark in named)
    assert named <= {outlook.vehicle.mark for outlook in some.outlooks}


def test_a_garage_that_is_soon_worked_out_is_shown_whole() -> None:
    stage = demo()
    assert is_the_same(at_once(stage, KeptOutlooks()), fresh(stage))
