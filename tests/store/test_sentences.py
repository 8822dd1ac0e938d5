"""A sentence that was stored is told in its reader's language with its figures; an older one stands as it was."""

from __future__ import annotations

import json
from datetime import date
from decimal import Decimal

import pytest
import sqlalchemy as sa
from alembic import command
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.due.causes import CAUSES, cause, cause_told
from fleetcare.errors import CalendarTrouble, shown
from fleetcare.figures import (
    Figure,
    kept_amount,
    kept_day,
    kept_days,
    kept_dial,
    kept_digits,
    kept_many,
    kept_place,
    kept_unit,
    kept_value,
    kept_whole,
)
from fleetcare.language import FromBook, Saying, saying, speaking, tr
from fleetcare.meter.doubt import held_because, held_note
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.quantities import MeterUnit
from fleetcare.settings.catalogues import tongue_of
from fleetcare.store.engine import connect, writing
from fleetcare.store.migrating import configuration
from fleetcare.store.sentences import kept_text, told_again
from fleetcare.store.sql_store import open_store
from tests.contracts.karst_ridge import ANVIL, CHANGE, GARAGE, INES, NOW

GERMAN = tongue_of("de")
MARCH = date(2026, 3, 31)
TOO_FAR = saying(
    "{shown} makes {gain} in {days}; no more than {most} a day can be.",
    shown=kept_dial(Decimal("984210.5"), MeterUnit.MI),
    gain=kept_amount(900845.2, "mi"),
    days=kept_days(33),
    most=kept_amount(994.2, "mi"),
)


def again(said: str) -> str:
    """The sentence after it went through a column and back."""
    return told_again(str(said), kept_text(said))


def test_a_sentence_with_figures_is_told_in_german_after_it_was_kept() -> None:
    told = again(TOO_FAR)
    assert told == TOO_FAR == "984\u2009210.5 mi makes 900\u2009845 mi in 33 days; no more than 994 mi a day can be."
    assert type(str(told)) is str
    with speaking(GERMAN):
        assert tr(told) == tr(TOO_FAR)
        assert tr(told).startswith("984\u2009210,5 mi")
        assert "33 Tage" in tr(told)


PARTS = ("say", "with", "figure", "book", "quoted", "decimal")
FIGURES: dict[str, tuple[Figure, str, str]] = {
    "day": (kept_day(MARCH), "31 March 2026", "31. März 2026"),
    "day of this year": (kept_day(MARCH, date(2026, 4, 14)), "31 March", "31. März"),
    "last day": (kept_day(date(9999, 12, 31)), "31 December 9999", "31. Dezember 9999"),
    "dial": (kept_dial(Decimal("12.5"), MeterUnit.HOURS), "12.5 h", "12,5 h"),
    "amount": (kept_amount(4.6, "km"), "5 km", "5 km"),
    "whole": (kept_whole(4.6), "5", "5"),
    "value": (kept_value(Decimal("84210.5")), "84\u2009210.5", "84\u2009210,5"),
    "days": (kept_days(1), "1 day", "1 Tag"),
    "digits": (kept_digits(6), "6 digits", "6 Ziffern"),
    "many": (kept_many(2), "Two", "Zwei"),
    "place": (kept_place(1), "second", "zweiter"),
    "unit": (kept_unit(MeterUnit.KM), "kilometres", "Kilometer"),
}


@pytest.mark.parametrize("name", FIGURES)
def test_each_figure_is_put_into_the_words_of_its_reader(name: str) -> None:
    figure, english, german = FIGURES[name]
    kept = again(Saying("{figure}", {"figure": figure}))
    assert kept == english
    with speaking(GERMAN):
        assert tr(kept) == german


def test_other_facts_come_back_as_they_were() -> None:
    said = Saying(
        "{a} {b} {c} {d} {e}",
        {"a": FromBook("Rear axle"), "b": shown("84k"), "c": Decimal("1.5"), "d": 3, "e": saying("taken back")},
    )
    assert again(said) == "Rear axle “84k” 1.5 3 taken back"
    with speaking(GERMAN):
        assert tr(again(said)) == "Hinterachse „84k“ 1,5 3 zurückgenommen"


