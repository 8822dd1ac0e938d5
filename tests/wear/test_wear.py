"""Wear by distance and by time, against published examples of linear damage and calendar arithmetic."""

from __future__ import annotations

import math
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.book.rows import DutyFigure, IntervalRule, Limits, Mixing
from fleetcare.fleet.duty import DutyCycle, DutySplit
from fleetcare.quantities import DistanceUnit, PrintedDistance
from fleetcare.wear.distance_limit import DistanceLimit, UsedSpan, distance_limit, linear_damage, plain_limit, waives
from fleetcare.wear.time_limit import limits_in_force, time_limit

DUTIES = {
    "daily": DutyCycle("daily", "daily", severe=False),
    "towing": DutyCycle("towing", "towing", severe=True),
    "track": DutyCycle("track", "track", severe=True),
}
TOWING, DAILY = DutySplit((("towing", 1.0),)), DutySplit((("daily", 1.0),))
MILE = 1.609344


def miles(value: int) -> PrintedDistance:
    return PrintedDistance.of(value, DistanceUnit.MI)


def limit(
    mi: int | None, mixing: Mixing = Mixing.BLEND, grade: str = "", **own: PrintedDistance | None
) -> DistanceLimit:
    figures = tuple(DutyFigure(duty, distance) for duty, distance in own.items())
    made = distance_limit(Limits(miles(mi) if mi else None, figures), mixing, DUTIES, fluid_grade=grade)
    assert made is not None
    return made


def test_m1_a_ball_bearing_lives_7400_cycles() -> None:
    # M1: lives 50 000, 6 500, 1 000 h; each cycle 40, 15, 5 min. Source: documentation of the `reliability` library,
    # after Modarres, Amiri and Jackson, Probabilistic Physics of Failure (2017), pp. 33-37; recomputed.
    hours = [40 / 60, 15 / 60, 5 / 60]
    lives = [50_000, 6_500, 1_000]
    damage = linear_damage(hours, lives)
    assert damage == pytest.approx(0.0001351, abs=5e-8)
    assert 1 / damage == pytest.approx(7400.37951, abs=5e-6)
    shares = [100 * linear_damage([h], [life]) / damage for h, life in zip(hours, lives, strict=True)]
    assert shares == pytest.approx([9.86717, 28.463, 61.66983], abs=1e-4)


def test_m2_three_loads_add_up_to_1_4() -> None:
    # M2: article on engineeringniche.com; recomputed.
    assert linear_damage([10_000, 5_000, 2_000], [20_000, 10_000, 5_000]) == pytest.approx(1.4)


def test_m3_a_block_of_five_cycles_can_be_repeated_7142_times() -> None:
    # M3: worked homework, 1045 steel (weak source); recomputed 7142.86.
    damage = linear_damage([1, 4], [1e4, 1e5])
    assert damage == pytest.approx(0.00014)
    assert math.floor(1 / damage) == 7142


def test_m4_what_is_left_after_a_lower_load() -> None:
    # M4: D. Roylance, Fatigue (MIT module), from memory; recomputed 11 868. S/Sf = 1 - log10(N)/14.
    life_06, life_07 = 10 ** (14 * 0.4), 10 ** (14 * 0.3)
    left = (1 - linear_damage([1e5], [life_06])) * life_07
    assert left == pytest.approx(11_868, abs=1)


def test_m5_mineral_axle_oil_is_due_exactly_after_30_000_easy_and_28_000_severe_miles() -> None:
    # M5: Spicer single drive axles service manual, p. 36: 100 000 mi on-highway, 40 000 mi severe; arithmetic ours.
    axle = limit(100_000, towing=miles(40_000))
    used = [UsedSpan(30_000 * MILE, DAILY), UsedSpan(28_000 * MILE, TOWING)]
    assert axle.wear(used[:1]) == pytest.approx(0.30)
    assert axle.wear(used[1:]) == pytest.approx(0.70)
    assert axle.wear(used) == pytest.approx(1.0)


def test_a_steady_mix_has_the_harmonic_mean_of_the_intervals() -> None:
    # 1/L = sum(x_i/L_i): Palmgren 1924, via Zaretsky; from memory.
    axle = limit(50_000, towing=miles(30_000))
    mix = DutySplit.from_parts({"towing": 5, "daily": 3})
    life = 1 / (0.625 / 30_000 + 0.375 / 50_000)
    assert axle.wear([UsedSpan(life * MILE, mix)]) == pytest.approx(1.0)


