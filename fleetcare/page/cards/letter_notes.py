"""What the front page says to a keeper of letters that did not arrive, or cannot leave."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from fleetcare.wording import counted_words, joined, weekday_words

MOST_NAMED = 3
LONGEST_SAID = 120

Lost = tuple[str, bool, str]
"""Person key, whether the letter came back (else its time ran out), and what the mail server said last."""


def letter_notes(
    *,
    lost: Sequence[Lost],
    late: int,
    late_since: datetime | None,
    last_said: str,
    names: Mapping[str, str],
    zone: str,
) -> tuple[str, ...]:
    """Sentences for the top of the page, none if all is well. names: first names by key. late: letters that wait."""
    notes = []
    if late and late_since is not None:
        local = late_since.astimezone(ZoneInfo(zone))
        since = f"{local:%H:%M} on {weekday_words(local.date(), local.date())}"
        said = f" The mail server last said: {_shortened(last_said)}" if last_said else ""
        wait = "waits" if late == 1 else "wait"
        notes.append(f"{counted_words(late, 'letter').capitalize()} {wait} to be sent since {since}.{said}")
    came_back = [each for each in lost if each[1]]
    if len(came_back) == 1:
        (key, _, said) = came_back[0]
        notes.append(f"The last letter to {names.get(key, key)} came back{f': {_shortened(said)}' if said else '.'}")
    elif came_back:
        notes.append(f"The last letters to {_some(came_back, names)} came back.")
    if in_time := [each for each in lost if not each[1]]:
        letters = "letter" if len(in_time) == 1 else "letters"
        notes.append(f"The last {letters} to {_some(in_time, names)} could not be handed over in time.")
    return tuple(notes)


def _some(lost: Sequence[Lost], names: Mapping[str, str]) -> str:
    called = [names.get(key, key) for key, _, _ in lost]
    if len(called) > MOST_NAMED:
        called = [*called[:MOST_NAMED], f"{len(called) - MOST_NAMED} more"]
    return joined(called)


def _shortened(said: str) -> str:
    text = said.strip().rstrip(".")
    return f"{text}." if len(text) <= LONGEST_SAID else f"{text[:LONGEST_SAID].rstrip()} …"
