"""Lengths of time and chains of them are read by one grammar; what might mean two things is refused."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.errors import BadInput
from fleetcare.fleet.bay_visit import StretchKind, laid_end_to_end
from fleetcare.intake.chains import chain_words, parse_chain, parse_length, parse_time

HANDS, STANDS = StretchKind.HANDS_ON, StretchKind.STANDING


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("2:20", 140),
        ("24:00", 1440),
        ("0:45", 45),
        ("2 h", 120),
        ("2h", 120),
        ("2 h 20", 140),
        ("2 h 20 min", 140),
        ("90 min", 90),
        ("90min", 90),
        ("  1:05 ", 65),
        ("100 H", 6000),
    ],
)
def test_lengths_that_are_read(text: str, minutes: int) -> None:
    assert parse_length(text) == timedelta(minutes=minutes)


@pytest.mark.parametrize(
    "text",
    ["", "90", "2:60", "2:2", "-1:00", "1.5 h", "two hours", "٢:٢٠", "2:20:00", "1000:00", "h", "2 h 99", "1" * 9],
)
def test_lengths_that_are_refused_with_what_to_write(text: str) -> None:
    with pytest.raises(BadInput, match="Write it as 2:20"):
        parse_length(text)


def test_a_chain_is_hands_on_and_standing_in_turn() -> None:
    assert parse_chain("2:20, stands 24:00,1:20") == (
        (HANDS, timedelta(minutes=140)),
        (STANDS, timedelta(hours=24)),
        (HANDS, timedelta(minutes=80)),
    )


@pytest.mark.parametrize("text", ["", "2:20,", "stands", "stand 24:00", ",".join(["1:00"] * 21)])
def test_chains_that_are_refused(text: str) -> None:
    with pytest.raises(BadInput):
        parse_chain(text)


@given(st.lists(st.integers(1, 999 * 60), min_size=1, max_size=9))
def test_what_is_written_is_read_back(minutes: list[int]) -> None:
    chain = tuple(((HANDS, STANDS)[at % 2], timedelta(minutes=each)) for at, each in enumerate(minutes))
    assert parse_chain(chain_words(laid_end_to_end(datetime(2026, 4, 25, tzinfo=UTC), chain))) == chain


@pytest.mark.parametrize(("text", "at"), [("09:00", time(9)), ("9:00", time(9)), ("23.59", time(23, 59))])
def test_times_that_are_read(text: str, at: time) -> None:
    assert parse_time(text) == at


@pytest.mark.parametrize("text", ["", "9", "24:00", "9 am", "09:60", "9:5"])
def test_times_that_are_refused(text: str) -> None:
    with pytest.raises(BadInput, match="09:00"):
        parse_time(text)
