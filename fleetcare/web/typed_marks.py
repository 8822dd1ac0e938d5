"""Vehicles that somebody typed by their marks, where too many are there to be ticked."""

from __future__ import annotations

from collections.abc import Collection

from fleetcare.errors import BadInput, shown
from fleetcare.language import saying


def marks_typed(text: str, there: Collection[str], *, field: str) -> tuple[str, ...]:
    """The marks, with commas between, in small or capital letters, each once. Raises BadInput for one not there."""
    known = {mark.casefold(): mark for mark in there}
    words = [word for word in (" ".join(part.split()) for part in text.split(",")) if word]
    for word in words:
        if word.casefold() not in known:
            raise BadInput(
                saying("No vehicle has the mark {word} here.", word=shown(word, 20)),
                remedy="Write marks, such as BE, CA.",
                field=field,
            )
    return tuple(dict.fromkeys(known[word.casefold()] for word in words))
