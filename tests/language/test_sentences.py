"""No sentence that a page, a letter, a calendar or a refusal is made of is left out of the catalogue."""

from __future__ import annotations

import ast

from tests.house.tree import PACKAGE, python_files
from tests.language.sentences import unsaid
from tests.language.texts import texts

LOOKED_AT = ("page", "digest", "calendar_feed", "calendar_in/told.py", "web", "due", "work", "meter", "planner.py")
FOR_PROGRAMS = ("web/api", "web/safety.py", "web/health.py")
"""What programs are answered is English."""
STAY = {
    "-//fleetcare//calendar feed//EN": "a name for programs",
    "cover off": "a key of the book",
    "it is kept": "for the log",
    'fleetcare init --keeper "First name Surname" --mail name@example.org': "a command",
    "do not drive": "the beginning of a key",
    "it stands": "a key of the chain of a date",
    "the reading of {}, {}, is left out: {}": "for the log",
    "due window": "a key of the log",
    "tag of ": "the beginning of a key of the log",
    "thousandths of an em": "in a table of a font",
    "home assistant": "how a program names itself",
    "mac os x": "how a program names itself",
    "feeds are answered from their last good copies since {} UTC": "for programs",
    "new vehicle\n{}\n{}": "what a receipt is made of",
    "not under {}": "for programs",
    "not over {}": "for programs",
    "{}\nGone on before the wait was over: {}": "a person's words with where they are from; kept in English, still",
    "the tag, {}": "for programs",
    "the book of findings": "for programs",
}
"""English sentences that no page shows in another language, and why."""


def found() -> dict[str, list[str]]:
    """Sentences that no catalogue has, by file."""
    known = {form for text in texts() for form in (text.one, text.more)}
    left: dict[str, list[str]] = {}
    for file in python_files(PACKAGE):
        place = file.relative_to(PACKAGE).as_posix()
        if place.startswith(LOOKED_AT) and not place.startswith(FOR_PROGRAMS):
            said = [text for _, text in unsaid(ast.parse(file.read_text(encoding="utf-8")), known)]
            left |= {place: said} if said else {}
    return left


def test_every_sentence_that_people_read_is_in_the_catalogue() -> None:
    left = {place: [text for text in said if text not in STAY and "<" not in text] for place, said in found().items()}
    assert {place: said for place, said in left.items() if said} == {}


def test_what_stays_english_is_still_there() -> None:
    """Who takes one of them out of the program takes it out of the list."""
    assert STAY.keys() - {text for said in found().values() for text in said} == set()


def test_a_sentence_that_was_forgotten_would_be_seen() -> None:
    tree = ast.parse('def page():\n    """Of a page."""\n    return f"Ended: that sticker of {name} opens nothing."')
    assert list(unsaid(tree, ())) == [(3, "Ended: that sticker of {} opens nothing.")]
    assert list(unsaid(ast.parse('x = tr("Known to all of us")'), {"Known to all of us"})) == []
    assert list(unsaid(ast.parse('log.info("only for the log")'), ())) == []
