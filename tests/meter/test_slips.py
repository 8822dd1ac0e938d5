"""Slips of the hand and of the eye: every value that one of them may have come from."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.meter.slips import ANY_DIGIT, STRUCK_TWICE, TENTHS_ALONG, Repair, Slip, repairs


def found(typed: float, slip: Slip, low: float = 0.0, high: float = 1e9) -> dict[float, Repair]:
    return {r.value: r for r in repairs(typed, low=low, high=high) if r.slip is slip}


@pytest.mark.parametrize(
    ("typed", "slip", "meant", "positions"),
    [
        (48210, Slip.EXCHANGED, 84210, (0, 1)),
        (82410, Slip.EXCHANGED, 84210, (1, 2)),
        (884210, Slip.DOUBLED, 84210, (0, 1)),
        (842210, Slip.DOUBLED, 84210, (2, 3)),
        (842105, Slip.TENTHS, 84210, (5,)),
        (784210, Slip.TOO_MANY, 84210, (0,)),
        (8410, Slip.MISSING, 84210, (2,)),
        (4210, Slip.MISSING, 84210, (0,)),
        (94210, Slip.WRONG_DIGIT, 84210, (0,)),
        (135523, Slip.OTHER_UNIT, 84210, ()),  # 1 mi = 1.609344 km exactly (NIST SP 811, B.8)
        (52326, Slip.OTHER_UNIT, 84211, ()),  # 52 326 * 1.609344 = 84 210.5
    ],
)
def test_a_slip_leads_back_to_what_was_meant(
    typed: float, slip: Slip, meant: float, positions: tuple[int, ...]
) -> None:
    assert found(typed, slip)[meant].positions == positions


def test_tenths_stay_behind_the_point() -> None:
    assert 84210.5 in found(48210.5, Slip.EXCHANGED)
    assert not found(842105.5, Slip.TENTHS)


def test_hours_are_never_read_in_another_unit() -> None:
    assert not [r for r in repairs(1000, low=0, high=1e9, is_distance=False) if r.slip is Slip.OTHER_UNIT]


def test_a_dial_shows_no_noughts_in_front() -> None:
    values = [r.value for r in repairs(1023, low=0, high=1e9) if r.slip is Slip.TOO_MANY]
    assert 23 not in values
    assert 123 not in found(1023, Slip.EXCHANGED)
    assert 23 not in found(1023, Slip.WRONG_DIGIT)


def test_what_is_too_long_for_any_dial_is_not_looked_into() -> None:
    assert list(repairs(10.0**15, low=0, high=1e18)) == []
    assert list(repairs(-1.0, low=0, high=1e6)) == []
    assert list(repairs(84210, low=10, high=5)) == []


@given(st.integers(1, 9_999_999), st.integers(0, 9_999_999), st.integers(0, 9_999_999))
def test_only_values_in_the_range_are_named_and_none_is_what_was_typed(typed: int, one: int, other: int) -> None:
    low, high = sorted((one, other))
    for repair in repairs(typed, low=low, high=high):
        assert low <= repair.value <= high
        assert repair.value != typed or repair.slip in (Slip.OTHER_UNIT, Slip.DOUBLED)
        assert 0 < repair.chance <= 1
        assert math.isfinite(repair.value)


@given(st.integers(10, 999_999))
def test_the_chances_are_those_of_the_slip_happening_to_the_value_meant(meant: int) -> None:
    """Reckoned the other way round: every slip of one kind done to a value, and how many of them give each figure."""
    digits = str(meant)
    n = len(digits)
    missing: dict[str, float] = {}
    for i in range(n):
        rest = digits[:i] + digits[i + 1 :]
        missing[rest] = missing.get(rest, 0.0) + 1 / n
    for typed, chance in missing.items():
        if typed[0] == "0":
            continue  # with noughts in front it is a shorter figure, which is not traced back
        told = sum(r.chance for r in repairs(int(typed), low=meant, high=meant) if r.slip is Slip.MISSING)
        assert told == pytest.approx(chance)
    wrong = digits[:-1] + str((int(digits[-1]) + 3) % 10)
    (one,) = [r for r in repairs(int(wrong), low=meant, high=meant) if r.slip is Slip.WRONG_DIGIT]
    assert one.chance == pytest.approx(1 / (9 * n))


def test_a_digit_too_many_is_likelier_struck_twice_or_a_tenth_than_any_digit() -> None:
    """84 210: any digit in one of six places is one of 60 ways; struck twice one of 5; the tenths one of 10."""
    doubled = found(842210, Slip.DOUBLED)[84210]
    assert doubled.chance == pytest.approx(ANY_DIGIT * 2 / 60 + STRUCK_TWICE / 5)
    assert found(842105, Slip.TENTHS)[84210].chance == pytest.approx(ANY_DIGIT / 60 + TENTHS_ALONG / 10)
    assert found(784210, Slip.TOO_MANY)[84210].chance == pytest.approx(ANY_DIGIT / 60)
