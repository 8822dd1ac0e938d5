"""Words are folded alike wherever they are typed."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from fleetcare.fleet.sought import LONGEST_WORD, MOST_WORDS, typed_words, words_of


def test_letters_lose_accents_and_case_and_signs_part_words() -> None:
    assert words_of("Ångström’s Großer  Wagen, 75W-140") == ("140", "75w", "angstrom", "grosser", "s", "wagen")
    assert typed_words("anvil ANVIL Rear_axle") == ("anvil", "rear", "axle")
    assert words_of("𝖠nvil ＡＮＶＩＬ") == ("anvil",)


@given(st.text())
def test_what_was_written_down_is_found_by_typing_it(text: str) -> None:
    kept = words_of(text)
    assert set(typed_words(text)) <= set(kept)
    assert len(typed_words(text)) <= MOST_WORDS
    assert all(len(word) <= LONGEST_WORD and word.isalnum() for word in kept)
    assert words_of(" ".join(kept)) == kept
