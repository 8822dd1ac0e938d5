"""Texts are made fit for every reader without losing what people wrote."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.calendar_feed.plain_text import TITLE_LENGTH, many_lines, one_line


@given(st.text())
def test_a_title_is_one_tidy_line_however_it_came(text: str) -> None:
    line = one_line(text)
    assert len(line) <= TITLE_LENGTH
    assert line.splitlines() in ([], [line])
    assert line == line.strip()
    line.encode("utf-8")
    assert not any(unicodedata.category(ch) in {"Cc", "Cs", "Zl", "Zp"} for ch in line)


@given(st.text())
def test_doing_it_twice_changes_nothing(text: str) -> None:
    assert one_line(one_line(text)) == one_line(text)
    assert many_lines(many_lines(text)) == many_lines(text)


@given(st.text(st.characters(categories=("L", "N", "P", "S")), max_size=TITLE_LENGTH))
def test_letters_figures_and_signs_come_through(text: str) -> None:
    assert (
        one_line(text) == unicodedata.normalize("NFC", text).replace("\ufffd", "").replace("\ufffc", "")[:TITLE_LENGTH]
    )


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r", "\x0b", "\x0c", "\x85", "\u2028", "\u2029"])
def test_every_kind_of_line_end_is_one(ends: str) -> None:
    assert one_line(f"one{ends}two") == "one two"
    assert many_lines(f"one{ends}two") == "one\ntwo"


def test_at_most_one_line_in_a_row_is_empty() -> None:
    assert many_lines("\n one \n\n\n\n two\n\n") == "one\n\ntwo"


def test_controls_that_turn_the_direction_go_and_the_letters_stay() -> None:
    assert one_line("\N{RIGHT-TO-LEFT OVERRIDE}אדום\N{POP DIRECTIONAL FORMATTING}") == "אדום"


@pytest.mark.parametrize(
    ("text", "limit", "cut"),
    [
        ("abcdef", 6, "abcdef"),
        ("abcdefg", 6, "abcde…"),
        ("abcd efg", 6, "abcd…"),
        ("abcd" + "q\N{COMBINING DOT BELOW}\N{COMBINING DOT ABOVE}" + "ef", 6, "abcd…"),
        ("abcd\N{THUMBS UP SIGN}\N{EMOJI MODIFIER FITZPATRICK TYPE-4}e", 6, "abcd…"),
        ("abc\N{WOMAN}\N{ZERO WIDTH JOINER}\N{ROCKET}e", 6, "abc…"),
        ("abcd\N{REGIONAL INDICATOR SYMBOL LETTER D}\N{REGIONAL INDICATOR SYMBOL LETTER E}e", 6, "abcd…"),
    ],
)
def test_a_cut_parts_nothing_that_is_shown_as_one(text: str, limit: int, cut: str) -> None:
    assert one_line(text, limit) == cut


def test_a_heap_of_accents_is_cut_all_the_same() -> None:
    assert len(one_line("q" + "\N{COMBINING DOT BELOW}" * 500)) == TITLE_LENGTH
