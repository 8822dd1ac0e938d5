"""What the front page says to a keeper of letters that did not arrive, or cannot leave."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from fleetcare.language import tr
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
        since = tr("{local} on {day}", local=f"{local:%H:%M}", day=weekday_words(local.date(), local.date()))
        said = tr(" The mail server last said: {shortened}", shortened=_shortened(last_said)) if last_said else ""
        wait = tr("waits") if late == 1 else tr("wait")
        notes.append(
            tr(
                "{letters} {wait} to be sent since {since}.{said}",
                letters=counted_words(late, "letter", "letters").capitalize(),
                wait=wait,
                since=since,
                said=said,
            )
        )
    came_back = [each for each in lost if each[1]]
    if len(came_back) == 1:
        (key, _, said) = came_back[0]
        notes.append(
            tr(
                "The last letter to {key} came back{value}",
                key=names.get(key, key),
                value=f": {_shortened(said)}" if said else ".",
            )
        )
    elif came_back:
        notes.append(tr("The last letters to {some} came back.", some=_some(came_back, names)))
    if in_time := [each for each in lost if not each[1]]:
        letters = tr("letter") if len(in_time) == 1 else tr("letters")
        notes.append(
            tr(
                "The last {letters} to {some} could not be handed over in time.",
                letters=letters,
                some=_some(in_time, names),
            )
        )
    return tuple(notes)


def _some(lost: Sequence[Lost], names: Mapping[str, str]) -> str:
    called = [names.get(key, key) for key, _, _ in lost]
    if len(called) > MOST_NAMED:
        called = [*called[:MOST_NAMED], tr("{value} more", value=len(called) - MOST_NAMED)]
    return joined(called)


def _shortened(said: str) -> str:
    text = said.strip().rstrip(".")
    return f"{text}." if len(text) <= LONGEST_SAID else f"{text[:LONGEST_SAID].rstrip()} …"
