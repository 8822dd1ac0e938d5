"""Catalogues of texts, read from their files once; days, months and numbers as Babel (CLDR) has them for a language."""

from __future__ import annotations

from functools import cache
from importlib import resources
from pathlib import Path

from fleetcare.language import ENGLISH, Tongue
from fleetcare.language.german import DATIVE
from fleetcare.language.tongue import Names
from fleetcare.wording import ARTICLE

CATALOGUE = "LC_MESSAGES/messages.po"
LANGUAGES = ("en", "de")
"""Those that there are, English first; a garage says in its settings which of them it offers."""


def catalogue_path(code: str) -> Path:
    """The file with the texts of a language."""
    return Path(str(resources.files("fleetcare.language"))) / code / CATALOGUE


@cache
def tongue_of(code: str) -> Tongue:
    """The language of this code, `en` or `de`. Raises KeyError for any other."""
    return {"en": lambda: ENGLISH, "de": _german}[code]()


def _german() -> Tongue:
    from babel import Locale
    from babel.messages.pofile import read_po

    with catalogue_path("de").open("rb") as file:
        catalogue = read_po(file, locale="de")
    texts: dict[tuple[str, str], str] = {}
    counted: dict[str, tuple[str, ...]] = {}
    for message in catalogue:
        if not message.id or message.fuzzy:
            continue
        if isinstance(message.id, (tuple, list)):
            counted[message.id[0]] = tuple(message.string or ())
            if message.string and message.string[0]:
                # A word that is counted somewhere may stand by itself elsewhere, and a catalogue has it once.
                texts[str(message.context or ""), message.id[0]] = message.string[0].rpartition(ARTICLE)[2]
        elif isinstance(message.string, str) and message.string:
            texts[str(message.context or ""), message.id] = message.string
    locale = Locale("de")
    days, months = locale.days["format"], locale.months["format"]
    return Tongue(
        code="de",
        name="Deutsch",
        texts=texts,
        counted=counted,
        decimal=locale.number_symbols["latn"]["decimal"],
        quotes=("„", "“"),
        names=Names(
            weekdays=tuple(days["wide"][day] for day in range(7)),
            weekdays_short=tuple(days["abbreviated"][day] for day in range(7)),
            months=tuple(months["wide"][month] for month in range(1, 13)),
            months_short=tuple(months["abbreviated"][month] for month in range(1, 13)),
        ),
        day_and_month="{day}. {month}",
        with_weekday="{weekday}, {date}",
        with_weekday_short="{weekday}, {date}",
        dative=DATIVE,
        keeps_capitals=True,
    )