def test_one_severe_use_puts_the_whole_span_on_the_severe_interval_of_a_strict_line() -> None:
    strict = limit(50_000, Mixing.STRICT, towing=miles(25_000))
    easy = UsedSpan(10_000 * MILE, DAILY)
    assert strict.wear([easy]) == pytest.approx(0.2)
    assert strict.wear([easy, UsedSpan(1, TOWING)]) == pytest.approx(0.4, abs=1e-4)
    assert strict.wear([easy], severe_in_force=frozenset({"towing"})) == pytest.approx(0.4)
    assert strict.severe_in([easy]) == frozenset()
    blend = limit(50_000, towing=miles(25_000))
    assert blend.wear([easy, UsedSpan(1, TOWING)]) == pytest.approx(0.2, abs=1e-4)


def test_a_duty_that_is_not_severe_leaves_a_strict_line_alone() -> None:
    strict = limit(50_000, Mixing.STRICT, daily=miles(25_000))
    assert strict.severe == frozenset()
    assert strict.wear([UsedSpan(10_000 * MILE, DAILY)]) == pytest.approx(0.4)


def test_of_two_severe_duties_the_shorter_interval_counts() -> None:
    strict = limit(50_000, Mixing.STRICT, towing=miles(25_000), track=miles(5_000))
    both = [UsedSpan(100 * MILE, TOWING), UsedSpan(100 * MILE, DutySplit((("track", 1.0),)))]
    assert strict.wear(both) == pytest.approx(200 / 5_000)


def test_distance_under_a_duty_without_wear_does_not_count() -> None:
    only_towing = limit(10_000, daily=None)
    assert only_towing.wear([UsedSpan(1e6, DAILY)]) == 0.0
    assert only_towing.wear([UsedSpan(1e6, DAILY), UsedSpan(5_000 * MILE, TOWING)]) == pytest.approx(0.5)
    assert only_towing.wear_per_km(["daily", "towing"])["daily"] == 0.0


def test_a_row_with_figures_for_some_duties_alone_counts_only_those() -> None:
    belt = limit(None, towing=miles(60_000))
    assert belt.wear([UsedSpan(1e6, DAILY)]) == 0.0
    assert belt.wear([UsedSpan(30_000 * MILE, TOWING)]) == pytest.approx(0.5)
    assert belt.reference_km == pytest.approx(60_000 * MILE)


def test_a_fluid_grade_waives_the_severe_figure() -> None:
    figure = DutyFigure("track", miles(2_000), waived_by=("75W-140 synthetic",))
    limits = Limits(miles(50_000), (figure,))
    track = [UsedSpan(1_000 * MILE, DutySplit((("track", 1.0),)))]
    for grade, expected in (("75w-140  Synthetic", 0.02), ("80W-90", 0.5), ("", 0.5)):
        made = distance_limit(limits, Mixing.BLEND, DUTIES, fluid_grade=grade)
        assert made is not None
        assert made.wear(track) == pytest.approx(expected)


def test_nothing_by_distance_is_no_limit() -> None:
    assert distance_limit(Limits(months=12), Mixing.BLEND, DUTIES) is None
    assert distance_limit(Limits(None, (DutyFigure("daily", None),)), Mixing.BLEND, DUTIES) is None


def test_hours_count_alike_under_every_duty() -> None:
    assert plain_limit(500.0).wear([UsedSpan(100, TOWING), UsedSpan(150, DAILY)]) == pytest.approx(0.5)


@given(
    st.lists(st.tuples(st.floats(0, 1e5), st.sampled_from([TOWING, DAILY])), max_size=8),
    st.floats(0, 1e5),
    st.sampled_from(list(Mixing)),
)
def test_more_distance_never_wears_less(spans: list[tuple[float, DutySplit]], more: float, mixing: Mixing) -> None:
    made = limit(50_000, mixing, towing=miles(20_000))
    used = [UsedSpan(km, split) for km, split in spans]
    assert made.wear([*used, UsedSpan(more, DAILY)]) >= made.wear(used) - 1e-12
    assert made.wear([*used, UsedSpan(more, TOWING)]) >= made.wear(used) - 1e-12


