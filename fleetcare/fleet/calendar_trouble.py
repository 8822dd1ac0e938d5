"""Which calendars could not be read, whose business that is, and how to say it without giving an address away."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from zoneinfo import ZoneInfo

from fleetcare.fleet.busy import CalendarOwner, CalendarSource
from fleetcare.fleet.people import Garage, Person, Role
from fleetcare.language import tr
from fleetcare.wording import day_words

FOR_LONG = 3
"""So many failures in a row are no passing trouble of somebody else's server: a letter tells of it too."""


def troubled(sources: Iterable[CalendarSource], *, for_long: bool = False) -> tuple[CalendarSource, ...]:
    """Calendars that could not be read when they were last asked for, by key. for_long: several times in a row."""
    return tuple(
        each
        for each in sorted(sources, key=lambda source: source.key)
        if each.trouble and (not for_long or each.failures >= FOR_LONG)
    )


def concerns(source: CalendarSource, person: Person, garage: Garage) -> bool:
    """Whether that calendar's trouble is this person's business: their own, or any for who keeps the list.

    A vehicle's and the bay's is every keeper's.
    """
    if person.key == garage.list_keeper:
        return True
    if source.owner_kind is CalendarOwner.PERSON:
        return source.owner == person.key
    return Role.KEEPER in person.roles


def trouble_sentence(source: CalendarSource, zone: ZoneInfo, today: date) -> str:
    """What is wrong, since when, and what is used meanwhile."""
    said = tr(source.trouble).strip().rstrip(".")
    if source.good_at is None:
        return tr("The calendar {key} could not be read yet: {said}.", key=source.key, said=said)
    since = day_words(source.good_at.astimezone(zone).date(), today)
    return tr(
        "The calendar {key} could not be read since {since}: {said}. What it held then still counts.",
        key=source.key,
        since=since,
        said=said,
    )
