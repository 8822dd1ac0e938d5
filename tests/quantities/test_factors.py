"""Factors and printed pairs against NIST SP 811 and the manuals that print them."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare import quantities
from fleetcare.quantities import DistanceUnit, MeterUnit, PrintedDistance, km_from, km_to

KM, MI = DistanceUnit.KM, DistanceUnit.MI


def close(factor: float, exact: Fraction) -> bool:
    return abs(factor - float(exact)) <= 1e-15 * factor


@pytest.mark.parametrize(
    ("factor", "printed"),
    [
        # NIST SP 811 (2008), Appendix B.8; a figure in bold there is exact.
        (quantities.KM_PER_MILE, "1.609344"),
        (quantities.L_PER_US_GALLON, "3.785412"),
        (quantities.L_PER_US_QUART, "0.9463529"),
        (quantities.L_PER_US_PINT, "0.4731765"),
        (quantities.L_PER_IMPERIAL_GALLON, "4.54609"),
        (quantities.ML_PER_US_FLUID_OUNCE, "29.57353"),
        (quantities.NM_PER_LBF_FT, "1.355818"),
        (quantities.NM_PER_LBF_IN, "0.1129848"),
        (quantities.NM_PER_KGF_M, "9.80665"),
        (quantities.KPA_PER_PSI, "6.894757"),
    ],
)
def test_factors_round_to_what_nist_prints(factor: float, printed: str) -> None:
    places = len(printed.split(".")[1])
    assert f"{factor:.{places}f}" == printed


def test_volumes_are_built_on_231_cubic_inches() -> None:
    # 1 in = 2.54 cm exactly, 1 US gal = 231 in3 (NIST SP 811 B.8).
    gallon = Fraction(231) * Fraction(254, 100) ** 3 / 1000
    assert close(quantities.L_PER_US_GALLON, gallon)
    assert close(quantities.L_PER_US_QUART, gallon / 4)
    assert close(quantities.L_PER_US_PINT, gallon / 8)
    assert close(quantities.ML_PER_US_FLUID_OUNCE, gallon / 128 * 1000)


def test_torque_and_pressure_are_built_on_the_pound_force() -> None:
    # 1 lb = 0.453 592 37 kg, 1 ft = 0.3048 m, g = 9.806 65 m/s2, all exact (NIST SP 811 B.8).
    pound_force = Fraction(45359237, 10**8) * Fraction(980665, 10**5)
    foot = Fraction(3048, 10**4)
    assert close(quantities.NM_PER_LBF_FT, pound_force * foot)
    assert close(quantities.NM_PER_LBF_IN, pound_force * foot / 12)
    assert close(quantities.KPA_PER_PSI, pound_force / (foot / 12) ** 2 / 1000)


def test_a_printed_volume_in_three_units_agrees() -> None:
    # Toyota 4Runner V8 service manual, differential oil: 3.05 +- 0.05 L = 3.22 US qt = 2.68 Imp qt.
    assert round(3.05 / quantities.L_PER_US_QUART, 2) == 3.22
    assert round(3.05 / (quantities.L_PER_IMPERIAL_GALLON / 4), 2) == 2.68


@pytest.mark.parametrize(
    ("newton_metres", "pound_feet"),
    [(25, 18), (47, 35), (28, 21)],  # Corvette 2002 side cover; Hummer H2 2008 front case bolts and hole plug
)
def test_printed_torques_agree_to_the_pound_foot(newton_metres: float, pound_feet: int) -> None:
    assert round(newton_metres / quantities.NM_PER_LBF_FT) == pound_feet


def test_a_mean_year_is_a_julian_one() -> None:
    # IAU style manual: the Julian year of 365.25 days; from memory.
    assert quantities.DAYS_PER_YEAR == 365.25


@pytest.mark.parametrize(
    ("miles", "km"),
    [(1, 1.609344), (5000, 8046.72), (12000, 19312.128), (100000, 160934.4)],  # exact, by the factor above
)
def test_miles_become_kilometres_exactly(miles: int, km: float) -> None:
    assert km_from(miles, MI) == pytest.approx(km, rel=1e-15)
    assert km_from(Decimal(miles), MI) == km_from(miles, MI)


@given(st.floats(min_value=0, max_value=1e7), st.sampled_from(DistanceUnit))
def test_there_and_back_is_the_same_distance(value: float, unit: DistanceUnit) -> None:
    assert km_to(km_from(value, unit), unit) == pytest.approx(value, rel=1e-14)


@pytest.mark.parametrize(
    ("mi", "km", "primary", "in_km"),
    [
        # Chevrolet 2003 Express p. 6-10: 7,500 mi beside 12 500 km, and 97,500 beside 162 500 (a factor of 5/3).
        (7500, 12500, MI, 12070.08),
        (97500, 162500, MI, 156911.04),
        # Wood-Mizer trailer manual 1.2: 12,000 mi beside 19,308 km, where 19 312.128 is true.
        (12000, 19308, MI, 19312.128),
        # Hyundai LX2 p. 7-31: 120,000 km beside 80,000 mi, where 74 565 mi is true.
        (80000, 120000, KM, 120000.0),
    ],
)
def test_a_printed_pair_is_kept_and_its_primary_figure_counts(
    mi: int, km: int, primary: DistanceUnit, in_km: float
) -> None:
    pair = PrintedDistance(primary, km=Decimal(km), mi=Decimal(mi))
    assert pair.in_km == pytest.approx(in_km, rel=1e-12)
    assert (pair.km, pair.mi) == (Decimal(km), Decimal(mi))


def test_a_limit_without_its_primary_figure_or_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="primary"):
        PrintedDistance(KM, mi=Decimal(5))
    with pytest.raises(ValueError, match="more than nothing"):
        PrintedDistance.of(0, KM)
    with pytest.raises(ValueError, match="more than nothing"):
        PrintedDistance(KM, km=Decimal(5), mi=Decimal(-3))


def test_a_limit_in_one_unit_has_no_figure_in_the_other() -> None:
    assert PrintedDistance.of("2000", MI) == PrintedDistance(MI, mi=Decimal(2000))
    assert PrintedDistance.of(2000, KM).mi is None


def test_an_hour_meter_counts_no_distance() -> None:
    assert [unit.distance for unit in MeterUnit] == [KM, MI, None]