@given(st.text(max_size=60))
def test_what_a_person_wrote_stands_as_it_is(text: str) -> None:
    assert kept_text(text) == ""
    assert again(text) == text
    with speaking(GERMAN):
        assert str(again(text)) == text


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.text(max_size=5),
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(PARTS), inner, max_size=4),
    ).map(json.dumps)
    | st.text(max_size=20)
)
def test_of_what_cannot_be_read_the_english_stands(kept: str) -> None:
    told = told_again("It was so.", kept)
    assert told == "It was so."
    with speaking(GERMAN):
        assert isinstance(tr(told), str)


def test_a_figure_that_no_version_has_leaves_the_english() -> None:
    kept = json.dumps({"say": "{a}", "with": {"a": {"figure": ["phase of the moon", "3"]}}})
    assert type(told_again("It was so.", kept)) is str


def test_a_fact_that_cannot_be_kept_is_noticed_when_it_is_stored() -> None:
    with pytest.raises(TypeError, match="no fact that can be kept"):
        kept_text(Saying("{a}", {"a": lambda: "worked out"}))


@pytest.mark.parametrize("text", CAUSES)
def test_every_cause_can_be_kept_and_is_told_as_if_it_were_new(text: str) -> None:
    facts: dict[str, object] = dict.fromkeys(
        ("mark", "sheet", "finding", "event", "calendar", "part", "vehicle", "there", "file", "booking"), "Ridge"
    )
    facts |= {"day": MARCH, "last_day": MARCH, "service": "Rear axle fluid, cover reseal", "tag": "ratio"}
    why = cause(text, **{name: fact for name, fact in facts.items() if f"{{{name}}}" in text})
    with speaking(GERMAN):
        assert cause_told(again(why)) == cause_told(why) == cause_told(str(why))


def test_a_trouble_with_a_calendar_is_told_in_german_after_it_was_kept() -> None:
    trouble = CalendarTrouble(
        saying("{host} answered {code} instead of a calendar.", host="cal.example", code=503),
        remedy="Give its address anew.",
    )
    with speaking(GERMAN):
        assert tr(again(trouble.said)) == trouble.words()
        assert "cal.example" in trouble.words()


def held(value: str, note: str) -> Reading:
    """A reading of Anvil that is held."""
    return Reading("AN", "odometer", MARCH, Decimal(value), MeterUnit.MI, NOW, state=ReadingState.HELD, note=note)


def test_notes_of_readings_keep_their_figures_and_older_ones_stay(database_url: str) -> None:
    """Before migration 0017 a note was English alone; it is read as it stands, and new ones are told in German."""
    store = open_store(database_url)
    with store.write(CHANGE) as unit:
        unit.put_garage(GARAGE)
        unit.put_person(INES)
        unit.put_vehicle(ANVIL)
        unit.add_readings((held("984210.5", held_note("", TOO_FAR)),))
    store.close()
    engine = connect(database_url)
    with writing(engine, typed=True) as connection:
        command.downgrade(configuration(connection), "0016")
        columns = {each["name"] for each in sa.inspect(connection).get_columns("reading")}
        assert "note_said" not in columns
    engine.dispose()
    store = open_store(database_url)
    with store.read() as view:
        (old,) = view.readings()
    assert type(old.note) is str
    assert held_because(old.note) == "984 210.5 mi makes 900 845 mi in 33 days; no more than 994 mi a day can be."
    with store.write(CHANGE) as unit:
        unit.set_reading_state(old.id or 0, ReadingState.HELD, held_note("By torchlight.", TOO_FAR))
    with store.read() as view:
        (new,) = view.readings()
    store.close()
    assert new.note == held_note("By torchlight.", TOO_FAR)
    with speaking(GERMAN):
        assert tr(held_because(new.note)) == tr(TOO_FAR)
        assert tr(new.note).startswith("By torchlight. Beiseitegelegt: 984\u2009210,5 mi")
