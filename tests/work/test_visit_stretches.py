"""A sheet's course as the stretches of a visit."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from fleetcare.book.chains import course
from fleetcare.book.jobs import Stage, StageKind
from fleetcare.fleet.bay_visit import BayVisit, StretchKind
from fleetcare.fleet.component import LineKey
from fleetcare.work.visit_stretches import stretches_of

NINE = datetime(2026, 4, 25, 15, tzinfo=UTC)
HANDS, STANDS = StretchKind.HANDS_ON, StretchKind.STANDING


def hands(key: str, minutes: int) -> Stage:
    return Stage(key, key, StageKind.HANDS_ON, minutes=minutes)


def stands(key: str, least: int) -> Stage:
    return Stage(key, key, StageKind.STANDING, least_minutes=least)


def lengths(stages: list[Stage]) -> list[tuple[StretchKind, int]]:
    found = stretches_of(course(stages, NINE))
    return [(each.kind, round(each.lasts / timedelta(minutes=1))) for each in found]


def test_hands_that_follow_each_other_are_one_stretch_and_waits_stand() -> None:
    # A cover resealed: 80 and 60 minutes, an hour and a day of cure, 20 minutes for the last torque and the fluid.
    stages = [hands("off", 80), hands("on", 60), stands("cure", 25 * 60), hands("fill", 20)]
    assert lengths(stages) == [(HANDS, 140), (STANDS, 1500), (HANDS, 20)]


def test_a_wait_at_the_end_keeps_the_vehicle_out_of_use() -> None:
    assert lengths([hands("paint", 30), stands("dry", 120)]) == [(HANDS, 30), (STANDS, 120)]
    assert lengths([hands("look", 30)]) == [(HANDS, 30)]


@given(st.lists(st.tuples(st.booleans(), st.integers(1, 600)), min_size=1, max_size=12))
def test_what_comes_out_is_always_a_visit(given_stages: list[tuple[bool, int]]) -> None:
    stages = [hands("first", 10)]
    stages += [
        (stands if is_stands else hands)(f"s{n}", minutes) for n, (is_stands, minutes) in enumerate(given_stages)
    ]
    ran = course(stages, NINE)
    found = stretches_of(ran)
    visit = BayVisit("AN", 1, (LineKey("AN", "rear-axle", "rear-axle-fluid"),), found)  # refuses what cannot be
    assert visit.begins_at == NINE
    assert visit.free_at == ran.free_at
    assert visit.hands_on == sum(
        (timedelta(minutes=stage.minutes or 0) for stage in stages if not stage.is_standing), start=timedelta()
    )
