"""A reading just given: it fits, is known, is doubted with one good guess, or cannot be taken."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.due.facts import VehicleFacts
from fleetcare.due.judging import judge_reading
from fleetcare.fleet.vehicle import Meter, MeterChange, Vehicle, VehicleKind
from fleetcare.meter.doubt import Doubt, DoubtKind, Fits, KnownAlready, Refusal, RefusalKind, Verdict
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.meter.slips import Explanation, Slip
from fleetcare.quantities import DistanceUnit, MeterUnit
from fleetcare.usage.priors import Priors

LAST, TODAY = date(2026, 3, 12), date(2026, 4, 14)
NOW = datetime(2026, 4, 14, 9, tzinfo=UTC)
MI = Meter("odometer", MeterUnit.MI)
FLAT = Priors(season=(1.0,) * 12)


def past(on: date, value: int, state: ReadingState = ReadingState.USED, unit: MeterUnit = MeterUnit.MI) -> Reading:
    moment = datetime.combine(on, datetime.min.time(), UTC)
    return Reading("BE", "odometer", on, Decimal(value), unit, moment, state=state)


BELLOWS = tuple(past(LAST - timedelta(days=30 * back), 83365 - 770 * back) for back in reversed(range(8)))
"""770 mi in 30 days, so that 845 mi in 33 are usual."""


def judge(
    value: int | str,
    unit: MeterUnit = MeterUnit.MI,
    *,
    on: date = TODAY,
    meter: Meter = MI,
    readings: tuple[Reading, ...] = BELLOWS,
    only_order: bool = False,
    **more: object,
) -> Verdict:
    vehicle = Vehicle("BE", "Bellows", VehicleKind.VAN, "tow rig", DistanceUnit.MI, meters=(meter,), **more)  # type: ignore[arg-type]
    given_now = Reading("BE", meter.key, on, Decimal(value), unit, NOW)
    return judge_reading(VehicleFacts(vehicle, readings), given_now, FLAT, today=TODAY, only_order=only_order)


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
    assert judge(84210, readings=(), in_service_on=date(2026, 1, 1)) == Fits(None, None)


def test_the_same_reading_again_is_known() -> None:
    assert judge(83365, on=LAST) == KnownAlready(BELLOWS[-1])


def test_a_reading_that_is_held_is_asked_about_when_it_is_given_again() -> None:
    held = past(TODAY, 48210, ReadingState.HELD)
    assert isinstance(judge(48210, readings=(*BELLOWS, held)), Doubt)


def test_a_reading_that_was_taken_back_may_be_given_again() -> None:
    readings = (*BELLOWS[:-1], past(LAST, 83365, ReadingState.TAKEN_BACK))
    assert isinstance(judge(83365, on=LAST, readings=readings), Fits)


@pytest.mark.parametrize(
    ("typed", "slip", "meant", "positions"),
    [
        ("48210", Slip.EXCHANGED, "84210", (0, 1)),
        ("82410", Slip.EXCHANGED, "84210", (1, 2)),
        ("884210", Slip.DOUBLED, "84210", (0, 1)),
        ("842210", Slip.DOUBLED, "84210", (2, 3)),
        ("842105", Slip.TENTHS, "84210", (5,)),
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


def test_a_missing_digit_is_put_where_it_makes_the_usual_distance() -> None:
    verdict = judge(8410)
    assert isinstance(verdict, Doubt)
    assert verdict.explanation is Explanation.DIGIT_MISSING
    assert verdict.guess is not None
    assert 0 <= verdict.guess.distance <= verdict.expected[2]


def test_a_reading_in_the_other_unit_is_looked_at_in_the_digits_that_were_typed() -> None:
    # 84 210 mi are 135 522.9 km; exchanged: 153 523.
    assert isinstance(judge(135523, MeterUnit.KM), Fits)
    verdict = judge(153523, MeterUnit.KM)
    assert isinstance(verdict, Doubt)
    assert verdict.guess is not None
    assert (verdict.guess.slip, verdict.guess.value) == (Slip.EXCHANGED, Decimal(135523))


def test_what_is_odd_is_lower_or_further_or_beyond_what_can_be() -> None:
    kinds = {48210: DoubtKind.LOWER, 90210: DoubtKind.FURTHER, 184210: DoubtKind.BEYOND}
    for value, kind in kinds.items():
        verdict = judge(value)
        assert isinstance(verdict, Doubt)
        assert verdict.kind is kind
        assert verdict.chance_right < FLAT.ask_below
        assert (verdict.cap_per_day is not None) == (kind is DoubtKind.BEYOND)


def test_what_cannot_be_is_refused_with_its_reason() -> None:
    cases: list[tuple[Verdict, RefusalKind]] = [
        (judge(84210, on=TODAY + timedelta(days=1)), RefusalKind.FUTURE),
        (judge(-5), RefusalKind.NEGATIVE),
        (judge("NaN"), RefusalKind.NOT_A_NUMBER),
        (judge("Infinity"), RefusalKind.NOT_A_NUMBER),
        (judge(84210, MeterUnit.HOURS), RefusalKind.WRONG_KIND),
        (judge(84210, on=date(2026, 2, 20)), RefusalKind.OUT_OF_ORDER),
        (judge(82000, on=date(2026, 2, 20)), RefusalKind.OUT_OF_ORDER),
        (judge(84000, on=date(2025, 1, 1)), RefusalKind.OUT_OF_ORDER),
        (judge(9_999_999), RefusalKind.OFF_DIAL),
        (judge(8_421_000, readings=()), RefusalKind.OFF_DIAL),
    ]
    for verdict, kind in cases:
        assert isinstance(verdict, Refusal)
        assert verdict.kind is kind
        assert verdict.sentence(DistanceUnit.KM)


def test_a_reading_of_the_past_fits_between_its_neighbours() -> None:
    assert isinstance(judge(83000, on=date(2026, 2, 20)), Fits)
    assert isinstance(judge(75000, on=date(2025, 1, 1)), Fits)


def test_a_second_reading_of_a_day_is_judged_against_the_day_before() -> None:
    assert isinstance(judge(83300, on=LAST), Fits)


def test_against_a_neighbour_that_is_in_doubt_itself_it_is_asked_not_refused() -> None:
    """11 000 mi in 30 days, then nothing that bears it out: whoever knows better is asked."""
    doubtful = (*BELLOWS[:-1], past(LAST, 89000))
    assert isinstance(judge(84500, readings=doubtful), Doubt)


def test_a_dial_that_rolled_over_fits() -> None:
    meter = Meter("odometer", MeterUnit.MI, digits=5, rolls_over=True)
    readings = tuple(past(r.on, int(r.value) + 99500 - 83365) for r in BELLOWS)
    verdict = judge(345, meter=meter, readings=readings)
    assert isinstance(verdict, Fits)
    assert verdict.distance == pytest.approx(845 * 1.609344)


def test_a_dial_of_which_nobody_said_that_it_rolls_over_is_asked_about() -> None:
    readings = tuple(past(r.on, int(r.value) + 99500 - 83365) for r in BELLOWS)
    verdict = judge(345, meter=Meter("odometer", MeterUnit.MI, digits=5), readings=readings)
    assert isinstance(verdict, Doubt)
    assert verdict.explanation is Explanation.ROLLED_OVER
    assert plain(verdict).endswith("The dial may have begun anew at nought.")


def test_a_new_dial_counts_from_its_own_start() -> None:
    meter = Meter("odometer", MeterUnit.MI, changes=(MeterChange(date(2026, 4, 1), Decimal(83900), Decimal(0)),))
    verdict = judge(310, meter=meter)
    assert isinstance(verdict, Fits)
    assert verdict.distance == pytest.approx(845 * 1.609344)


def test_of_a_figure_of_the_past_only_order_and_the_cap_are_asked() -> None:
    assert isinstance(judge(89000, only_order=True), Fits)
    for value in (48210, 184210):
        assert isinstance(judge(value, only_order=True), Doubt)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2_000_000), st.sampled_from([MeterUnit.MI, MeterUnit.KM]))
def test_every_value_gets_one_verdict_and_every_guess_could_be(value: int, unit: MeterUnit) -> None:
    verdict = judge(value, unit)
    assert plain(verdict)
    if isinstance(verdict, Doubt) and verdict.guess is not None:
        assert verdict.guess.value != Decimal(value)
        again = judge(str(verdict.guess.value), unit)
        # It may lie beyond the busy end, so that it would be asked about itself, but not beyond what can be.
        assert isinstance(again, Fits) or (isinstance(again, Doubt) and again.kind is DoubtKind.FURTHER)


@settings(max_examples=80, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 400), st.integers(0, 2_000_000), st.sampled_from(list(ReadingState))), max_size=8
    ),
    st.integers(0, 10**15),
    st.integers(0, 500),
    st.booleans(),
)
def test_whatever_stands_there_a_reading_gets_a_verdict(
    there: list[tuple[int, int, ReadingState]], value: int, days: int, rolls: bool
) -> None:
    readings = tuple(past(TODAY - timedelta(days=back), shown, state) for back, shown, state in there)
    meter = Meter("odometer", MeterUnit.MI, digits=5, rolls_over=rolls)
    assert plain(judge(value, readings=readings, meter=meter, on=TODAY - timedelta(days=days)))
