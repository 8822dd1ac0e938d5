"""The text gate lets in what people write and nothing that misleads."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.errors import BadInput
from fleetcare.intake.text import LIMITS, clean_text


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("Anvil", "Anvil"),
        ("  Anvil \n", "Anvil"),
        ("Cafe\u0301", "Café"),  # NFC: Unicode UAX #15, table 1
        ("Ines Calloway-Núñez", "Ines Calloway-Núñez"),
        ("Привет", "Привет"),
        ("山田", "山田"),
        ("می\u200cخواهم", "می\u200cخواهم"),  # the zero-width non-joiner spells Persian words
        ("👩\u200d🔧", "👩\u200d🔧"),
        ("40\u202fN·m", "40\u202fN·m"),
        ("= 2", "= 2"),
        ("", ""),
    ],
)
def test_what_people_write_is_kept(typed: str, kept: str) -> None:
    assert clean_text(typed) == kept


@pytest.mark.parametrize(
    "typed",
    [
        "a\0b",
        "a\tb",
        "a\nb",
        "a\rb",
        "a\x1bb",
        "a\x7fb",
        "a\x85b",
        "a\x9bb",
        "a\u2028b",
        "a\u2029b",
        "a\ud800b",
        "a\u202eb",  # direction signs: Unicode UAX #9, table 4
        "a\u2066b",
        "a\u200fb",
        "a\u061cb",
        "a\u200bb",
        "a\ufeffb",
        "a\u00adb",
        "a\U000e0041b",
        "a\ufffeb",
        "a\ufdd0b",
        "a\U0001ffffb",
    ],
)
def test_what_misleads_or_breaks_a_line_is_refused(typed: str) -> None:
    with pytest.raises(BadInput) as caught:
        clean_text(typed, field="note")
    assert caught.value.field == "note"
    assert str(caught.value).isprintable()


def test_a_name_cannot_begin_a_coded_word_of_a_mail_header() -> None:
    """RFC 2047: `=?charset?...?=` is decoded by mail programs, line breaks included."""
    with pytest.raises(BadInput):
        clean_text("=?utf-8?q?a=0D=0ABcc=3Ax?=", field="name")
    assert clean_text("1/2=?", field="note") == "1/2=?"


def test_each_field_has_its_limit() -> None:
    for field, limit in LIMITS.items():
        assert clean_text("x" * limit, field=field) == "x" * limit
        with pytest.raises(BadInput, match="At most"):
            clean_text("x" * (limit + 1), field=field)
    with pytest.raises(BadInput, match="too long"):
        clean_text("x" * 10_000_000)
    with pytest.raises(BadInput, match="empty"):
        clean_text("  ", required=True)


@given(st.text(max_size=60))
def test_what_is_let_in_stays_as_it_is(typed: str) -> None:
    try:
        once = clean_text(typed, field="note")
    except BadInput:
        return
    assert clean_text(once, field="note") == once
    assert unicodedata.is_normalized("NFC", once)
    assert not {unicodedata.category(sign) for sign in once} & {"Cc", "Cs", "Zl", "Zp"}
