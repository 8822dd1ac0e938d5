"""The stages of a sheet: several jobs in one chain, shared stages once, begun late the rest moves."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from fleetcare.book.jobs import JobBook
from fleetcare.book.rows import BookRow
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.settings.book_files import load_book
from fleetcare.settings.job_files import load_jobs
from fleetcare.settings.places import shipped_config
from fleetcare.work.order import OrderedService, StageBegun, WorkOrder
from fleetcare.work.sheet_course import sheet_course
from tests.actions.garages import demo

NINE = datetime(2026, 4, 25, 15, 0, tzinfo=UTC)
FLUID, VENTS = LineKey("AN", "rear-axle", "rear-axle-fluid"), LineKey("AN", "rear-axle", "axle-vents")


@pytest.fixture(scope="module")
def jobs() -> JobBook:
    """The shipped jobs."""
    return load_jobs(shipped_config() / "jobs")


@pytest.fixture(scope="module")
def rows() -> dict[LineKey, BookRow]:
    """The rows of the two lines."""
    book = load_book(Path(shipped_config() / "interval_book.toml")).rows
    return {FLUID: book["rear-axle-fluid"], VENTS: book["axle-vents"]}


@pytest.fixture(scope="module")
def anvil() -> Vehicle:
    """Anvil of the demo: its cover is closed with sealant."""
    with demo().store.read() as view:
        return view.vehicles(("AN",))[0]


def order(*lines: LineKey, **more: object) -> WorkOrder:
    services = tuple(OrderedService(line) for line in lines)
    return WorkOrder(147, "AN", services, date(2026, 4, 14), **more)  # type: ignore[arg-type]


def test_jobs_without_standing_come_first_and_a_shared_stage_is_done_once(
    jobs: JobBook, rows: dict[LineKey, BookRow], anvil: Vehicle
) -> None:
    sheet = sheet_course(order(FLUID, VENTS), anvil, rows, jobs, begins_at=NINE)
    assert [each.job.key for each in sheet.jobs] == ["axle-vents", "axle-fluid-sealed"]
    titles = [each.stage.title for each in sheet.stages]
    assert len(titles) == len(set(titles))
    assert sheet.without_job == ()
    assert sheet.course is not None
    begins = [each.step.begins for each in sheet.stages if each.step is not None]
    assert begins[0] == NINE
    assert sheet.hands_on_minutes == sum(each.stage.minutes or 0 for each in sheet.stages)


def test_the_cure_by_the_label_puts_the_last_hand_on_the_next_day(
    jobs: JobBook, rows: dict[LineKey, BookRow], anvil: Vehicle
) -> None:
    sheet = sheet_course(order(FLUID), anvil, rows, jobs, begins_at=NINE)
    by_key = {each.stage.key: each for each in sheet.stages}
    skin, cure, fill = by_key["skin"], by_key["cure"], by_key["fill"]
    assert skin.step is not None
    assert cure.step is not None
    assert fill.step is not None
    # 1 h before the final turn, then 24 h by the label (common practice): between cover and fluid lies a day and more.
    assert skin.step.ends - skin.step.begins == timedelta(hours=1)
    assert cure.step.ends - cure.step.begins == timedelta(hours=24)
    assert fill.step.begins == cure.step.ends


def test_a_stage_begun_late_moves_what_follows(jobs: JobBook, rows: dict[LineKey, BookRow], anvil: Vehicle) -> None:
    planned = sheet_course(order(FLUID), anvil, rows, jobs, begins_at=NINE).course
    late = NINE + timedelta(hours=3)
    begun = order(FLUID, stages=(StageBegun("axle-fluid-sealed", "warm", late),))
    moved = sheet_course(begun, anvil, rows, jobs, begins_at=NINE).course
    assert planned is not None
    assert moved is not None
    assert moved.free_at - planned.free_at == timedelta(hours=3)


def test_a_sheet_without_a_time_has_stages_and_no_course_and_says_what_has_no_job(
    jobs: JobBook, rows: dict[LineKey, BookRow], anvil: Vehicle
) -> None:
    look = LineKey("AN", "rear-axle", "look-0147-1")
    gone = LineKey("AN", "gone-axle", "rear-axle-fluid")
    sheet = sheet_course(order(VENTS, look, gone), anvil, {**rows, gone: rows[FLUID]}, jobs)
    assert sheet.course is None
    assert [each.stage.key for each in sheet.stages] == ["reach", "vent", "route"]
    assert sheet.without_job == (look, gone)
    assert sheet_course(order(look), anvil, rows, jobs, begins_at=NINE).stages == ()


def test_amounts_and_aims_come_from_the_tag(jobs: JobBook, rows: dict[LineKey, BookRow], anvil: Vehicle) -> None:
    sheet = sheet_course(order(FLUID), anvil, rows, jobs)
    needs = {need.what: (str(need.amount), need.unit) for each in sheet.jobs for need in each.bench.needs}
    assert any("75W-140" in what and amount == ("2.6", "L") for what, amount in needs.items()), needs
    aims = [aim for each in sheet.stages for aim in each.aims]
    assert any(aim.torque is not None and aim.torque.aim == 40 for aim in aims)
    bare = replace(anvil, components=tuple(replace(c, facts=(), fluid_capacity_l=None) for c in anvil.components))
    unknown = sheet_course(order(FLUID), bare, rows, jobs)
    assert any(aim.is_blank for each in unknown.stages for aim in each.aims)
