"""The short letter to somebody who answered a reading request by mail with something that could not simply be taken."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from fleetcare.digest import phrases
from fleetcare.digest.cards import ButtonCard, LetterCard, LinkCard
from fleetcare.digest.envelope import dated, lead, letter_of, vehicle_address
from fleetcare.digest.reading_letters import STANDING_STILL
from fleetcare.digest.values import Letter, LetterKind
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import later, tr
from fleetcare.wording import day_words, of_vehicle

WITHOUT_PROMPT = later("This letter was written by a program; an answer to it is read by nobody.")


class AnswerFate(StrEnum):
    """What became of an answer."""

    HELD = "held"
    REFUSED = "refused"
    UNCLEAR = "unclear"
    """No figure stands alone in it."""
    TOO_LATE = "too late"
    """The time of its request is over."""


@dataclass(frozen=True, slots=True)
class AnswerNews:
    """What is told of one answer. said: what was written in it, short. why: a whole sentence, where there is one."""

    vehicle: Vehicle
    fate: AnswerFate
    said: str = ""
    why: str = ""

    @property
    def has_link(self) -> bool:
        """Whether its reader is given a link to enter the reading with."""
        return self.fate is not AnswerFate.TOO_LATE


def answer_letter(
    *, garage: Garage, person: Person, news: AnswerNews, link: str, link_until: date, base_url: str, today: date
) -> Letter:
    """What became of the answer, and where the reading is entered. link: empty if there is none."""
    name = phrases.one_line(news.vehicle.name)
    clause, after = _told(news, name)
    button = None
    if link:
        until = day_words(link_until, today)
        below = tr("The link is yours, for {name} alone, until {until}.", name=name, until=until)
        button = ButtonCard(tr("Enter {of_vehicle} reading", of_vehicle=of_vehicle(name)), link, below)
    all_of = LinkCard(tr("all of {name}", name=name), vehicle_address(base_url, news.vehicle.mark))
    card = LetterCard(
        garage=phrases.garage_title(garage),
        dated=dated(person, today),
        subject=tr(_SUBJECTS[news.fate], name=name),
        lead=lead(person, [(clause, "")], after),
        button=button,
        foot=((tr(STANDING_STILL), None), (tr("All of {name}:", name=name), all_of), (tr(WITHOUT_PROMPT), None)),
    )
    return letter_of(LetterKind.ABOUT_AN_ANSWER, person, card, "")


_SUBJECTS = {
    AnswerFate.HELD: later("{name}: your reading is kept aside"),
    AnswerFate.REFUSED: later("{name}: your reading could not be taken"),
    AnswerFate.UNCLEAR: later("{name}: no reading was found in your answer"),
    AnswerFate.TOO_LATE: later("{name}: your answer came after its time"),
}


def _told(news: AnswerNews, name: str) -> tuple[str, str]:
    """The strong clause, and the sentences after it."""
    why, said = phrases.one_line(tr(news.why)), news.said
    if news.fate is AnswerFate.HELD:
        clause = tr("your answer “{said}” about {name} is kept aside and not used yet", said=said, name=name)
        what_to_do = tr("Please look at the dial once more and enter what it shows; then it counts.")
        return clause, f"{why} {what_to_do}".strip()
    if news.fate is AnswerFate.REFUSED:
        clause = tr("your answer “{said}” about {name} could not be taken", said=said, name=name)
        return clause, f"{why} {tr('Nothing was changed.')}".strip()
    if news.fate is AnswerFate.UNCLEAR:
        clause = tr("no figure was found in your answer about {name}", name=name)
        return clause, tr("A figure counts that stands alone in its line, such as 84210. Nothing was changed.")
    clause = tr("your answer about {name} came after the time of its letter was over and was not used", name=name)
    return clause, tr("The next letter that asks for a reading has a new link.")
