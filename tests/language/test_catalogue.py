"""The German catalogue has every text, with the same facts in it; who adds a text is told here that German lacks it."""

from __future__ import annotations

import pickle
import re
from datetime import date

import pytest
from babel.dates import format_date
from babel.messages.catalog import Message
from babel.numbers import format_decimal

from fleetcare.errors import NotFound, shown
from fleetcare.language import ENGLISH, Tongue, Tongues, in_force, later, speak, speaking, tr, tr_count
from fleetcare.settings.catalogues import LANGUAGES, tongue_of
from fleetcare.wording import (
    counted,
    counted_words,
    day_in_head,
    day_short,
    day_strip,
    day_words,
    grouped,
    joined,
    weekday_words,
)
from tests.language.texts import Text, german, in_template, texts

FACT = re.compile(r"\{(\w+)(?:![a-z])?\}|%\((\w+)\)s")
DAYS = [date(2026, month, 3 + month) for month in range(1, 13)]


def facts_of(text: str) -> set[str]:
    """The names of the facts that stand in a text."""
    return {one or other for one, other in FACT.findall(text)}


def forms_of(found: Message | None) -> tuple[str, ...]:
    """What stands in the catalogue for a text; empty if it lacks it."""
    if found is None or not found.string:
        return ()
    forms = tuple(found.string) if isinstance(found.string, (list, tuple)) else (found.string,)
    return forms if all(forms) else ()


def test_german_has_every_text() -> None:
    catalogue = german()
    lacking = [
        f"{place}: {text.one}"
        for text, place in texts().items()
        if not forms_of(catalogue.get(text.one, text.context or None))
    ]
    assert not lacking, "German lacks these; run python -m tests.language.texts and write them:\n" + "\n".join(lacking)


def test_a_text_that_german_lacks_would_be_noticed() -> None:
    assert not forms_of(german().get("A text that nobody has written yet"))
    assert list(in_template('<p>{{ _("One %(fact)s", fact=1) }}</p>')) == [Text("One %(fact)s")]


def test_a_translation_has_the_facts_of_its_text() -> None:
    catalogue = german()
    for text in texts():
        forms = forms_of(catalogue.get(text.one, text.context or None))
        for form, said in zip(forms, (text.one, text.more or text.one), strict=False):
            assert facts_of(form) == facts_of(said), (said, form)
            assert (form[:1] == " ", form[-1:] == " ") == (said[:1] == " ", said[-1:] == " "), (said, form)


@pytest.mark.parametrize("day", DAYS, ids=str)
def test_german_days_are_those_of_cldr(day: date) -> None:
    """Against Babel's own formatting of CLDR's patterns for German."""
    with speaking(tongue_of("de")):
        assert day_words(day, date(1, 1, 1)) == format_date(day, "d. MMMM y", locale="de")
        assert day_short(day, day) == format_date(day, "d. MMM", locale="de")
        assert day_strip(day, day) == format_date(day, "E, d. MMM", locale="de")
        assert weekday_words(day, date(1, 1, 1)) == format_date(day, "full", locale="de")
        assert day_in_head(day) == format_date(day, "E, d. MMM y", locale="de")


def test_german_numbers_have_a_comma_and_thin_groups() -> None:
    """The decimal sign is CLDR's; groups stay thin spaces in every language, since a point would read as a decimal."""
    with speaking(tongue_of("de")):
        assert grouped(1234.5).replace("\u2009", ".") == format_decimal(1234.5, locale="de")


def test_counts_have_their_noun() -> None:
    with speaking(tongue_of("de")):
        assert counted(1, "day", "days") == "1 Tag"
        assert counted(3, "day", "days") == "3 Tage"
        assert counted_words(1, "service", "services") == "eine Wartung"
        assert counted_words(2, "window", "windows") == "zwei Fenster"
        assert counted_words(0, "window", "windows") == "keine Fenster"
        assert joined(["a", "b", "c"]) == "a, b und c"
        assert tr("{reading} in {days}", reading="5 km", days=counted(3, "day", "days")) == "5 km in 3 Tagen"


def test_a_word_that_is_counted_elsewhere_can_stand_by_itself() -> None:
    with speaking(tongue_of("de")):
        assert tr("window open") == "Fenster offen"
        assert tr("day") == "Tag"


def test_without_a_translation_a_text_stays_english() -> None:
    with speaking(Tongue("xx", "None at all")):
        assert tr(later("Window ahead.")) == "Window ahead."
        assert tr_count("{n} finding waits.", "{n} findings wait.", 2, n=2) == "2 findings wait."


def test_a_language_is_in_force_only_within() -> None:
    with speaking(tongue_of("de")):
        assert tr("Vehicles") == "Fahrzeuge"
        with speaking(ENGLISH):
            assert tr("Vehicles") == "Vehicles"
        assert in_force().code == "de"
    assert in_force() is ENGLISH


@pytest.mark.parametrize(
    ("header", "code"),
    [
        ("de", "de"),
        ("de-AT,en;q=0.5", "de"),
        ("en-GB,de;q=0.9", "en"),
        ("fr,de;q=0.7,en;q=0.8", "en"),
        ("fr", "en"),
        ("de;q=0", "en"),
        ("*", "en"),
        ("de;q=much", "en"),
        ("", "en"),
        (",;;,=", "en"),
    ],
)
def test_a_browser_is_answered_in_what_it_asks_for(header: str, code: str) -> None:
    """Weights are those of RFC 9110, 12.5.4."""
    assert Tongues("en", LANGUAGES, tongue_of).asked_by(header).code == code


def test_a_language_that_is_not_offered_gives_way_to_the_garages_own() -> None:
    assert Tongues("en", ("en",), tongue_of).to("de") is ENGLISH
    assert Tongues("de", ("de", "en"), tongue_of).to("").code == "de"


def test_who_speaks_on_speaks_until_the_context_ends() -> None:
    with speaking(ENGLISH):
        speak(tongue_of("de"))
        assert in_force().code == "de"
    assert in_force() is ENGLISH


def test_what_somebody_typed_stands_in_the_quotation_marks_of_the_language() -> None:
    """Which marks a language has: CLDR, `quotationStart` and `quotationEnd`."""
    wrong = NotFound("vehicle", "Anvyl")
    assert str(wrong) == "There is no vehicle called “Anvyl”."
    with speaking(tongue_of("de")):
        assert wrong.words() == "Fahrzeug „Anvyl“ gibt es nicht."
        assert pickle.loads(pickle.dumps(shown("Anvyl"))).bare == "Anvyl"
