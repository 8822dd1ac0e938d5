"""Sentences as they are kept: the English, and beside it the text of the catalogue with its figures, as JSON.

The English is what files, logs and the API have. What was kept before migration 0017 has that alone, and so has what a
person wrote; both are told as they stand.
"""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

from fleetcare.figures import Figure
from fleetcare.language import FromBook, Quoted, Saying, as_kept


def kept_text(said: str) -> str:
    """What is kept beside the English of a sentence, as JSON; empty where the English says it all.

    Raises TypeError for a saying with a fact that cannot be kept.
    """
    if not isinstance(said, Saying) or (not said.facts and str(said) == said.text):
        return ""
    return json.dumps(_written(said), ensure_ascii=False, separators=(",", ":"))


def told_again(english: str, kept: str) -> str:
    """The sentence from its English and what was kept beside it; the English alone if that cannot be read."""
    if not kept:
        return english
    try:
        found = _read(json.loads(kept))
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError):
        return english
    return as_kept(found, english) if isinstance(found, Saying) else english


def _written(fact: object) -> Any:
    if isinstance(fact, Saying):
        return {"say": fact.text, "with": {name: _written(each) for name, each in fact.facts.items()}}
    if isinstance(fact, Figure):
        return {"figure": [fact.kind, *fact.values]}
    if isinstance(fact, FromBook):
        return {"book": str(fact)}
    if isinstance(fact, Quoted):
        return {"quoted": fact.bare}
    if isinstance(fact, Decimal):
        return {"decimal": str(fact)}
    if isinstance(fact, str):
        return str(fact)
    if isinstance(fact, int):
        return int(fact)
    raise TypeError(f"{fact!r} is no fact that can be kept.")


def _read(given: Any) -> object:
    if not isinstance(given, dict):
        return given
    if "say" in given:
        return Saying(_text(given["say"]), {name: _read(each) for name, each in given["with"].items()})
    if "figure" in given:
        kind, *values = given["figure"]
        return Figure(kind, tuple(values))
    if "book" in given:
        return FromBook(_text(given["book"]))
    return Quoted(_text(given["quoted"])) if "quoted" in given else Decimal(_text(given["decimal"]))


def _text(given: Any) -> str:
    if not isinstance(given, str):
        raise TypeError("no text")
    return given
