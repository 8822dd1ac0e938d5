"""How fast a measured value wears, against a worked example and its laws."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.wear.measured import PRIOR_CV, WearRate, since_renewed, wear_rate

# Worked by hand. Pads: 10.0 mm at 0 km, 8.5 at 12 000, 7.5 at 20 000, 6.0 at 32 000: mean x 16 000, mean y 8.0;
# Sxx = 16 000^2 + 4 000^2 + 4 000^2 + 16 000^2 = 544 000 000; Sxy = -16 000*2 - 4 000*.5 - 4 000*.5 - 16 000*2
# = -68 000; slope = -0.000125 mm/km. All points lie on the line, so to 3 mm from 6 mm it is 3/0.000125 = 24 000 km.
PADS = ((0.0, 10.0), (12_000.0, 8.5), (20_000.0, 7.5), (32_000.0, 6.0))


def test_pads_reach_their_least_thickness_where_the_example_says() -> None:
    rate = wear_rate(PADS)
    assert rate is not None
    assert rate.per_km == pytest.approx(0.000125)
    assert rate.km_to(3.0) == pytest.approx(24_000)
    assert rate.km_to(6.5) == 0.0
    # Nothing is left over, so what is unsure of it is what was unsure before, thinned by two more measurements.
    assert rate.cv2 == pytest.approx(3 * PRIOR_CV**2 / 5)


def test_two_measurements_give_the_straight_line_and_as_much_doubt_as_before() -> None:
    rate = wear_rate(((1000.0, 9.0), (11_000.0, 8.0)))
    assert rate is not None
    assert rate.per_km == pytest.approx(0.0001)
    assert rate.last == pytest.approx(8.0)
    assert rate.cv2 == pytest.approx(PRIOR_CV**2)


def test_a_value_that_rises_is_turned_round() -> None:
    drum = wear_rate(((0.0, 300.0), (40_000.0, 301.0)), falls=False)
    assert drum is not None
    assert drum.km_to(-302.0) == pytest.approx(40_000)


def test_nothing_is_said_of_one_measurement_or_of_what_does_not_get_worse() -> None:
    assert wear_rate(()) is wear_rate(((0.0, 9.0),)) is wear_rate(((5.0, 9.0), (5.0, 8.0))) is None
    assert wear_rate(((0.0, 8.0), (9000.0, 9.0))) is None
    assert wear_rate(((0.0, 8.0), (9000.0, 8.0))) is None


def test_new_pads_begin_anew() -> None:
    points = (*PADS, (33_000.0, 11.0), (45_000.0, 9.8))
    assert since_renewed(points) == ((33_000.0, 11.0), (45_000.0, 9.8))
    assert since_renewed(PADS) == PADS
    assert since_renewed(((0.0, 8.0), (100.0, 8.4))) == ((0.0, 8.0), (100.0, 8.4)), "read half a millimetre wrong"


distances = st.floats(0, 400_000)
values = st.floats(1, 40)


@settings(deadline=None)
@given(st.lists(st.tuples(distances, values), min_size=2, max_size=12), st.floats(0, 5))
def test_the_order_of_measurements_plays_no_part_and_a_lower_limit_is_reached_later(
    points: list[tuple[float, float]], lower: float
) -> None:
    shuffled = sorted(points, key=lambda point: hash_of(point))
    one, other = wear_rate(points), wear_rate(shuffled)
    assert one == other
    if one is not None:
        assert isinstance(one, WearRate)
        assert one.per_km > 0
        assert one.cv2 > 0
        assert one.km_to(lower) >= one.km_to(lower + 1.0) >= 0.0


def hash_of(point: tuple[float, float]) -> float:
    return (point[0] * 7919 + point[1] * 104_729) % 1013


@settings(deadline=None)
@given(st.floats(1e-6, 1e-3), st.floats(5, 20), st.lists(st.integers(1, 40), min_size=2, max_size=8, unique=True))
def test_measurements_on_a_line_give_back_its_rate(per_km: float, new: float, thousands: list[int]) -> None:
    points = [(1000.0 * k, new - per_km * 1000.0 * k) for k in thousands]
    rate = wear_rate(points)
    assert rate is not None
    assert rate.per_km == pytest.approx(per_km, rel=1e-6)
