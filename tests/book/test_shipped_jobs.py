"""The shipped jobs: one for every service, whole, with cautions where work can hurt, and every figure sourced."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest

from fleetcare.book.bench import bench
from fleetcare.book.chains import course, with_tag
from fleetcare.book.jobs import Job, Stage
from fleetcare.book.rows import BookRow, Status
from fleetcare.fleet.component import Component, TagFact
from fleetcare.fleet.tag import ClosureKind
from fleetcare.fleet.tag_reading import tag_of
from fleetcare.settings.book_files import load_book
from fleetcare.settings.job_files import load_jobs
from fleetcare.settings.places import SHIPPED_BOOK, SHIPPED_JOBS, shipped_config
from tests.book.shipped import CONFIG, tables

BOOK = load_book(shipped_config() / SHIPPED_BOOK)
JOBS = load_jobs(shipped_config() / SHIPPED_JOBS)
EVERY = [job for _, job in sorted(JOBS.jobs.items())]
LINES = [(row, kind) for _, row in sorted(BOOK.rows.items()) for kind in row.components]
START = datetime(2026, 4, 25, 15, 0, tzinfo=UTC)


def by_key(job: Job) -> str:
    return job.key


@pytest.mark.parametrize(("row", "kind"), LINES, ids=[f"{row.key}, {kind}" for row, kind in LINES])
def test_every_service_has_a_job(row: BookRow, kind: str) -> None:
    job = JOBS.job_for(row, kind)
    assert job is not None
    assert not job.components or kind in job.components


def test_no_job_is_for_a_service_that_there_is_not() -> None:
    shorts = {row.short for row in BOOK.rows.values()}
    for job in EVERY:
        assert set(job.services) <= shorts, job.key
        assert set(job.rows) <= set(BOOK.rows), job.key
        assert job.services or job.rows or "after a finding" in job.note, job.key


@pytest.mark.parametrize("job", EVERY, ids=by_key)
def test_a_job_can_be_done_from_its_first_hand_to_its_last(job: Job) -> None:
    found = course(job.stages, START)
    assert found.free_at - START >= timedelta(minutes=job.hands_on_minutes)
    assert job.hands_on_minutes > 0
    assert not any(step.is_missed for step in found.steps)


@pytest.mark.parametrize("job", EVERY, ids=by_key)
def test_a_job_is_more_than_a_line(job: Job) -> None:
    """Each job asks to look at something or to reach a value, and says what it takes."""
    words = " ".join(stage.title for stage in job.stages)
    assert len(words) >= 60, words
    looked = [look for stage in job.stages for look in stage.look_at]
    aimed = [value for stage in job.stages for value in stage.values]
    assert looked or aimed or job.key == "legal-inspection"
    assert all(len(stage.title) <= 240 for stage in job.stages)
    assert "!" not in words


def mentions(stage: Stage, pattern: str) -> bool:
    return re.search(pattern, stage.title, re.IGNORECASE) is not None


@pytest.mark.parametrize("job", EVERY, ids=by_key)
def test_who_goes_under_a_vehicle_is_told_of_stands(job: Job) -> None:
    if "on stands" in job.set_ups or any(mentions(stage, r"\blift\b|\bstands\b") for stage in job.stages):
        keys = {caution.key for caution in job.cautions}
        assert keys & {"stands", "trailer-stands", "jack-out"}


@pytest.mark.parametrize("job", EVERY, ids=by_key)
def test_work_that_can_hurt_has_its_caution(job: Job) -> None:
    keys = {caution.key for caution in job.cautions}
    tools = set(job.tools)
    uses = {use.what for stage in job.stages for use in stage.consumables}
    wants = {
        "solvent": "Solvent cleaner" in uses,
        "grease-gun": "grease gun" in tools,
        "air-line": "low-pressure air" in tools,
        "brake-fluid": "Brake fluid" in uses,
        "battery": "battery tester" in tools,
        "tyre-filling": "Tyre pressure, cold" in {v.what for s in job.stages for v in s.values}
        and "tyres" in job.components,
        "no-early-fill": any(use.what == "Closure" for s in job.stages for use in s.consumables) and not job.closures,
    }
    assert {key for key, wanted in wants.items() if wanted} <= keys


def test_every_stage_in_which_the_vehicle_stands_says_where_its_time_is_from() -> None:
    waits = [stage for job in EVERY for stage in job.stages if stage.is_standing]
    assert len(waits) >= 10
    assert all(stage.source and stage.status is not None for stage in waits)


def test_cautions_that_cite_nothing_are_marked_so() -> None:
    cautions = {caution.key: caution for job in EVERY for caution in job.cautions}
    assert len(cautions) >= 25
    for caution in cautions.values():
        assert len(caution.text) <= 160, caution.key
        cites = caution.status is Status.PUBLISHED
        assert cites != bool(re.match(r"usual workshop advice|workshop knowledge", caution.source)), caution.key


def test_an_axle_is_closed_as_its_tag_says() -> None:
    row = BOOK.rows["rear-axle-fluid"]
    for words, key in (
        ("cover with sealant, 10 bolts M8", "axle-fluid-sealed"),
        ("cover with gasket, 8 bolts", "axle-fluid-gasket"),
        ("cover with O-ring", "axle-fluid-gasket"),
    ):
        tag = tag_of(Component("a", "rear axle", "A", facts=(TagFact("closure", words),)))
        job = JOBS.job_for(row, "rear axle", tag)
        assert job is not None
        assert job.key == key
        assert any("cure" in stage.key for stage in job.stages) == (ClosureKind.SEALANT.value in words)
    unknown = JOBS.job_for(row, "rear axle", tag_of(Component("a", "rear axle", "A")))
    assert unknown is not None
    assert unknown.key == "axle-fluid-sealed", "the longer way, as long as nobody knows"


def test_a_row_that_means_other_work_has_a_job_of_its_own() -> None:
    keys = {
        key: JOBS.job_for(BOOK.rows[key], "hubs")
        for key in ("hub-bearings-look", "trailer-bearings", "trailer-bearings-fitting")
    }
    assert {key: job.key for key, job in keys.items() if job} == {
        "hub-bearings-look": "hub-bearings-look",
        "trailer-bearings": "hub-bearings-repack",
        "trailer-bearings-fitting": "hub-fitting-grease",
    }


def test_a_sealed_cover_stands_thirteen_to_twenty_five_hours() -> None:
    """1 h, then 24 h by the label or 12 h at the least. Common practice, no source."""
    stages = JOBS.jobs["axle-fluid-sealed"].stages

    def waits(*, shortest: bool) -> int:
        return sum(stage.least_minutes or 0 for stage in with_tag(stages, None, shortest=shortest))

    assert waits(shortest=False) == 25 * 60
    assert waits(shortest=True) == 13 * 60
    both = [course(with_tag(stages, None, shortest=shortest), START) for shortest in (False, True)]
    assert both[0].free_at - both[1].free_at == timedelta(hours=12)


def test_the_axle_family_is_whole() -> None:
    """Fluid, cover, vent, seals, bearings, gears: each has its job, and each job looks at what matters."""
    found = {
        key: {look.finding for stage in JOBS.jobs[key].stages for look in stage.look_at} - {""}
        for key in (
            *("axle-fluid-sealed", "axle-fluid-gasket", "axle-oil-plugs", "axle-vents", "axle-seals", "axle-bearings"),
            *("axle-new-gears", "axle-new-gears-gasket", "axle-gear-look", "axle-after-water", "axle-seal-renewed"),
        )
    }
    for key in ("axle-fluid-sealed", "axle-fluid-gasket"):
        assert {"old-fluid", "magnet", "teeth", "seal-pinion", "seal-axle", "vent", "leak"} <= found[key]
    for key in ("axle-new-gears", "axle-new-gears-gasket", "axle-gear-look"):
        assert {"pattern", "backlash", "play", "teeth", "magnet"} <= found[key]
    assert {"bearing", "play", "seal-pinion"} <= found["axle-bearings"]
    assert {"old-fluid", "bearing", "vent"} <= found["axle-after-water"]
    assert "hose" in found["axle-vents"]
    assert {"seal-pinion", "seal-axle", "vent"} <= found["axle-seals"]


def test_nothing_is_counted_twice_on_a_bench() -> None:
    for job in EVERY:
        found = bench(job, Component("c", job.components[0] if job.components else "hubs", "C"))
        assert len({need.key for need in found.needs}) == len(found.needs)


def test_everything_that_jobs_share_is_used() -> None:
    files = [tables(file) for file in (CONFIG / "jobs").glob("*.toml")]
    defined = {
        kind: {key for file in files for key in file.get(kind, {})} for kind in ("caution", "consumable", "value")
    }
    stages = [stage for file in files for stage in file.get("stage", {}).values()]
    stages += [stage for file in files for job in file.get("job", {}).values() for stage in job.get("stage", [])]
    for kind, keys in defined.items():
        names = [each for stage in stages for each in stage.get(f"{kind}s", [])]
        assert {name if isinstance(name, str) else name["key"] for name in names} == keys
