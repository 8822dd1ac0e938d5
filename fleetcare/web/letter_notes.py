"""What the front page tells of what failed: letters that did not arrive, calendars that could not be read."""

from __future__ import annotations

from collections.abc import Sequence
from zoneinfo import ZoneInfo

from fleetcare.actions.gather import garage_day
from fleetcare.actions.letters_seen import letters_seen
from fleetcare.assemble import Parts
from fleetcare.digest.values import DeliveryState
from fleetcare.fleet.calendar_trouble import concerns, trouble_sentence, troubled
from fleetcare.fleet.people import Garage, Person, Role
from fleetcare.language import tr
from fleetcare.page.cards.letter_notes import MOST_NAMED, letter_notes
from fleetcare.wording import counted_words, sentence


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


def notes_on_calendars(parts: Parts, reader: Person | None, garage: Garage) -> tuple[str, ...]:
    """Sentences for whose business it is: calendars that could not be read when they were last asked for."""
    if reader is None:
        return ()
    with parts.store.read() as view:
        sources = view.calendars()
    zone, today = ZoneInfo(garage.zone), garage_day(garage, parts.clock.now())
    mine = [source for source in troubled(sources) if concerns(source, reader, garage)]
    notes = [trouble_sentence(source, zone, today) for source in mine[:MOST_NAMED]]
    if len(mine) > MOST_NAMED:
        more = counted_words(len(mine) - MOST_NAMED, "more calendar", "more calendars")
        notes.append(sentence(tr("{calendars} could not be read.", calendars=more)))
    return tuple(notes)
