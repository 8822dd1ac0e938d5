"""Looks after the letters for the front page: whoever keeps something sees which did not arrive."""

from __future__ import annotations

from collections.abc import Sequence

from fleetcare.actions.letters_seen import letters_seen
from fleetcare.assemble import Parts
from fleetcare.digest.values import DeliveryState
from fleetcare.fleet.people import Garage, Person, Role
from fleetcare.page.cards.letter_notes import letter_notes


def notes_on_letters(parts: Parts, reader: Person | None, garage: Garage, people: Sequence[Person]) -> tuple[str, ...]:
    """Sentences for a keeper; nothing for others, whom other people's addresses do not concern."""
    if reader is None or not (reader.key == garage.list_keeper or Role.KEEPER in reader.roles):
        return ()
    seen = letters_seen(parts.store, now=parts.clock.now())
    return letter_notes(
        lost=[(each.person, each.state is DeliveryState.FAILED, each.last_answer) for each in seen.lost],
        late=len(seen.late),
        late_since=seen.late[0].decided_at if seen.late else None,
        last_said=next((each.last_answer for each in seen.late if each.last_answer), ""),
        names={person.key: person.first_name for person in people},
        zone=garage.zone,
    )
