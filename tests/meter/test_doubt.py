"""A reading just given: it fits, is known, is doubted with one good guess, or cannot be taken."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.fleet.vehicle import Meter, MeterChange
from fleetcare.meter.doubt import Doubt, DoubtKind, Fits, KnownAlready, Refusal, RefusalKind, Verdict, judge_reading
from fleetcare.meter.guessing import Slip
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.quantities import DistanceUnit, MeterUnit

LAST, TODAY = date(2026, 3, 12), date(2026, 4, 14)
MI = Meter("odometer", MeterUnit.MI)
MORE = (600.0, 2600.0)
"""Expected gain in km: 373 to 1 616 mi."""


def past(on: date, value: int, state: ReadingState = ReadingState.USED, unit: MeterUnit = MeterUnit.MI) -> Reading:
    return Reading("BE", "odometer", on, Decimal(value), unit, datetime(2026, 3, 12, tzinfo=UTC), state=state)


BELLOWS = (past(date(2026, 2, 10), 82600), past(LAST, 83365))


def judge(
    value: int | str,
    unit: MeterUnit = MeterUnit.MI,
    *,
    on: date = TODAY,
    meter: Meter = MI,
    readings: tuple[Reading, ...] = BELLOWS,
    expected: tuple[float, float] | None = MORE,
) -> Verdict:
    return judge_reading(Decimal(value), unit, on, meter=meter, readings=readings, today=TODAY, expected_gain=expected)


def plain(verdict: Verdict) -> str:
    return verdict.sentence(DistanceUnit.MI).replace("\u2009", " ")


def test_a_usual_distance_fits() -> None:
    verdict = judge(84210)
    assert isinstance(verdict, Fits)
    assert verdict.distance == pytest.approx(845 * 1.609344)
    assert plain(verdict) == "845 mi in 33 days."


def test_a_vehicle_that_hardly_moved_fits() -> None:
    assert isinstance(judge(83365), Fits)
    assert isinstance(judge(83370), Fits)


def test_the_first_reading_fits() -> None:
    assert judge(84210, readings=()) == Fits(None, None)


def test_the_same_reading_again_is_known() -> None:
    assert judge(83365, on=LAST) == KnownAlready(BELLOWS[1])


def test_a_reading_that_was_taken_back_may_be_given_again() -> None:
    readings = (BELLOWS[0], past(LAST, 83365, ReadingState.TAKEN_BACK))
    assert isinstance(judge(83365, on=LAST, readings=readings), Fits)


@pytest.mark.parametrize(
    ("typed", "slip", "meant", "positions"),
    [
        ("48210", Slip.EXCHANGED, "84210", (0, 1)),
        ("82410", Slip.EXCHANGED, "84210", (1, 2)),
        ("884210", Slip.DOUBLED, "84210", (0, 1)),
        ("842210", Slip.DOUBLED, "84210", (2, 3)),
        ("842105", Slip.TENTHS, "84210", (5,)),
        ("847210", Slip.TENTHS, "84721", (5,)),
        ("94210", Slip.WRONG_DIGIT, "84210", (0,)),
        ("135523", Slip.OTHER_UNIT, "84210", ()),
    ],
)
def test_slips_of_the_hand_are_found(typed: str, slip: Slip, meant: str, positions: tuple[int, ...]) -> None:
    verdict = judge(typed)
    assert isinstance(verdict, Doubt)
    assert verdict.guess is not None
    assert (verdict.guess.slip, verdict.guess.value) == (slip, Decimal(meant))
    assert verdict.guess.positions == positions


def test_two_slips_at_once_are_not_guessed_at() -> None:
    assert isinstance(judge(974210), Refusal)


def test_a_strange_digit_too_many_is_taken_out() -> None:
    # The last digit left out makes 84 921 mi, in range too; a wild one in front can only be dropped.
    verdict = judge("784210")
    assert isinstance(verdict, Doubt)
    assert verdict.guess is not None
    assert (verdict.guess.slip, verdict.guess.value, verdict.guess.positions) == (Slip.TOO_MANY, Decimal(84210), (0,))


def test_a_missing_digit_is_put_where_it_makes_the_usual_distance() -> None:
    verdict = judge(8410)
    assert isinstance(verdict, Doubt)
    assert verdict.guess is not None
    assert verdict.guess.slip is Slip.MISSING
    assert MORE[0] <= verdict.guess.distance <= MORE[1]
    assert f"{verdict.guess.value}"[: verdict.guess.positions[0]] == "8410"[: verdict.guess.positions[0]]


def test_the_doubt_says_what_is_odd_and_what_was_meant() -> None:
    assert plain(judge(48210)) == (
        "48 210 mi is lower than last time, 83 365 mi on 12 March 2026. "
        "With the first two digits the other way round it is 84 210."
    )
    verdict = judge(94210)
    assert isinstance(verdict, Doubt)
    assert verdict.kind is DoubtKind.FURTHER
    assert plain(verdict) == (
        "94 210 mi makes 10 845 mi in 33 days; at most 1 616 mi were expected. With an 8 in first place it is 84 210."
    )
    assert plain(judge(135523)).endswith("In miles that is 84 210.")


def test_a_repair_outside_the_expected_range_is_not_offered() -> None:
    verdict = judge(48210, expected=(10.0, 100.0))
    assert isinstance(verdict, Doubt)
    assert verdict.guess is None


def test_what_cannot_be_is_refused_with_its_reason() -> None:
    cases: list[tuple[Verdict, RefusalKind]] = [
        (judge(84210, on=TODAY + timedelta(days=1)), RefusalKind.FUTURE),
        (judge(-5), RefusalKind.NEGATIVE),
        (judge("NaN"), RefusalKind.NOT_A_NUMBER),
        (judge("Infinity"), RefusalKind.NOT_A_NUMBER),
        (judge(84210, MeterUnit.HOURS), RefusalKind.WRONG_KIND),
        (judge(84210, on=date(2026, 2, 20)), RefusalKind.OUT_OF_ORDER),
        (judge(82000, on=date(2026, 2, 20)), RefusalKind.OUT_OF_ORDER),
        (judge(141_000), RefusalKind.OVER_CAP),
        (judge(8_421_000, readings=()), RefusalKind.OFF_DIAL),
    ]
    for verdict, kind in cases:
        assert isinstance(verdict, Refusal)
        assert verdict.kind is kind
        assert verdict.sentence(DistanceUnit.KM)


def test_a_reading_of_the_past_fits_between_its_neighbours() -> None:
    assert isinstance(judge(83000, on=date(2026, 2, 20)), Fits)
    assert isinstance(judge(82600, on=date(2026, 1, 1)), Fits)


def test_a_second_reading_of_a_day_is_judged_against_the_day_before() -> None:
    assert isinstance(judge(83300, on=LAST), Fits)


def test_a_dial_that_rolled_over_fits() -> None:
    meter = Meter("odometer", MeterUnit.MI, digits=5, rolls_over=True)
    verdict = judge(300, meter=meter, readings=(past(LAST, 99500),))
    assert isinstance(verdict, Fits)
    assert verdict.distance == pytest.approx(800 * 1.609344)


def test_a_new_dial_counts_from_its_own_start() -> None:
    meter = Meter("odometer", MeterUnit.MI, changes=(MeterChange(date(2026, 4, 1), Decimal(83900), Decimal(0)),))
    verdict = judge(310, meter=meter)
    assert isinstance(verdict, Fits)
    assert verdict.distance == pytest.approx(845 * 1.609344)


def test_without_a_forecast_only_order_and_the_cap_are_judged() -> None:
    assert isinstance(judge(99000, expected=None), Fits)
    lower = judge(48210, expected=None)
    assert isinstance(lower, Doubt)
    assert lower.guess is None


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 2_000_000), st.sampled_from([MeterUnit.MI, MeterUnit.KM]))
def test_every_value_gets_one_verdict_and_every_guess_would_fit(value: int, unit: MeterUnit) -> None:
    verdict = judge(value, unit)
    assert plain(verdict)
    if isinstance(verdict, Doubt) and verdict.guess is not None:
        assert verdict.guess.value != Decimal(value)
        assert isinstance(judge(str(verdict.guess.value), unit), Fits)
