"""Texts of the shipped books are told in the reader's language, those of a garage's own as it wrote them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal
from html import unescape

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.language import as_written_down, from_books, speaking, tr_book
from fleetcare.page.cards.sentences import sheet_title
from fleetcare.settings.catalogues import tongue_of
from fleetcare.work.findings import Follow, FollowKind
from fleetcare.work.found import Found, found_words
from tests.book.shipped import shipped_book
from tests.digest.every_letter import every_letter
from tests.language.books import book_texts
from tests.page.karst_ridge import every_page

BOOK = shipped_book()
MEASURED = Found(
    mark="AN",
    component="brakes",
    kind="pads",
    grade="near",
    words="Pad thickness, front left: 3.5 mm, near its least",
    on=date(2026, 4, 14),
    follow=Follow(FollowKind.NOTHING),
    place="front left",
    value=Decimal("3.5"),
    unit="mm",
)


def test_a_shipped_text_is_told_in_german_and_kept_in_english() -> None:
    with speaking(tongue_of("de")):
        assert tr_book("Rear axle fluid, cover reseal") == "Hinterachsöl, Deckel neu abdichten"
        with as_written_down():
            assert tr_book("Rear axle fluid, cover reseal") == "Rear axle fluid, cover reseal"


def test_a_text_that_a_garage_wrote_itself_stays() -> None:
    with speaking(tongue_of("de")):
        assert tr_book("Winch rope, look and respool") == "Winch rope, look and respool"
        # Other texts of the program are none of the book's.
        assert tr_book("Vehicles") == "Vehicles"
        assert tr_book("") == ""


def test_a_title_is_found_by_its_small_letter_too() -> None:
    with speaking(tongue_of("de")):
        assert tr_book("Rear axle") == tr_book("rear axle") == "Hinterachse"


def test_a_text_made_of_texts_is_english_and_told_part_by_part() -> None:
    told = from_books("Look again: {component}. {found}", component="Rear axle", found="Winch rope")
    assert told == "Look again: Rear axle. Winch rope"
    with speaking(tongue_of("de")):
        assert told == "Look again: Rear axle. Winch rope"
        assert tr_book(told) == "Noch einmal ansehen: Hinterachse. Winch rope"


def test_what_was_found_is_told_in_german() -> None:
    assert found_words(MEASURED) == MEASURED.words
    with speaking(tongue_of("de")):
        assert tr_book(found_words(MEASURED)) == "Belagdicke, vorn links: 3,5 mm, nahe am Mindestmaß"
        graded = replace(MEASURED, words="Vent: blocked", place="", value=None, unit="")
        assert tr_book(found_words(graded)) == "Entlüftung: verstopft"


@given(st.text(max_size=40), st.sampled_from(["", "front left"]), st.sampled_from([None, Decimal("3.5")]))
def test_words_that_nobody_composed_stay_as_they_were_said(words: str, place: str, value: Decimal | None) -> None:
    found = replace(MEASURED, words=words, place=place, value=value)
    assert str(found_words(found)) == words


def test_german_short_names_have_room_where_the_english_ones_have_it() -> None:
    """24 characters are what `BookRow.short` promises to calendar entries."""
    with speaking(tongue_of("de")):
        assert not [row.key for row in BOOK.rows.values() if len(tr_book(row.short)) > 24]


def test_german_tells_services_apart_that_english_tells_apart() -> None:
    titles = {row.title for row in BOOK.rows.values()}
    shorts = {row.short for row in BOOK.rows.values()}
    with speaking(tongue_of("de")):
        assert len({tr_book(title) for title in titles}) == len(titles)
        twins = {"bearings after immersion", "walkaround check"}
        assert len({tr_book(short) for short in shorts - twins}) == len(shorts - twins)


def test_every_shipped_text_has_german_of_its_own() -> None:
    """Paragraphs of the law stay as they are printed, and one word is the same in both."""
    with speaking(tongue_of("de")):
        same = {text for text in book_texts() if tr_book(text) == text}
    assert same == {"29 CFR 1910.157(e)", "49 CFR 396.17(c)", "49 CFR 396.3(a)(2)", "Pedal"}


@pytest.mark.parametrize("word", ["manual", "technician", "never", "Never"])
def test_german_cautions_keep_what_they_defer_to(word: str) -> None:
    """Where the English defers to the manual or a technician, or forbids, the German does so as well."""
    kept = {
        "manual": ("nleitung", "anual"),
        "technician": ("Fachkraft",),
        "never": ("nie", "Nie"),
        "Never": ("Nie", "nie"),
    }
    with speaking(tongue_of("de")):
        for text in book_texts():
            if f" {word}" in f" {text}" and "TM " not in text:
                assert any(sign in tr_book(text) for sign in kept[word]), text


def sentences_on(pages: Mapping[str, str]) -> set[tuple[str, str]]:
    """Sentences of the shipped books (six words and more, which no name of a service has) as they stand on pages."""
    wanted = [text for text in book_texts() if len(text.split()) >= 6]
    bare = {name: " ".join(unescape(re.sub(r"<[^>]+>", "", page)).split()) for name, page in pages.items()}
    return {(name, text) for name, page in bare.items() for text in wanted if text in page}


def test_no_german_page_or_letter_has_a_sentence_of_the_books_in_english() -> None:
    with speaking(tongue_of("de")):
        pages = every_page()
        letters = {name: letter.html + letter.plain for name, letter in every_letter().items()}
    assert sentences_on(pages) == set()
    assert sentences_on(letters) == set()


def test_english_pages_have_sentences_of_the_books() -> None:
    """What the test above looks for is there to be found."""
    assert len({text for _, text in sentences_on(every_page())}) > 20


def test_a_sheet_of_several_services_is_called_by_them() -> None:
    with speaking(tongue_of("de")):
        assert sheet_title("Rear axle fluid, cover reseal, Axle vents, hoses and caps") == (
            "Hinterachsöl, Deckel neu abdichten, Achsentlüftungen, Schläuche und Kappen"
        )
        assert sheet_title("Rear axle fluid, cover reseal, Winch rope") == (
            "Hinterachsöl, Deckel neu abdichten, Winch rope"
        )
        assert sheet_title("Wheels, before the hill climb") == "Wheels, before the hill climb"
    assert sheet_title("Rear axle fluid, cover reseal") == "Rear axle fluid, cover reseal"
