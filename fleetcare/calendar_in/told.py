"""What is said of a calendar that a child process read: kinds with figures, since no sentence of it is trusted."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from fleetcare.language import Saying, later

TOLD: Mapping[str, str] = {
    "charset": later("It is not written in {charset}."),
    "zones": later("It describes more than {most} time zones."),
    "events": later("It has more than {most} events that may matter."),
    "none": later("It is no calendar."),
    "lines": later("It has more than {most} lines."),
    "deep": later("It is nested more than {most} deep."),
    "nesting": later("Its parts do not nest as those of a calendar do."),
    "outside": later("Something stands outside the calendar."),
    "ours": later("It is a calendar that fleetcare itself made."),
    "gregorian": later("It does not count in the Gregorian calendar."),
    "cut-off": later("It is cut off: its end is missing."),
    "memory": later("It needs more memory than one calendar may have."),
    "form": later("It does not keep to the form of a calendar."),
    "entries": later("It has more than {most} entries from {first} to {end}."),
    "zone": later("“{name}” is no known time zone; such times are taken as the garage's."),
    "more": later("and {more} more."),
    "left-out": later("“{title}” is left out: {why}."),
    "untitled": later("An entry without a title is left out: {why}."),
    "slow": later("it repeats in a way that takes too long to work out"),
    "odd-repeat": later("it repeats in a way that cannot be read"),
    "repeats": later("it repeats more than {most} times"),
    "odd-time": later("its day or time cannot be read"),
    "backwards": later("it ends before it begins"),
    "long": later("it lasts longer than a year"),
    "how-often": later("how often it repeats cannot be read"),
    "interval": later("its INTERVAL is no whole number above nought"),
    "count": later("its COUNT is not between 1 and {most}"),
    "no-count": later("it repeats more often than daily without a COUNT up to {most}"),
    "values": later("its rule lists more than {most} values"),
    "a-day": later("it repeats more than {most} times a day"),
    "no-day": later("no month it names has the day it names"),
}
"""Sentences, and reasons that stand in one, by kind."""
LONGEST_FACT = 120
MOST_OF_A_FIGURE = 10**9
_FACT = re.compile(r"\{(\w+)\}")


def told(kind: str, **facts: int | str) -> Saying:
    """What is said, in English as text. facts: those of its kind; one of them may itself be said so."""
    return Saying(TOLD[kind], facts)


def as_parts(said: Saying) -> list[Any]:
    """The same as the child writes it: its kind and its facts."""
    kind = next(name for name, text in TOLD.items() if text == said.text)
    return [kind, {name: as_parts(fact) if isinstance(fact, Saying) else fact for name, fact in said.facts.items()}]


def from_parts(given: Any, *, within: bool = False) -> Saying:
    """Back from what a child wrote, which may be anything. within: it stands in another.

    Raises ValueError or TypeError.
    """
    kind, facts = given
    if not isinstance(kind, str) or kind not in TOLD or not isinstance(facts, dict):
        raise ValueError("of no kind that is known")
    if set(facts) != set(_FACT.findall(TOLD[kind])):
        raise ValueError("not the facts of its kind")
    return Saying(TOLD[kind], {name: _fact(fact, within=within) for name, fact in facts.items()})


def _fact(given: Any, *, within: bool) -> object:
    if isinstance(given, list) and not within:
        return from_parts(given, within=True)
    if isinstance(given, int) and not isinstance(given, bool) and 0 <= given <= MOST_OF_A_FIGURE:
        return given
    if not isinstance(given, str) or len(given) > LONGEST_FACT:
        raise ValueError("no fact, or too long")
    text = given.replace("\0", "").encode("utf-8", "replace").decode("utf-8")
    return "".join(sign if sign.isprintable() else " " for sign in text)
