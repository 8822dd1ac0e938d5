"""A sentence in German is German throughout, also where English asks for a word that German has not."""

from __future__ import annotations

from fleetcare.language import speaking
from fleetcare.settings.catalogues import tongue_of
from tests.page.karst_ridge import doubt_card


def test_the_article_before_a_dial_is_german() -> None:
    with speaking(tongue_of("de")):
        told = "".join(run.text for run in doubt_card().why)
    assert ", und ein Kilometerzähler läuft nicht rückwärts." in told
