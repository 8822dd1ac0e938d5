"""The drawings of a job sheet: the clock strip keeps time, torques aim for the middle, bolts go across."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.fleet.tag import Torque
from fleetcare.page.drawings.clock_strip import Spell, clock_strip
from fleetcare.page.drawings.cover import cover, crosswise
from fleetcare.page.drawings.torque_range import torque_range
from fleetcare.quantities import TorqueUnit

NINE = datetime(2026, 4, 25, 9, 0)  # noqa: DTZ001  local time of the garage, as it is drawn


def at(hours: float) -> datetime:
    return NINE + timedelta(hours=hours)


DAY = [Spell(at(0), at(2.0833), False), Spell(at(2.0833), at(3.0833), True), Spell(at(3.0833), at(3.3333), False),
       Spell(at(3.3333), at(27.3333), True), Spell(at(27.3333), at(28.6667), False)]  # fmt: skip


def test_ten_bolts_are_tightened_across_as_drawn() -> None:
    # Clockwise from the top: 1 7 3 9 5 2 8 4 10 6.
    assert crosswise(10) == (1, 7, 3, 9, 5, 2, 8, 4, 10, 6)
    assert crosswise(8) == (1, 5, 3, 7, 2, 6, 4, 8)


@settings(deadline=None)
@given(st.integers(4, 24))
def test_every_bolt_is_tightened_once_and_the_second_lies_across_from_the_first(count: int) -> None:
    places = crosswise(count)
    assert sorted(places) == list(range(1, count + 1))
    gap = abs(places.index(1) - places.index(2))
    assert min(gap, count - gap) == count // 2
    drawn = cover(count)
    assert drawn is not None
    assert [bolt.place for bolt in drawn.bolts] == list(places)


def test_a_cover_of_unknown_bolts_is_not_drawn() -> None:
    assert cover(None) is cover(2) is cover(99) is None


def test_a_torque_aims_for_the_middle_in_both_units() -> None:
    # 34 to 46 N·m, middle 40; 40 N·m is 29.5 lbf ft (1 lbf ft = 1.355 818 N·m, NIST SP 811).
    drawn = torque_range(Torque(Decimal(34), Decimal(46), TorqueUnit.NM))
    assert (drawn.low, drawn.mid, drawn.high) == ("34", "40", "46")
    assert drawn.beside == "25 to 34 lb·ft, middle 30"
    # 21 to 30 lbf ft gives 25.5 in the middle, which is 34.6 N·m. Common practice, no source.
    printed = torque_range(Torque(Decimal(21), Decimal(30), TorqueUnit.LBF_FT))
    assert (printed.mid, printed.beside) == ("35", "21 to 30 lb·ft, middle 25.5")


@pytest.mark.parametrize("width", [900, 340])
def test_a_strip_shows_hands_and_standing_in_their_lengths(width: int) -> None:
    strip = clock_strip(DAY, width)
    assert strip is not None
    assert [block.stands for block in strip.blocks] == [False, True, False, True, False]
    wide = [float(block.width) for block in strip.blocks]
    assert wide[3] / wide[1] == pytest.approx(24, rel=0.02)
    assert sum(wide) == pytest.approx(float(strip.end) - 6 - (float(strip.blocks[0].x) - 6), rel=0.05)
    assert "Saturday 09:00 to 11:04 hands-on" in strip.label
    assert "Sunday 12:19" in strip.label
    heads = [words for _, _, words, _ in strip.head]
    assert heads == (
        ["hands-on 2 h 20", "stands 24 h: nobody working", "hands-on 1 h 20"]
        if width == 900
        else ["2 h 20", "stands 24 h", "1 h 20"]
    )
    assert strip.marks[0].label == "Sat 09"


@settings(deadline=None)
@given(st.lists(st.integers(5, 3000), min_size=1, max_size=8), st.sampled_from([900, 340]))
def test_no_two_labels_of_a_strip_run_together_and_nothing_leaves_it(minutes: list[int], width: int) -> None:
    spells, moment = [], NINE
    for place, length in enumerate(minutes):
        spells.append(Spell(moment, moment + timedelta(minutes=length), place % 2 == 1))
        moment = spells[-1].ends
    strip = clock_strip(spells, width)
    assert strip is not None
    labelled = [float(mark.x) for mark in strip.marks if mark.label]
    assert all(right - left >= 40 for left, right in pairwise(labelled))
    assert all(float(block.x) >= 6 and float(block.x) + float(block.width) <= width for block in strip.blocks)


def test_nothing_to_show_is_no_strip() -> None:
    assert clock_strip([], 900) is None
