"""The course of a job: waits are kept, a late hand moves the rest, and what cannot be kept is refused by name."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from fleetcare.book.chains import Course, Done, course, in_order, shortest_stay, with_tag
from fleetcare.book.jobs import Stage, StageKind, Wait
from fleetcare.errors import BadInput
from fleetcare.fleet.component import Component, TagFact
from fleetcare.fleet.tag_reading import tag_of

NINE = datetime(2026, 4, 25, 15, 0, tzinfo=UTC)  # a Saturday, nine o'clock in Denver
MINUTE = timedelta(minutes=1)


def hand(key: str, minutes: int, *after: str) -> Stage:
    return Stage(key, key, minutes=minutes, after=after)


def wait(key: str, least: int, most: int | None = None, *after: str, floor: int | None = None) -> Stage:
    return Stage(key, key, StageKind.STANDING, least_minutes=least, most_minutes=most, floor_minutes=floor, after=after)


SEALED = (
    hand("close", 15),
    wait("skin", 60),
    hand("final turn", 15),
    wait("cure", 24 * 60, floor=12 * 60),
    hand("fill", 25),
)
"""Close, 1 h, final turn, 24 h by the label or 12 h at the least, fill. Common practice, no source."""


def standing(found: Course) -> timedelta:
    """From when the last hand came off the cover to when the first may go on to the fill plug, hands taken away."""
    between = found.step("fill").begins - found.step("close").ends
    return between - 15 * MINUTE  # the final turn


def test_a_sealed_cover_waits_one_hour_and_then_a_day_or_half_a_day_at_the_least() -> None:
    """13 to 25 h between first and last hand on such a job, over two days. Common practice, no source."""
    assert standing(course(SEALED, NINE)) == timedelta(hours=25)
    assert standing(course(with_tag(SEALED, None, shortest=True), NINE)) == timedelta(hours=13)


def test_the_course_in_full() -> None:
    found = course(SEALED, NINE)
    begins = [(step.begins - NINE) / MINUTE for step in found.steps]
    assert begins == [0, 15, 75, 90, 90 + 1440]
    assert found.free_at == NINE + (90 + 1440 + 25) * MINUTE
    assert found.next_hand is not None
    assert found.next_hand.stage.key == "close"
    assert shortest_stay(SEALED) == (90 + 1440 + 25) * MINUTE


def test_a_stage_begun_late_moves_the_rest() -> None:
    late = 35 * MINUTE
    done = {"close": Done(NINE, NINE + 15 * MINUTE), "final turn": Done(NINE + 75 * MINUTE + late)}
    planned, found = course(SEALED, NINE), course(SEALED, NINE, done=done)
    assert found.step("close").begins == planned.step("close").begins
    assert found.step("skin").begins == planned.step("skin").begins
    for key in ("final turn", "cure", "fill"):
        assert found.step(key).begins == planned.step(key).begins + late
    assert found.free_at == planned.free_at + late


def test_a_hand_that_takes_longer_moves_the_rest_and_what_is_over_stays() -> None:
    found = course(SEALED, NINE, done={"close": Done(NINE, NINE + 50 * MINUTE)})
    assert found.step("skin").begins == NINE + 50 * MINUTE
    assert found.step("final turn").begins == NINE + 110 * MINUTE
    in_hand = course(SEALED, NINE, done={"close": Done(NINE)}, now=NINE + 40 * MINUTE)
    assert in_hand.step("skin").begins == NINE + 40 * MINUTE


def test_open_time_bounds_the_next_hand_from_above() -> None:
    stages = (hand("bead", 5), wait("open", 0, 10), hand("cover on", 10), wait("cure", 60), hand("fill", 5))
    found = course(stages, NINE)
    assert found.step("cover on").latest == NINE + 15 * MINUTE
    assert found.step("fill").latest is None
    assert not found.step("cover on").is_missed
    late = course(stages, NINE, done={"bead": Done(NINE, NINE + 5 * MINUTE)}, now=NINE + 20 * MINUTE)
    assert late.step("cover on").is_missed
    assert late.step("cover on").begins == NINE + 20 * MINUTE
    assert late.step("cover on").latest == NINE + 15 * MINUTE
    assert late.step("fill").begins == NINE + (20 + 10 + 60) * MINUTE


def test_an_open_time_holds_back_what_would_begin_it_too_soon() -> None:
    """The bead is not laid before the long work beside it is so far that the cover can follow in time."""
    stages = (
        hand("prepare", 10),
        hand("bead", 5, "prepare"),
        wait("open", 0, 10, "bead"),
        hand("clean inside", 60, "prepare"),
        hand("cover on", 10, "open", "clean inside"),
    )
    found = course(stages, NINE)
    assert found.step("cover on").begins == NINE + 70 * MINUTE
    assert found.step("bead").begins == NINE + 55 * MINUTE


def test_a_loop_is_refused_by_name() -> None:
    stages = (hand("start", 5), hand("bead", 5, "cover"), hand("cover", 5, "bead"))
    with pytest.raises(BadInput, match="bead after cover after bead"):
        course(stages, NINE)
    with pytest.raises(BadInput, match="start after start"):
        course((hand("start", 5, "start"),), NINE)


def test_waits_that_cannot_be_kept_are_refused_by_name() -> None:
    stages = (
        hand("bead", 5),
        wait("open", 0, 10, "bead"),
        wait("cure", 60, None, "bead"),
        hand("cover on", 10, "open", "cure"),
    )
    with pytest.raises(BadInput, match="after open the next hand must follow within 10 min"):
        course(stages, NINE)


def test_a_stage_that_is_not_there_is_refused() -> None:
    with pytest.raises(BadInput, match="follows lid"):
        in_order((hand("bead", 5), hand("cover", 5, "lid")))
    with pytest.raises(BadInput, match="no stage lid"):
        course(SEALED, NINE, done={"lid": Done(NINE)})
    with pytest.raises(BadInput, match="counts from the end of one stage"):
        in_order((hand("a", 5), hand("b", 5), wait("w", 5, None, "a", "b")))


def test_a_tag_says_how_long_it_waits() -> None:
    stages = (
        hand("bead", 5),
        Stage("open", "open", StageKind.STANDING, least_minutes=0, most_minutes=10, wait=Wait.OPEN_TIME),
        hand("cover on", 10),
        Stage("cure", "cure", StageKind.STANDING, least_minutes=24 * 60, wait=Wait.BEFORE_FILLING),
        hand("fill", 5),
    )
    facts = (TagFact("open time", "4 min"), TagFact("wait before filling", "8 h, at least 6 h"))
    tag = tag_of(Component("rear-axle", "rear axle", "Rear axle", facts=facts))
    timed = {stage.key: stage for stage in with_tag(stages, tag)}
    assert (timed["open"].most_minutes, timed["cure"].least_minutes) == (4, 8 * 60)
    assert {stage.key: stage for stage in with_tag(stages, tag, shortest=True)}["cure"].least_minutes == 6 * 60
    assert {stage.key: stage for stage in with_tag(stages, None)}["cure"].least_minutes == 24 * 60


@pytest.mark.parametrize(
    "broken",
    [
        {"kind": StageKind.STANDING, "least_minutes": 60, "most_minutes": 10},
        {"kind": StageKind.STANDING, "minutes": 10},
        {"kind": StageKind.STANDING, "least_minutes": 60, "floor_minutes": 90},
        {"minutes": 0},
        {"minutes": -5},
        {"minutes": 5, "least_minutes": 5},
        {},
    ],
)
def test_a_stage_with_times_that_cannot_be_is_refused(broken: dict[str, object]) -> None:
    with pytest.raises(BadInput, match="Stage s"):
        Stage("s", "s", **broken)  # type: ignore[arg-type]


@st.composite
def chains(draw: st.DrawFn) -> tuple[Stage, ...]:
    stages: list[Stage] = []
    for place in range(draw(st.integers(1, 6))):
        stages.append(hand(f"h{place}", draw(st.integers(1, 120))))
        if draw(st.booleans()):
            least = draw(st.integers(0, 2000))
            most = draw(st.none() | st.integers(least, least + 500))
            stages.append(wait(f"w{place}", least, most))
    return tuple(stages)


@given(chains(), st.data())
def test_every_wait_is_kept_and_nothing_begins_too_soon(stages: tuple[Stage, ...], data: st.DataObject) -> None:
    found = course(stages, NINE)
    for first, then in pairwise(found.steps):
        assert then.begins >= first.begins
        gap = (then.begins - first.begins) / MINUTE
        if first.stage.is_standing:
            assert gap >= (first.stage.least_minutes or 0)
            assert first.stage.most_minutes is None or gap <= first.stage.most_minutes
        else:
            assert gap >= (first.stage.minutes or 0)
        if then.latest is not None and not then.stage.is_standing:
            assert then.begins <= then.latest
    assert found.free_at == max(step.ends for step in found.steps)
    # second method: a chain is its hands and its waits one after the other
    total = sum((stage.minutes or stage.least_minutes or 0) for stage in stages)
    assert found.free_at == NINE + total * MINUTE


@given(chains(), st.integers(0, 3000), st.integers(0, 3000), st.data())
def test_later_is_never_sooner(stages: tuple[Stage, ...], one: int, other: int, data: st.DataObject) -> None:
    """A stage begun later never lets the vehicle go sooner, and moves no stage before it."""
    hands = [stage for stage in stages if not stage.is_standing]
    assume(hands)
    begun = data.draw(st.sampled_from(hands))
    planned = course(stages, NINE)
    at = planned.step(begun.key).begins
    soon, late = sorted((one, other))
    first = course(stages, NINE, done={begun.key: Done(at + soon * MINUTE)})
    second = course(stages, NINE, done={begun.key: Done(at + late * MINUTE)})
    assert second.free_at >= first.free_at >= planned.free_at
    keys = [stage.key for stage in stages]
    for key in keys[keys.index(begun.key) :]:
        assert second.step(key).begins >= first.step(key).begins
    assert second.step(begun.key).begins == at + late * MINUTE


@given(chains(), st.integers(0, 5000))
def test_the_whole_course_moves_with_its_beginning(stages: tuple[Stage, ...], minutes: int) -> None:
    here, there = course(stages, NINE), course(stages, NINE + minutes * MINUTE)
    assert [step.begins + minutes * MINUTE for step in here.steps] == [step.begins for step in there.steps]
    assert there.free_at - here.free_at == minutes * MINUTE
