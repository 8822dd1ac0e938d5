"""How something stands, in words: states and grades of certainty, which the core names in English."""

from __future__ import annotations

from enum import StrEnum

from fleetcare.language import later, tr

WORDS = frozenset(
    (
        later("pencilled"),
        later("inked"),
        later("rubbed out"),
        later("planned"),
        later("in hand"),
        later("standing"),
        later("closed"),
        later("deferred"),
        later("abandoned"),
        later("published source"),
        later("published, second hand"),
        later("common practice, no source"),
        later("from memory"),
        later("doubtful, read it again in its source"),
        later("set by this garage"),
        later("window ahead"),
        later("window open"),
        later("past late"),
        later("no date in sight"),
    )
)
"""Every value that is shown, for the catalogue; a test holds it to the states there are."""


def state_word(state: StrEnum) -> str:
    """`inked`, `common practice, no source`."""
    return tr(state.value)
