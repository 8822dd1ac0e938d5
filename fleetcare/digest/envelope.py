"""What every letter begins and ends with, and the step from a card to both its twins."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from urllib.parse import quote

from fleetcare.digest import phrases
from fleetcare.digest.cards import LetterCard, LinkCard, Words
from fleetcare.digest.render import html_twin, plain_twin
from fleetcare.digest.values import Letter, LetterKind
from fleetcare.fleet.people import Person
from fleetcare.language import tr
from fleetcare.wording import weekday_words

_NO_YEAR = date(1, 1, 1)
"""No letter is of that year, so the year is always said."""

FootLine = tuple[str, LinkCard | None]


def letter_of(kind: LetterKind, person: Person, card: LetterCard, stop_url: str, reply_to: str = "") -> Letter:
    """The letter that a card shows, to that person."""
    return Letter(
        kind=kind,
        to_name=phrases.one_line(person.name),
        to_mail=person.mail,
        subject=card.subject,
        plain=plain_twin(card),
        html=html_twin(card),
        stop_url=stop_url,
        reply_to=reply_to,
    )


def dated(person: Person, today: date) -> str:
    """`Tuesday 14 April 2026, for Teo Lindqvist`."""
    day = weekday_words(today, _NO_YEAR)
    return tr("{day}, for {name}", day=day, name=phrases.one_line(person.name))


def lead(person: Person, clauses: Sequence[tuple[str, str]], after: str = "") -> tuple[Words, ...]:
    """The opening sentences. clauses: not empty, each strong and what follows it."""
    return tuple(Words(text, strong) for text, strong in phrases.lead_of(person.first_name, clauses, after))


def stop_lines(stop_url: str) -> tuple[FootLine, ...]:
    """How to stop the letters; nothing for one that cannot be stopped."""
    return ((tr("No more letters:"), LinkCard(tr("stop them"), stop_url)),) if stop_url else ()


def road(base_url: str) -> str:
    """Address of the front page."""
    return f"{base_url.rstrip('/')}/"


def vehicle_address(base_url: str, mark: str) -> str:
    """Address of a vehicle's page."""
    return f"{base_url.rstrip('/')}/vehicles/{quote(mark, safe='')}"
