"""What a garage changed in a row is told in the reader's language, and in English as it was kept."""

from __future__ import annotations

import pytest

from fleetcare.book.changed_fields import field_words, value_words
from fleetcare.language import speaking
from fleetcare.settings.catalogues import tongue_of


@pytest.mark.parametrize(
    ("field", "german"),
    [
        ("title", "Titel"),
        ("repeat months", "Wiederholung: Monate"),
        ("repeat distance under towing", "Wiederholung: Strecke unter Anhängerbetrieb"),
        ("first hours", "zuerst: Stunden"),
        ("repeat distance with a friction modifier", "Wiederholung: Strecke mit Reibwertverbesserer"),
        ("something of another version", "something of another version"),
    ],
)
def test_a_field_is_told_in_german(field: str, german: str) -> None:
    assert field_words(field) == field
    with speaking(tongue_of("de")):
        assert field_words(field) == german


@pytest.mark.parametrize(
    ("value", "german"),
    [
        ("nothing", "nichts"),
        ("21 days", "21 Tage"),
        ("1 month", "1 Monat"),
        ("30\u2009000 mi (printed beside it: 48\u2009000 km)", "30\u2009000 mi (gedruckt daneben: 48\u2009000 km)"),
        ("Winch rope", "Winch rope"),
    ],
)
def test_a_value_is_told_in_german(value: str, german: str) -> None:
    assert value_words(value) == value
    with speaking(tongue_of("de")):
        assert value_words(value) == german
