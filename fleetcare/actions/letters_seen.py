"""What the keeper has to know of the letters: which wait for long, and whose did not arrive."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from fleetcare.actions.ports import Store
from fleetcare.digest.values import DeliveryState, LetterKind, LetterPlace

LATE_AFTER = timedelta(minutes=15)
LOOKS_BACK = timedelta(days=35)
_LOST = tuple(state for state in DeliveryState if state.is_lost)
_WAITING = (DeliveryState.DUE, DeliveryState.LEASED)


@dataclass(frozen=True, slots=True)
class LettersSeen:
    """Letters that want attention.

    late: waiting for more than a quarter of an hour, oldest first. lost: the newest lost letter of each person whom no
    letter has reached since, by moment of decision.
    """

    waiting: int
    late: tuple[LetterPlace, ...]
    lost: tuple[LetterPlace, ...]


def letters_seen(store: Store, *, now: datetime) -> LettersSeen:
    """How the letters stand. A sign-in letter that is lost is not told of: who asked for it asks again."""
    since = now - LOOKS_BACK
    with store.read() as view:
        waiting = view.letter_places(states=_WAITING)
        lost = {each.person: each for each in _told(view.letter_places(states=_LOST, since=since))}
        arrived = view.letter_places(states=(DeliveryState.SENT,), people=tuple(lost), since=since) if lost else ()
    for each in arrived:
        if each.person in lost and each.decided_at > lost[each.person].decided_at:
            del lost[each.person]
    return LettersSeen(
        waiting=len(waiting),
        late=tuple(each for each in waiting if now - each.decided_at > LATE_AFTER),
        lost=tuple(sorted(lost.values(), key=lambda each: (each.decided_at, each.id))),
    )


def _told(places: tuple[LetterPlace, ...]) -> tuple[LetterPlace, ...]:
    return tuple(each for each in places if each.kind is not LetterKind.COME_IN)
