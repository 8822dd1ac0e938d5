"""The VIN laws against the worked example and the tables of the rule that makes them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.errors import BadInput
from fleetcare.fleet.vin import check_digit, model_years, vin_doubts

# 49 CFR 565.6 (October 2000 edition), Table V: products 8, 49, 24, 5, 32, 15, 18, 80, 0, 45, 56, 7, 6, 40, 12, 12, 2;
# sum 411; 411 = 37 x 11 + 4, so the check digit is 4.
WORKED = "1G4AH59H?5G118341"
WHOLE = "1G4AH59H45G118341"

SIGNS = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"
vins = st.text(SIGNS, min_size=17, max_size=17)


def with_check_digit(vin: str) -> str:
    return vin[:8] + check_digit(vin) + vin[9:]


def with_year_code(code: str, *, seventh: str = "9") -> str:
    return "1G4AH5" + seventh + "H0" + code + "G118341"


def test_the_worked_example_of_the_rule_gives_four() -> None:
    assert check_digit(WORKED) == "4"


def test_ten_is_written_x() -> None:
    # By hand from Table V above: a last digit of 4 in place of 1 adds 3 x 2 = 6; 417 = 37 x 11 + 10.
    assert check_digit("1G4AH59H?5G118344") == "X"


def test_seventeen_ones_check_themselves() -> None:
    # By hand: every value is 1, so the sum is that of the weights, 89 = 8 x 11 + 1.
    assert check_digit("1" * 17) == "1"
    assert vin_doubts("1" * 17) == ()


def test_spaces_hyphens_and_small_letters_do_not_matter() -> None:
    assert check_digit(" 1g4ah59h-4 5g118341 ") == "4"
    assert vin_doubts("1g4 ah59h45 g118341") == ()


@pytest.mark.parametrize("vin", ["", "1G4AH59H45G11834", WHOLE + "1"])
def test_a_check_digit_of_another_length_is_refused(vin: str) -> None:
    with pytest.raises(BadInput, match="all 17"):
        check_digit(vin)


@pytest.mark.parametrize("sign", ["I", "O", "Q", "*", "É", "²"])
def test_a_check_digit_over_a_sign_no_vin_holds_is_refused(sign: str) -> None:
    with pytest.raises(BadInput, match="position 3"):
        check_digit("1G" + sign + "AH59H45G118341")


@pytest.mark.parametrize(
    ("code", "years"),
    [
        # 49 CFR 565.15(d)(1), year-code table: ends of each run, and the second cycle thirty years on.
        ("A", (1980, 2010)),
        ("H", (1987, 2017)),
        ("J", (1988, 2018)),
        ("N", (1992, 2022)),
        ("P", (1993, 2023)),
        ("R", (1994, 2024)),
        ("T", (1996, 2026)),
        ("V", (1997, 2027)),
        ("Y", (2000, 2030)),
        ("1", (2001, 2031)),
        ("9", (2009, 2039)),
    ],
)
def test_a_year_code_stands_for_two_years_thirty_apart(code: str, years: tuple[int, int]) -> None:
    assert model_years(with_year_code(code)) == years


@pytest.mark.parametrize("code", list("IOQUZ0"))
def test_six_signs_are_no_year_code(code: str) -> None:
    assert model_years(with_year_code(code)) == ()


def test_position_seven_tells_the_cycle_for_light_vehicles_only() -> None:
    # 49 CFR 565.15(b): a letter for cars and light trucks of the cycle from 2010 on.
    assert model_years(with_year_code("5", seventh="9"), light=True) == (2005,)
    assert model_years(with_year_code("5", seventh="B"), light=True) == (2035,)
    assert model_years(with_year_code("5", seventh="B")) == (2005, 2035)


def test_without_a_vin_there_is_nothing_to_doubt() -> None:
    assert vin_doubts("") == ()
    assert vin_doubts("  ") == ()


def test_a_sound_vin_raises_no_doubt() -> None:
    assert vin_doubts(WHOLE) == ()


def test_two_characters_exchanged_are_doubted_with_the_digit_that_would_fit() -> None:
    (doubt,) = vin_doubts("1G4HA59H45G118341")
    assert "Position 9 is 4" in doubt
    assert f"would be {check_digit('1G4HA59H45G118341')}" in doubt


def test_a_short_vin_is_doubted_and_not_refused() -> None:
    (doubt,) = vin_doubts("12345")
    assert "17 characters" in doubt
    assert "has 5" in doubt


def test_letters_that_look_like_digits_are_named_with_the_digit() -> None:
    assert vin_doubts("IG4AH59H45G1I834O") == (
        "Position 1 is I, which no VIN holds. Is it a 1?",
        "Position 13 is I, which no VIN holds. Is it a 1?",
        "Position 17 is O, which no VIN holds. Is it a 0?",
    )


def test_a_year_code_that_is_none_is_doubted() -> None:
    vin = with_check_digit(with_year_code("Z"))
    (doubt,) = vin_doubts(vin)
    assert "Position 10 is Z" in doubt


@given(st.text(max_size=40))
def test_whatever_is_typed_is_doubted_at_most(text: str) -> None:
    assert all(doubt.endswith((".", "?")) for doubt in vin_doubts(text))


@given(vins)
def test_a_vin_with_its_own_check_digit_is_only_ever_doubted_for_its_year(vin: str) -> None:
    doubts = vin_doubts(with_check_digit(vin))
    assert not any("check digit" in doubt for doubt in doubts)
    assert bool(doubts) == (model_years(vin) == ())


@given(vins, st.integers(0, 16), st.sampled_from("0123456789"))
def test_one_wrong_digit_in_place_of_another_is_always_noticed(vin: str, place: int, digit: str) -> None:
    """Weights and 11 have no common factor, and two digits differ by less than 11."""
    sound = with_check_digit(vin)
    if not sound[place].isdigit() or digit == sound[place]:
        return
    wrong = sound[:place] + digit + sound[place + 1 :]
    assert any("check digit" in doubt for doubt in vin_doubts(wrong))
