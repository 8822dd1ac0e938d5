"""Whole sentences in the reader's language: which one is in force, and the few functions that look a text up in it.

Texts stand in the program in English, where they are used; a catalogue (`de/LC_MESSAGES/messages.po`, gettext) has the
others. A text without a translation stays English. The edge (a request, a letter, a feed, a command) says which
language is in force; everything below only asks. Reading catalogues is the affair of `settings/catalogues.py`.

What is stored or logged is not told in a reader's language: whoever writes it does so within `as_written_down()`.
What is said long before it is known who reads it, such as what an error says, is a `saying`: it carries its facts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from typing import Any, ParamSpec, TypeVar

from fleetcare.language.measure import measure_in_force, measuring
from fleetcare.language.tongue import ENGLISH, Number, Tongue

__all__ = [
    "BOOK",
    "ENGLISH",
    "FromBook",
    "Quoted",
    "Saying",
    "Tongue",
    "Tongues",
    "as_kept",
    "as_spoken_now",
    "as_written_down",
    "chosen",
    "from_books",
    "in_force",
    "later",
    "later_count",
    "listed",
    "saying",
    "speak",
    "speaking",
    "together",
    "tr",
    "tr_book",
    "tr_count",
    "tr_in",
]

P = ParamSpec("P")
R = TypeVar("R")

BOOK = "book"
"""Context of the texts of the shipped books in a catalogue."""


@dataclass(slots=True)
class _Spoken:
    """What is spoken in a context: threads that work for it share it, so that all of them hear when it changes."""

    tongue: Tongue


_IN_FORCE: ContextVar[_Spoken | None] = ContextVar("language", default=None)


def in_force() -> Tongue:
    """The language that texts are now given in."""
    spoken = _IN_FORCE.get()
    return ENGLISH if spoken is None else spoken.tongue


@contextmanager
def speaking(tongue: Tongue) -> Iterator[None]:
    """Within it, texts are given in this language."""
    before = _IN_FORCE.set(_Spoken(tongue))
    try:
        yield
    finally:
        _IN_FORCE.reset(before)


def speak(tongue: Tongue) -> None:
    """From here on, until whoever set the context up is done, texts are given in this language."""
    spoken = _IN_FORCE.get()
    if spoken is None:
        _IN_FORCE.set(_Spoken(tongue))
    else:
        spoken.tongue = tongue


def as_spoken_now(function: Callable[P, R]) -> Callable[P, R]:
    """The function; wherever it is called, it says what it says in the language and the unit that are in force now."""
    tongue, unit = in_force(), measure_in_force()

    def spoken(*args: P.args, **kwargs: P.kwargs) -> R:
        with speaking(tongue), measuring(unit):
            return function(*args, **kwargs)

    return spoken


@contextmanager
def as_written_down() -> Iterator[None]:
    """Within it, texts are English and distances in their own units, as they are kept in stored facts and logs."""
    with speaking(ENGLISH), measuring(None):
        yield


def tr(text: str, **facts: object) -> str:
    """A whole text in the language in force, with its facts in place of `{name}`.

    text: English, written out where this is called, for the catalogue is made of the calls. Without facts it is taken
    as it is. In a translation, `{name!d}` is the fact in the dative, in languages that have one. A `saying` brings its
    facts along.
    """
    tongue = in_force()
    if isinstance(text, Saying):
        if text.written is not None and tongue is ENGLISH:
            return text.written
        facts, text = dict(text.facts), text.text
    return tongue.filled(tongue.said(text), {name: _told(fact) for name, fact in facts.items()})


def _told(fact: object) -> object:
    """A fact in the language in force: a saying is told, and what is worked out by it is worked out now."""
    if type(fact) is str:
        return fact
    if isinstance(fact, Saying):
        return tr(fact)
    if isinstance(fact, FromBook):
        return tr_book(str(fact))
    if isinstance(fact, Quoted):
        return fact.bare.join(in_force().quotes)
    if isinstance(fact, Decimal):
        return str(fact).replace(".", in_force().decimal)
    return fact() if callable(fact) else fact


class Saying(str):
    """A sentence whose reader is not known yet: to whoever takes it as text it is English; `tr` tells it.

    text: as the catalogue has it. facts: what stands in its places: values, other sayings, texts `FromBook`, or
    functions that put a value into the words of the language in force, such as `partial(day_words, day, today)`.
    written: the English, where it is not simply the text with its facts; else None.
    """

    text: str
    facts: Mapping[str, object]
    written: str | None

    def __new__(
        cls, text: str, facts: Mapping[str, object] = MappingProxyType({}), written: str | None = None
    ) -> Saying:
        if written is None:
            with as_written_down():
                english = ENGLISH.filled(text, {name: _told(fact) for name, fact in facts.items()})
        else:
            english = written
        made = super().__new__(cls, english)
        made.text, made.facts, made.written = text, facts, written
        return made

    def __getnewargs__(self) -> tuple[Any, ...]:
        """What a copy is made of."""
        return self.text, dict(self.facts), self.written


class FromBook(str):
    """A text of a book, or of a garage, as a fact of a saying: `tr_book` tells it."""


def together(*said: str) -> Saying:
    """Several sentences as one; empty ones are left out."""
    return listed(*filter(None, said), by=" ")


def listed(*said: str, by: str) -> Saying:
    """Several texts one after the other, of which sayings are told each. by: what stands between two."""
    facts = {f"n{place}": each for place, each in enumerate(said)}
    return Saying(by.join(f"{{{name}}}" for name in facts), facts)


class Quoted(str):
    """What somebody typed, in quotation marks: in English ones as text, in the reader's as a fact of what is told."""

    bare: str

    def __new__(cls, bare: str) -> Quoted:
        made = super().__new__(cls, bare.join(ENGLISH.quotes))
        made.bare = bare
        return made

    def __getnewargs__(self) -> tuple[Any, ...]:
        """What a copy is made of."""
        return (self.bare,)


