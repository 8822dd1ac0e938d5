"""Pages, letters and calendars are in their reader's language, while what is stored and the API stay English."""

from __future__ import annotations

from dataclasses import replace

from fleetcare.language import in_force, speaking
from fleetcare.page.render import together
from fleetcare.settings.catalogues import tongue_of
from tests.page.karst_ridge import every_page


def test_every_page_can_be_shown_in_german_and_says_so() -> None:
    with speaking(tongue_of("de")):
        pages = every_page()
    for name, page in pages.items():
        assert '<html lang="de">' in page, name
        assert "Zum Inhalt" in page, name


def test_an_english_page_says_so() -> None:
    assert all('<html lang="en">' in page for page in every_page().values())


def test_german_days_stay_on_one_line() -> None:
    with speaking(tongue_of("de")):
        assert str(together("am 25. April und 3. Dez. um")) == (
            'am <span class="n">25. April</span> und <span class="n">3. Dez.</span> um'
        )
        assert str(together("1,5 km")) == '<span class="n">1,5 km</span>'


def test_texts_that_are_looked_up_are_marked_on_every_page() -> None:
    """Each page shows texts out of the catalogue: a language that marks what it says leaves its marks on it."""
    marking = replace(tongue_of("de"), told=lambda text: f"⟦{text}⟧")
    with speaking(marking):
        assert all("⟦" in page for page in every_page().values())
        assert in_force() is marking