@given(st.lists(st.tuples(st.floats(0, 1e5), st.sampled_from([TOWING, DAILY])), max_size=8))
def test_a_strict_line_is_never_worn_less_than_one_that_blends(spans: list[tuple[float, DutySplit]]) -> None:
    used = [UsedSpan(km, split) for km, split in spans]
    blend, strict = limit(50_000, towing=miles(20_000)), limit(50_000, Mixing.STRICT, towing=miles(20_000))
    assert strict.wear(used) >= blend.wear(used) - 1e-12


def test_the_first_interval_holds_until_the_service_was_done_once() -> None:
    first, repeat = Limits(miles(500)), Limits(miles(30_000), hours=Decimal(500))
    assert limits_in_force(IntervalRule(repeat, first), is_first=True) is first
    assert limits_in_force(IntervalRule(repeat, first), is_first=False) is repeat
    assert limits_in_force(IntervalRule(repeat), is_first=True) is repeat


@pytest.mark.parametrize(
    ("anchor", "months", "due"),
    [
        # C4: 31 Jan + 1 month = 28 Feb, + 2 months = 31 Mar, counted from the anchor (python-dateutil, recomputed).
        (date(2003, 1, 31), 1, date(2003, 2, 28)),
        (date(2003, 1, 31), 2, date(2003, 3, 31)),
        # C6: 2000-03-31 + 1 month, the second step of the example in W3C XML Schema Part 2, Appendix E; recomputed.
        (date(2000, 3, 31), 1, date(2000, 4, 30)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
    ],
)
def test_months_are_counted_from_the_anchor_and_clamped(anchor: date, months: int, due: date) -> None:
    made = time_limit(Limits(months=months), anchor)
    assert made is not None
    assert made.due_on == due


def test_of_months_and_weeks_the_earlier_counts() -> None:
    made = time_limit(Limits(months=2, weeks=6), date(2026, 1, 1))
    assert made is not None
    assert (made.due_on, made.words, made.days) == (date(2026, 2, 12), "6 weeks", 42)


def test_wear_by_time_is_days_gone_over_days_allowed() -> None:
    made = time_limit(Limits(months=12), date(2025, 3, 25))
    assert made is not None
    assert made.wear(date(2026, 4, 14)) == pytest.approx(385 / 365)
    assert made.wear(date(2026, 3, 25)) == 1.0
    assert made.wear(date(2024, 1, 1)) == 0.0


def test_no_time_limit_and_one_past_the_end_of_the_calendar_are_none() -> None:
    assert time_limit(Limits(miles(5)), date(2026, 1, 1)) is None
    assert time_limit(Limits(months=120_000), date(2026, 1, 1)) is None


def test_a_waiver_for_a_grade_holds_for_every_fluid_of_that_grade_and_not_the_other_way() -> None:
    figure = DutyFigure("towing", miles(30_000), waived_by=("75W-140",))
    assert waives(figure, "75W-140")
    assert waives(figure, "75w-140  GL-5")
    assert not waives(figure, "75W-90 GL-5")
    assert not waives(figure, "")
    assert not waives(DutyFigure("towing", miles(30_000), waived_by=("75W-140 GL-5",)), "75W-140")


def test_a_friction_modifier_shortens_the_interval_by_one_level() -> None:
    """Freightliner Cascadia maintenance manual, Meritor axle note; 100,000 and 40,000 mi: Spicer single axles p. 36."""
    limits = Limits(
        miles(100_000),
        (DutyFigure("towing", miles(40_000)), DutyFigure("daily", miles(90_000)), DutyFigure("track", None)),
        months=12,
        with_modifier=Limits(miles(40_000)),
    )
    rule = IntervalRule(limits)
    plain = limits_in_force(rule, is_first=False)
    shorter = limits_in_force(rule, is_first=False, has_modifier=True)
    assert plain == limits
    assert shorter.distance == miles(40_000)
    assert [figure.distance for figure in shorter.by_duty] == [miles(40_000), miles(40_000), None]
    assert shorter.months == 12
    assert limits_in_force(IntervalRule(Limits(months=6)), is_first=False, has_modifier=True) == Limits(months=6)
