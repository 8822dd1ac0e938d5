"""Writes the short letter about an answer by mail that could not simply be taken: once each, and few a day."""

from __future__ import annotations

from datetime import datetime, timedelta

from fleetcare.actions.composing import Desk, Standing, write_letter
from fleetcare.actions.ports import Change, Store
from fleetcare.chance import key_hash
from fleetcare.digest.answer_letter import AnswerFate, AnswerNews
from fleetcare.digest.letters_due import Wanted
from fleetcare.digest.values import LetterKind
from fleetcare.fleet.access import Purpose

AT_MOST_A_DAY = 5
"""Such letters to one person in a day: two programs that answer each other come to an end."""


def tell_about_answer(
    store: Store, desk: Desk, *, key: str, name: str, fate: AnswerFate, said: str = "", why: str = "", now: datetime
) -> bool:
    """True if a letter was written. It goes to the person whose key it is, whoever sent the answer.

    key: from the address it was sent to; one that was ended, or never was, is told nothing. name: the same for the same
    mail, so that telling twice is telling once.
    """
    with store.write(Change("mail", "an answer by mail", now)) as unit:
        found, garage = unit.key(key_hash(key)), unit.garage()
        if found is None or garage is None or found.purpose is not Purpose.REPLY or found.revoked_at is not None:
            return False
        person = next((each for each in unit.people() if each.key == found.person and each.mail), None)
        vehicle = next(iter(unit.vehicles((found.mark,))), None)
        if person is None or vehicle is None:
            return False
        kinds, people = (LetterKind.ABOUT_AN_ANSWER,), (person.key,)
        if len(unit.letter_places(kinds=kinds, people=people, since=now - timedelta(days=1))) >= AT_MOST_A_DAY:
            return False
        period = f"{found.mark} {key_hash(name)[:16]}"
        wanted = Wanted(person, LetterKind.ABOUT_AN_ANSWER, period, answer=AnswerNews(vehicle, fate, said, why))
        return write_letter(unit, desk, Standing(garage, (person,)), wanted, now) == 1