def saying(text: str, **facts: object) -> Saying:
    """A whole text with its facts, to be told when it is shown; text: English, written out where this is called."""
    return text if isinstance(text, Saying) else Saying(text, facts)


def as_kept(said: Saying, english: str) -> Saying:
    """The same, in other words in English: those that files and earlier versions have for it."""
    return Saying(said.text, said.facts, english)


def tr_in(context: str, text: str, **facts: object) -> str:
    """As `tr`, for a text that means different things in different places; context: which, for the translator."""
    tongue = in_force()
    return tongue.filled(tongue.said(text, context), facts)


def tr_book(text: str) -> str:
    """A text of a book (services, jobs, findings, duties) in the language in force.

    What the shipped books say is in the catalogue, under the context `book`; what a garage wrote into books of its own
    stays as it wrote it. A title that begins with a capital is also found by its small letter (`Rear axle` by
    `rear axle`). What was made of several texts (`from_books`) is put together anew.
    """
    if not text:
        return text
    tongue = in_force()
    if isinstance(text, Saying):
        return tr(text)
    small = text[:1].lower() + text[1:]
    if (BOOK, text) not in tongue.texts and (BOOK, small) in tongue.texts:
        said = tongue.said(small, BOOK)
        return said[:1].upper() + said[1:]
    return tongue.said(text, BOOK)


def from_books(form: str, written: str | None = None, /, **facts: str | Decimal) -> Saying:
    """A text put together from texts of books: English, as it is kept; `tr` and `tr_book` say it in a language.

    form: as for `tr`, written out where this is called. written: the English, where it is not simply the form with its
    facts. facts: strings, of which those from books are looked up, too, and decimals.
    """
    told = {name: fact if isinstance(fact, (Saying, Decimal)) else FromBook(fact) for name, fact in facts.items()}
    return Saying(form, told, written)


def tr_count(one: str, more: str, count: Number, **facts: object) -> str:
    """As `tr`, in the form that this number of things asks for; the number itself is given as a fact, if at all."""
    tongue = in_force()
    return tongue.filled(tongue.said_of(one, more, count), facts)


def later(text: str) -> str:
    """The text as it is: it stands where nothing is known of a reader, and `tr` is asked for it where it is shown."""
    return text


@dataclass(frozen=True, slots=True)
class Tongues:
    """The languages of a garage. garage: its own; offered: those people may choose; find: the language of a code."""

    garage: str = ENGLISH.code
    offered: tuple[str, ...] = (ENGLISH.code,)
    find: Callable[[str], Tongue] = lambda code: ENGLISH

    def to(self, code: str) -> Tongue:
        """The language of who chose this one; the garage's own if none was chosen, or if it is not offered any more."""
        return self.find(code if code in self.offered else self.garage)

    def asked_by(self, header: str) -> Tongue:
        """The language for a browser by its `Accept-Language` (RFC 9110, 12.5.4); the garage's own if none is there."""
        return self.to(chosen(_by_weight(header), self.offered) or "")

    def all(self) -> tuple[Tongue, ...]:
        """Those offered."""
        return tuple(self.find(code) for code in self.offered)


def _by_weight(header: str) -> list[str]:
    """The languages of an `Accept-Language`, the most wanted first; those of weight 0, and the star, are left out."""
    found: list[tuple[float, int, str]] = []
    for place, part in enumerate(header[:1000].split(",")):
        code, _, rest = part.strip().partition(";")
        try:
            weight = float(rest.strip().removeprefix("q=")) if rest.strip() else 1.0
        except ValueError:
            continue
        if code.strip() not in ("", "*") and 0 < weight <= 1:
            found.append((-weight, place, code.strip()))
    return [code for _, _, code in sorted(found)]


def later_count(one: str, more: str) -> tuple[str, str]:
    """As `later`, for a noun that is going to be counted."""
    return one, more


def chosen(asked: Iterable[str], offered: Iterable[str]) -> str | None:
    """The first language asked for that is offered, by its code; `de-AT` is served by `de`. None if there is none."""
    there = set(offered)
    for code in asked:
        plain = code.strip().replace("_", "-").casefold()
        for name in (plain, plain.partition("-")[0]):
            if name in there:
                return name
    return None
