"""Duty splits are parts of any size, and are written so that they come back exactly."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.errors import BadInput
from fleetcare.fleet.duty import DutySplit
from fleetcare.intake.splits import parse_split, split_from, split_parts, split_words

DUTIES = ("daily", "towing", "track")


def test_only_the_proportion_counts() -> None:
    assert (
        parse_split("towing=300 daily=100")
        == parse_split("daily=1 towing=3")
        == DutySplit.from_parts({"towing": 3, "daily": 1})
    )
    assert parse_split("towing=300, daily=100;") == parse_split("towing = 3 daily = 1")
    assert parse_split("towing=3,daily=1") == parse_split("towing=3 daily=1")
    assert parse_split("towing=1,5,daily=0,5") == parse_split("towing=3 daily=1")
    assert parse_split("daily=1 track=0") == DutySplit((("daily", 1.0),))


def test_one_duty_can_have_the_rest() -> None:
    assert parse_split("towing=300 daily=rest", distance=Decimal(845)) == parse_split("towing=300 daily=545")
    with pytest.raises(BadInput, match="no distance"):
        parse_split("towing=300 daily=rest")
    with pytest.raises(BadInput, match="more than"):
        parse_split("towing=900 daily=rest", distance=Decimal(845))


@pytest.mark.parametrize(
    "typed",
    ["", "towing", "towing=", "=3", "towing=-1", "towing=1e5", "towing=٣", "towing=0", "towing=1 towing=2",
     "tow ing=1", "daily=rest towing=rest", "towing=nan", "towing=" + "9" * 50, "x" * 10_000],
)  # fmt: skip
def test_what_is_no_split_is_refused(typed: str) -> None:
    with pytest.raises(BadInput) as caught:
        parse_split(typed, distance=Decimal(100))
    assert caught.value.remedy


def test_an_unknown_duty_is_named_with_the_nearest() -> None:
    with pytest.raises(BadInput, match="Did you mean towing"):
        parse_split("towng=3", duties=DUTIES)


@given(st.dictionaries(st.sampled_from(DUTIES), st.integers(1, 100_000), min_size=1))
def test_a_split_from_whole_parts_comes_back_exactly(parts: dict[str, int]) -> None:
    split = DutySplit.from_parts(parts)
    assert parse_split(split_words(split)) == split


@given(st.dictionaries(st.sampled_from(DUTIES), st.floats(1e-12, 1e9), min_size=1))
def test_a_split_from_any_parts_comes_back_exactly(parts: dict[str, float]) -> None:
    split = DutySplit.from_parts(parts)
    assert parse_split(split_words(split)) == split
    assert split_from(split_parts(split)) == split


def test_small_whole_parts_are_written_as_such() -> None:
    assert split_words(DutySplit.from_parts({"towing": 5, "daily": 3})) == "daily=3 towing=5"
    assert split_words(DutySplit.from_parts({"towing": 300, "daily": 545})) == "daily=109 towing=60"
