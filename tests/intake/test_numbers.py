"""The number parser takes what a dial can show and refuses whatever could be read in two ways."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.errors import BadInput
from fleetcare.intake.numbers import decimal_mark, parse_amount, parse_decimal, parse_whole, plain


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("84210", "84210"),
        (" 84210\n", "84210"),
        ("84 210", "84210"),
        ("84\u2009210", "84210"),
        ("84\u00a0210", "84210"),
        ("84\u202f210", "84210"),
        ("84,210", "84210"),
        ("84.210", "84210"),
        ("1 234 567", "1234567"),
        ("1,234,567", "1234567"),
        ("84210.5", "84210.5"),
        ("84210,5", "84210.5"),
        ("84,210.5", "84210.5"),
        ("84.210,5", "84210.5"),
        ("84 210,5", "84210.5"),
        ("84'210", "84210"),
        ("84\u2019210", "84210"),
        ("1'234'567", "1234567"),
        ("84'210.5", "84210.5"),
        ("84'210,5", "84210.5"),
        ("084210", "84210"),
        ("084 210", "84210"),
        ("084,210", "84210"),
        ("0", "0"),
        ("0.5", "0.5"),
        ("12,5", "12.5"),
        ("999999999999", "999999999999"),
    ],
)
def test_what_a_dial_shows_is_read(typed: str, value: str) -> None:
    assert parse_amount(typed) == Decimal(value)


@pytest.mark.parametrize(
    "typed",
    [
        "",
        " ",
        "84k",
        "84 210 mi",
        "84,21",
        "84.21",
        "84,2105",
        "0,500",
        "8_4",
        "84_210",
        "1e5",
        "1E5",
        "0x10",
        "+84210",
        "-1",
        "\u2212" + "84",
        "²",
        "８４２１０",
        "٨٤٢١٠",
        "৮৪২১০",
        "½",
        "nan",
        "NaN",
        "inf",
        "Infinity",
        "1/2",
        "84  210",
        "84 21",
        "8421 0",
        "84,210,5",
        "84.210.5",
        "84,21,0",
        "84, 210",
        "84\u2009210 500",
        "84,",
        ".5",
        ",",
        ".",
        "84'21",
        "84'210,500",
        "84'210.500",
        "1'234\u2019567",
        "0'500",
        "1234567890123",
        "1 234 567 890 123",
        "9" * 5000,
        "84\0210",
        "84\u202e210",
        "\ud800",
        "=84210",
        "vierzig",
    ],
)
def test_what_no_dial_shows_is_refused_with_what_to_write(typed: str) -> None:
    with pytest.raises(BadInput) as caught:
        parse_amount(typed)
    assert caught.value.remedy
    assert caught.value.field == "value"
    assert len(str(caught.value)) < 250


def test_the_sentences_are_the_ones_people_see() -> None:
    with pytest.raises(BadInput) as letter:
        parse_amount("84k")
    assert str(letter.value) == "That is not a number: “84k”. Digits only, please."
    with pytest.raises(BadInput) as two_ways:
        parse_amount("84,21")
    assert str(two_ways.value) == ("“84,21” can be read in two ways. Write 8421, or 84.2 if the last digit is tenths.")
    with pytest.raises(BadInput) as nothing:
        parse_amount("")
    assert nothing.value.remedy == "Type what the dial shows, digits only."


@given(st.text(max_size=20) | st.text(alphabet="0123456789., \u2009e+-_", max_size=14))
def test_whatever_is_typed_is_read_as_its_digits_or_refused(typed: str) -> None:
    """No silent factor: the digits of the value are the digits that were typed, in their order."""
    try:
        value = parse_amount(typed)
    except BadInput:
        return
    digits = "".join(sign for sign in typed if sign in "0123456789")
    assert int(value * 10) in (int(digits), int(digits) * 10)
    assert 0 <= value < 10**12


@given(st.integers(0, 10**12 - 1), st.integers(0, 9), st.booleans())
def test_a_value_in_any_dress_is_the_same_value(whole: int, tenth: int, has_tenth: bool) -> None:
    grouped = f"{whole:,}"
    value = Decimal(f"{whole}.{tenth}") if has_tenth else Decimal(whole)
    for group, mark in ((",", "."), (".", ","), (" ", ","), ("\u2009", "."), ("", ",")):
        text = grouped.replace(",", group) + (f"{mark}{tenth}" if has_tenth else "")
        assert parse_amount(text) == value
    assert parse_amount(plain(value)) == value


@pytest.mark.parametrize(
    ("typed", "decimal_comma", "places", "value"),
    [
        ("2,6", True, 3, "2.6"),
        ("2.6", False, 3, "2.6"),
        ("2,625", True, 3, "2.625"),
        ("1.250,5", True, 3, "1250.5"),
        ("1,250.5", False, 3, "1250.5"),
        ("84.210", True, 1, "84210"),
        ("84 210,5", True, 1, "84210.5"),
    ],
)
def test_a_files_own_decimal_mark_is_kept_to(typed: str, decimal_comma: bool, places: int, value: str) -> None:
    assert parse_decimal(typed, decimal_comma=decimal_comma, places=places) == Decimal(value)


@pytest.mark.parametrize(
    ("typed", "decimal_comma"),
    [("84,210", True), ("84.210", False), ("2.6", True), ("2,6", False), ("1,2,3", True), ("²", True), ("1e3", False)],
)
def test_one_mark_never_means_the_other(typed: str, decimal_comma: bool) -> None:
    with pytest.raises(BadInput) as caught:
        parse_decimal(typed, decimal_comma=decimal_comma, places=1)
    assert caught.value.remedy


@pytest.mark.parametrize(
    ("text", "mark"),
    [
        ("84210,5", ","),
        ("84210.5", "."),
        ("84,210", None),
        ("84.210", None),
        ("84210", None),
        ("84.210,5", ","),
        ("1.234.567", ","),
        ("1,234,567", "."),
        ("84 210,5", ","),
        ("0,500", ","),
        ("abc", None),
        (",5", None),
    ],
)
def test_a_number_shows_the_decimal_mark_or_not(text: str, mark: str | None) -> None:
    assert decimal_mark(text) == mark


def test_whole_numbers_keep_to_their_bounds() -> None:
    assert parse_whole("7", least=0, most=23, field="letter_hour") == 7
    for typed in ("24", "-1", "7.0", "", "٧", "1" * 40):
        with pytest.raises(BadInput):
            parse_whole(typed, least=0, most=23, field="letter_hour")
