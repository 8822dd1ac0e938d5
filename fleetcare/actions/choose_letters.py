"""When a person's letters come: day, hour, zone, and the hours in which nothing is begun."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from fleetcare.actions.gather import Rules, garage_of
from fleetcare.actions.ports import Change, Purpose, Store
from fleetcare.actions.renew_feeds import renew_feed
from fleetcare.digest.moments import zone_of
from fleetcare.errors import BadInput
from fleetcare.fleet.naming import person_called
from fleetcare.fleet.people import Person
from fleetcare.language import later, tr


@dataclass(frozen=True, slots=True)
class LetterChoice:
    """What is to change; None leaves it as it is. never: no letters that come by themselves, over any weekday."""

    weekday: int | None = None
    hour: int | None = None
    zone: str | None = None
    quiet: tuple[int, int] | None = None
    never: bool = False
    language: str | None = None
    """Code of a language; empty: none is chosen."""


def choose_letters(
    store: Store, rules: Rules, person: str, choice: LetterChoice, *, now: datetime, who: str, base_url: str
) -> Person:
    """The person as changed; with an empty choice, as they are. Their calendar follows another language at once.

    Raises NotFound, and BadInput for a zone or an hour.
    """
    hours = (choice.hour, *(choice.quiet or ()))
    if any(hour is not None and not 0 <= hour <= 23 for hour in hours):
        raise BadInput("There is no such hour.", remedy="Give one from 0 to 23.", field="hour")
    with store.write(Change(who, "when letters come", now)) as unit:
        before = person_called(unit.people(), person)
        quiet_from, quiet_until = choice.quiet or (before.quiet_from, before.quiet_until)
        weekday = before.letter_weekday if choice.weekday is None else choice.weekday
        after = replace(
            before,
            letter_weekday=None if choice.never else weekday,
            letter_hour=before.letter_hour if choice.hour is None else choice.hour,
            zone=before.zone if choice.zone is None else choice.zone,
            quiet_from=quiet_from,
            quiet_until=quiet_until,
            language=before.language if choice.language is None else choice.language,
        )
        if choice.zone is not None:
            zone_of(after)
        if after != before:
            unit.put_person(after)
            was, now_so = letters_in_words(before), letters_in_words(after)
            if was != now_so:
                unit.log_change(after.key, "letters", was, now_so)
            if before.language != after.language:
                unit.log_change(after.key, "language", before.language, after.language)
                if any(key.person == after.key and key.opens(Purpose.FEED, now) for key in unit.keys(Purpose.FEED)):
                    renew_feed(unit, rules, garage_of(unit), after.key, now=now, base_url=base_url)
        return after


_EACH = (
    later("Mondays"),
    later("Tuesdays"),
    later("Wednesdays"),
    later("Thursdays"),
    later("Fridays"),
    later("Saturdays"),
    later("Sundays"),
)


def letters_in_words(person: Person) -> str:
    """`Tuesdays at 07:00, Europe/Berlin, quiet from 21 to 7`."""
    when = tr("never")
    if person.letter_weekday is not None:
        when = tr("{weekdays} at {hour}", weekdays=tr(_EACH[person.letter_weekday]), hour=f"{person.letter_hour:02}:00")
    if person.quiet_from == person.quiet_until:
        return f"{when}, {person.zone}"
    quiet = tr("quiet from {begins} to {ends}", begins=person.quiet_from, ends=person.quiet_until)
    return f"{when}, {person.zone}, {quiet}"
