"""The walk along the readings of a meter: what is held, what is released, and where the meter stands."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.meter.slips import Explanation, Slip
from fleetcare.quantities import DateSpan
from fleetcare.usage.priors import Priors
from fleetcare.usage.reading_likelihood import GATE, IncrementLaw, student_density
from fleetcare.usage.reading_walk import DialReading, Judged, Verdict, Walk, walk_readings
from fleetcare.usage.single_clock import SingleClock
from fleetcare.usage.single_pace import AheadOf, start_pace, with_increment
from tests.worlds import screen_table, world_a, world_b

PRIORS = Priors(season=(1.0,) * 12)
CLOCK = SingleClock.of(PRIORS.season)
DAY = date(2025, 1, 1).toordinal()
MONTHLY = [80_000.0 + 1_050 * month for month in range(7)]
"""1,050 km in 30 days, six times; the last one shows 86 300 on day 180."""


def walk(values: list[float], **more: object) -> Walk:
    return along([DialReading(DAY + 30 * n, value) for n, value in enumerate(values)], **more)


def along(readings: list[DialReading], **more: object) -> Walk:
    options: dict[str, object] = {"clock": CLOCK, "priors": PRIORS} | more
    return walk_readings(readings, **options)  # type: ignore[arg-type]


def last_of(values: list[float], **more: object) -> Judged:
    return walk(values, **more).judged[-1]


def verdicts(found: Walk) -> str:
    """A for accepted, ? for asked, h for held."""
    return "".join({"accepted": "A", "asked": "?", "held": "h"}[judged.verdict] for judged in found.judged)


def test_usual_readings_are_all_accepted_and_the_pace_is_that_of_the_filter() -> None:
    found = walk(MONTHLY)
    assert verdicts(found) == "AAAAAAA"
    assert found.used == tuple(range(7))
    assert found.true == tuple(MONTHLY)
    pace = start_pace(PRIORS)
    for _ in range(6):
        pace = with_increment(pace, 1050.0, 30.0, PRIORS)
    assert found.pace.mu == pytest.approx(pace.mu, rel=1e-12)
    assert found.pace.back == pace.back


def test_what_was_expected_is_that_of_the_law() -> None:
    judged = last_of([*MONTHLY, 87_350])
    pace = walk(MONTHLY).pace
    law = AheadOf.of(pace, PRIORS)
    for told, z in zip(judged.expected, (-1.959963984540054, 0.0, 1.959963984540054), strict=True):
        assert told == pytest.approx(law.quantile(30.0, z), rel=1e-9)
    assert judged.last == 6
    assert judged.gain == pytest.approx(1050.0)


def test_the_density_is_that_of_students_t_on_the_log_scale() -> None:
    # A second method: the area under it is 1 (trapezoids from -60 to 60), and its variance 5/3.
    steps = [n / 100 for n in range(-6000, 6001)]
    assert sum(student_density(z) for z in steps) / 100 == pytest.approx(1.0, abs=1e-4)
    assert sum(z * z * student_density(z) for z in steps) / 100 == pytest.approx(5 / 3, abs=1e-2)
    law = IncrementLaw(start_pace(PRIORS), PRIORS, 30.0)
    gains = [law.median * math.exp(n / 1000) for n in range(12_000)]
    above = sum(law.density(a) * (b - a) for a, b in pairwise(gains))
    assert above == pytest.approx(0.5, abs=2e-3), "half of it lies above the median"
    assert law.density(1.0) >= 0.02 / (law.median + 1)
    assert law.density(0.0) == 0.02


@pytest.mark.parametrize(
    ("figure", "explanation", "meant"),
    [
        (78_350, Explanation.EXCHANGED, 87_350),
        (8_735, Explanation.DIGIT_MISSING, None),
        (873_505, Explanation.DIGIT_EXTRA, 87_350),
        (54_277, Explanation.OTHER_UNIT, 87_350),
        (140_576, Explanation.OTHER_UNIT, 87_350),
        (430, Explanation.TRIP_METER, None),
        (97_350, Explanation.WRONG_DIGIT, 87_350),
    ],
)
def test_gross_slips_are_held_at_entry_and_named(figure: float, explanation: Explanation, meant: float | None) -> None:
    judged = last_of([*MONTHLY, figure])
    assert judged.verdict is Verdict.HELD
    assert judged.explanation is explanation
    if meant is not None:
        assert judged.guess == pytest.approx(meant, abs=1)


def test_a_dial_that_was_set_back_is_held_without_a_value() -> None:
    judged = last_of([*MONTHLY, 66_666])
    assert judged.verdict is Verdict.HELD
    assert judged.chance_right == 0.0


def test_no_chance_and_no_daily_cap_lets_more_than_can_be_driven_pass() -> None:
    assert last_of([*MONTHLY, 86_300 + 1600 * 30 + 2]).verdict is Verdict.HELD
    assert last_of([*MONTHLY, 86_300 + 5000], max_per_day=100.0).chance_right == 0.0
    hours = [100.0, 104.0, 200.0]
    assert along([DialReading(DAY + n, v) for n, v in enumerate(hours)], is_hours=True).judged[2].chance_right == 0.0


def test_a_large_but_possible_gain_is_used_and_shown_and_the_next_reading_bears_it_out() -> None:
    far = [*MONTHLY, 86_300 + 7_000]
    assert last_of(far).verdict is Verdict.ASKED
    assert walk([*far, far[-1] + 1_000]).judged[7].verdict is Verdict.ACCEPTED


def test_a_held_reading_is_released_by_the_next_one() -> None:
    """97 350 may be 87 350 mistyped; that it goes on from there tells."""
    values = [*MONTHLY, 97_350]
    assert last_of(values).verdict is Verdict.HELD
    found = walk([*values, 98_400])
    assert verdicts(found)[7:] == "AA"
    assert found.true[-1] == 98_400


def test_a_reading_that_slipped_through_is_found_wrong_by_the_next_ones() -> None:
    """87 150 typed as 88 150 lies inside what was expected; the readings after it do not bear it out."""
    slipped = [*MONTHLY, 88_350]
    assert last_of(slipped).verdict is Verdict.ACCEPTED
    found = walk([*slipped, 87_500, 88_600, 89_700])
    assert verdicts(found) == "AAAAAAAhAAA"
    assert found.used == (0, 1, 2, 3, 4, 5, 6, 8, 9, 10)


def test_of_two_that_contradict_each_other_later_readings_tell_which_is_wrong() -> None:
    assert verdicts(walk([*MONTHLY, 97_350, 88_400, 89_450]))[7:] == "hAA"
    assert verdicts(walk([*MONTHLY, 87_350, 78_400, 89_450]))[7:] == "AhA"


def test_a_meter_that_goes_on_from_a_low_figure_is_a_new_one_once_it_is_borne_out() -> None:
    assert verdicts(walk([*MONTHLY, 300])) == "AAAAAAAh"
    found = walk([*MONTHLY, 300, 1_350, 2_400, 3_450])
    assert verdicts(found)[7:] == "hAAA"
    assert found.judged[7].explanation is Explanation.METER_CHANGED
    # It goes on from what was expected: about 87 350 when the new one showed 300.
    assert found.true[-1] - 3_450 == pytest.approx(found.offset)
    assert found.offset == pytest.approx(87_050, abs=150)
    assert 900 < found.true[-3] - found.true[-4] < 2_500


def test_a_dial_that_began_anew_unsaid_is_held_once_and_goes_on() -> None:
    values = [94_000.0 + 1_000 * n for n in range(6)]
    found = walk([*values, 350, 1_350, 2_350])
    assert verdicts(found)[6:] == "hAA"
    assert found.judged[6].explanation is Explanation.ROLLED_OVER
    assert found.judged[6].guess == 100_350
    assert found.true[-1] == 102_350


def test_a_dial_known_to_roll_over_is_simply_right() -> None:
    # Maryland COMAR 11.12.01.19 names 99 999 as the last figure of a five-digit counter.
    values = [94_000.0 + 1_000 * n for n in range(6)]
    found = walk([*values, 350, 1_350], digits=5, rolls_over=True)
    assert verdicts(found) == "AAAAAAAA"
    assert found.true[-1] == 101_350
    assert walk([*values, 990.0, 100_350.0], digits=5, rolls_over=True).judged[-1].verdict is Verdict.HELD


def test_a_known_change_of_the_meter_goes_on_where_the_old_one_ended() -> None:
    change = (DAY + 190, 86_650.0, 0.0)
    found = walk([*MONTHLY, 700, 1_750], changes=[change])
    assert verdicts(found) == "AAAAAAAAA"
    assert found.true[7:] == (87_350, 88_400)
    assert found.offset == 86_650


def test_a_change_entered_at_a_door_says_nothing_of_the_distance_between() -> None:
    """The old meter ended at its last reading, for nobody saw it again; that is no month without use."""
    change = (DAY + 210, 86_300.0, 20.0)
    found = walk([*MONTHLY, 20, 1_070], changes=[change])
    assert verdicts(found) == "AAAAAAAAA"
    still = walk([*MONTHLY, 86_300, 87_350])
    assert found.pace.mu > still.pace.mu
    assert found.pace.n == 7


def test_a_first_reading_that_all_others_contradict_hides_none_of_them() -> None:
    for first in (842_000, 8_421, 56_000 + 80_000):
        assert verdicts(walk([first, *MONTHLY])) == "hAAAAAAA"
    assert verdicts(walk([84_000])) == "A", "by itself a first reading is not judged"


def test_the_in_service_date_is_one_increment_if_it_is_old_enough() -> None:
    age = (DAY - 2000, 0.0)
    found = walk([80_000, 81_050], in_service=age)
    assert found.pace.n == 2
    assert walk([80_000, 81_050], in_service=(DAY - 29, 0.0)).pace.n == 1
    assert found.judged[0].expected[0] > 0
    assert verdicts(walk([842_000, 85_000, 86_000], in_service=age)) == "hAA"


def test_a_vouched_reading_is_right_and_never_makes_distance_fall() -> None:
    readings = [DialReading(DAY + 30 * n, v) for n, v in enumerate([*MONTHLY, 300.0, 1_350.0, 2_400.0])]
    readings[7] = replace(readings[7], vouched=True)
    found = along(readings)
    assert verdicts(found) == "A" * 10
    assert found.judged[7].chance_right == 1.0
    assert list(found.true) == sorted(found.true)
    wrong = [DialReading(DAY + 30 * n, v) for n, v in enumerate([*MONTHLY, 95_000.0, 88_400.0])]
    wrong[8] = replace(wrong[8], vouched=True)
    assert verdicts(along(wrong)) == "AAAAAAAhA"


def test_of_several_on_one_day_the_last_that_fits_counts() -> None:
    start = [DialReading(DAY + 30 * n, v) for n, v in enumerate(MONTHLY)]
    on = DAY + 210
    both = along([*start, DialReading(on, 87_300.0), DialReading(on, 87_350.0)])
    assert both.used == (0, 1, 2, 3, 4, 5, 6, 8)
    slip = along([*start, DialReading(on, 87_350.0), DialReading(on, 78_350.0), DialReading(on + 30, 88_400.0)])
    assert verdicts(slip) == "AAAAAAAAhA"
    assert 7 in slip.used


def test_a_declared_trip_explains_its_distance_and_may_fall_out() -> None:
    trip = [(DAY + 200, 4_000.0)]
    for figure in (91_350, 87_350):
        judged = last_of([*MONTHLY, figure], trips=trip)
        assert judged.verdict is Verdict.ACCEPTED
    assert last_of([*MONTHLY, 91_350], trips=trip).chance_right > last_of([*MONTHLY, 91_350]).chance_right - 0.5
    assert walk([*MONTHLY, 91_350], trips=trip).pace.mu == pytest.approx(walk([*MONTHLY, 87_350]).pace.mu)


def test_a_vehicle_said_to_be_laid_up_may_be_moved_about() -> None:
    spell = DateSpan(date.fromordinal(DAY + 181), date.fromordinal(DAY + 400))
    clock = SingleClock.of(PRIORS.season, [spell])
    assert last_of([*MONTHLY, 86_312], clock=clock).verdict is Verdict.ACCEPTED
    assert last_of([*MONTHLY, 86_300], clock=clock).verdict is Verdict.ACCEPTED


def test_miles_give_the_same_verdicts_as_the_same_distances_in_km() -> None:
    km = [*MONTHLY, 93_300.0, 94_350.0]
    in_km, in_miles = walk(km), walk([v / 1.609344 for v in km], km_per_unit=1.609344)
    assert verdicts(in_km) == verdicts(in_miles)
    assert in_miles.pace.mu == pytest.approx(in_km.pace.mu, rel=1e-9)
    assert in_miles.judged[7].expected[1] * 1.609344 == pytest.approx(in_km.judged[7].expected[1])


def test_slips_are_looked_for_in_the_digits_that_were_typed() -> None:
    """140 576 km is 87 350 mi; typed with two digits exchanged, 104 576 km, on a dial in miles."""
    start = [DialReading(DAY + 30 * n, v) for n, v in enumerate(MONTHLY)]
    per_km = 1 / 1.609344
    judged = along([*start, DialReading(DAY + 210, 104_576 * per_km, per_typed=per_km)], km_per_unit=1.609344).judged[
        -1
    ]
    assert judged.repair is not None
    assert (judged.repair.slip, judged.repair.value) == (Slip.EXCHANGED, 140_576)
    assert judged.guess == pytest.approx(87_350, abs=1)


@pytest.mark.parametrize("figure", [math.nan, math.inf, -math.inf, -1.0, 1e13, 1e308])
def test_what_is_no_figure_is_held_and_disturbs_nothing(figure: float) -> None:
    found = walk([*MONTHLY, figure, 88_400])
    assert verdicts(found)[7:] == "hA"
    assert not any(judged.verdict is Verdict.HELD for judged in walk([*MONTHLY]).judged)


ANY_READING = st.builds(
    DialReading,
    ordinal=st.integers(DAY - 3, DAY + 60) | st.integers(1, date.max.toordinal()),
    value=st.floats(0, 2e6).map(lambda v: round(v, 1)) | st.floats() | st.sampled_from([0.0, 99_999.0, 1e15, 1e300]),
    vouched=st.booleans(),
    per_typed=st.sampled_from([1.0, 1.609344, 1 / 1.609344]),
)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(ANY_READING, max_size=14),
    st.booleans(),
    st.none() | st.integers(1, 7),
    st.lists(st.tuples(st.integers(DAY - 3, DAY + 60), st.floats(0, 1e6), st.floats(0, 1e6)), max_size=2),
)
def test_whatever_is_given_every_reading_is_judged_and_distance_never_falls(
    readings: list[DialReading], rolls: bool, digits: int | None, changes: list[tuple[int, float, float]]
) -> None:
    found = along(readings, digits=digits, rolls_over=rolls, changes=sorted(changes), trips=[(DAY + 5, 300.0)])
    assert [judged.place for judged in found.judged] == list(range(len(readings)))
    assert list(found.true) == sorted(found.true)
    days = [readings[place].ordinal for place in found.used]
    assert days == sorted(set(days))
    for judged, reading in zip(found.judged, readings, strict=True):
        assert 0.0 <= judged.chance_right <= 1.0
        assert (judged.verdict is Verdict.HELD) == (judged.chance_right < PRIORS.hold_below)
        if reading.vouched and 0 <= reading.value < 1e13:  # no dial shows more
            assert judged.verdict is Verdict.ACCEPTED
    assert not {place for place in found.used if found.judged[place].verdict is Verdict.HELD}


@settings(max_examples=60, deadline=None)
@given(st.permutations([(30 * n, 80_000.0 + 1_000 * n) for n in range(7)] + [(100, 38_000.0), (215, 1_200.0)]))
def test_the_order_in_which_days_are_given_changes_nothing(pairs: list[tuple[int, float]]) -> None:
    found = along([DialReading(DAY + day, value) for day, value in pairs])
    held = {value for (_, value), judged in zip(pairs, found.judged, strict=True) if judged.verdict is Verdict.HELD}
    assert held == {38_000.0, 1_200.0}


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(0.4, 2.2), min_size=3, max_size=12))
def test_readings_inside_the_gate_are_right_without_looking_for_slips(factors: list[float]) -> None:
    """What the gate lets pass would have come out right by the whole reckoning too."""
    values = [80_000.0]
    for factor in factors:
        values.append(values[-1] + round(1_000 * factor))
    found = walk(values)
    for n, judged in enumerate(found.judged[1:], start=1):
        before = walk(values[:n])
        law = IncrementLaw(before.pace, PRIORS, 30.0)
        if before.used == tuple(range(n)) and abs(math.log(judged.gain or 1) - law.centre) <= GATE * law.spread:
            assert walk(values[: n + 1]).judged[n].verdict is Verdict.ACCEPTED


SURE = ("digit missing", "digit extra", "trip meter", "miles/km", "rolled over", "meter replaced")


@pytest.mark.parametrize("make", [world_a, world_b])
def test_in_a_simulated_world_gross_errors_are_found_and_clean_readings_let_pass(make: object) -> None:
    """A small sample of the table that `tests.worlds.screen_table` prints; its shares are reported there."""
    world = make.make_world(100)  # type: ignore[attr-defined]
    rows = {row.kind: row for row in screen_table.table_of(world, clean=100, spoilt=16)}
    assert rows["clean"].held == (0.0, 0.0)
    assert max(rows["clean"].asked) <= 0.03
    for kind in SURE:
        assert rows[kind].held == (1.0, 1.0), kind
    assert min(rows["set back"].asked) >= 0.9
    assert min(rows["exchanged, large"].asked) >= 0.75
    assert rows["meter replaced"].named[1] >= 0.85
