"""Who keeps the list lets somebody else keep it: people, keys, the book and whatever concerns the whole garage."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from fleetcare.actions.gather import Rules, garage_of
from fleetcare.actions.ports import Change, Purpose, Store, WriteUnit
from fleetcare.actions.renew_feeds import renew_feed
from fleetcare.errors import BadInput
from fleetcare.fleet.naming import person_called
from fleetcare.fleet.people import Person, Role
from fleetcare.language import saying

LIST = "list"
"""What the log calls it."""


def hand_list_over(store: Store, rules: Rules, to: str, *, now: datetime, who: str, base_url: str) -> Person:
    """The person who keeps the list from now on, as a keeper; what is in their calendars follows at once.

    Said twice it counts once. Raises NotFound, and BadInput for who left, only looks on, or has no way in: with the
    list in their hands nobody could let anybody in.
    """
    with store.write(Change(who, f"{to} keeps the list", now)) as unit:
        garage, people = garage_of(unit), unit.people()
        person = person_called(people, to)
        if person.key == garage.list_keeper:
            return person
        _refuse(unit, person, now)
        if Role.KEEPER not in person.roles:
            person = replace(person, roles=(Role.KEEPER, *person.roles))
            unit.put_person(person)
        unit.put_garage(replace(garage, list_keeper=person.key))
        before = next((each.name for each in people if each.key == garage.list_keeper), "")
        unit.log_change(person.key, LIST, before and f"kept by {before}", f"kept by {person.name}")
        alive = {key.person for key in unit.keys(Purpose.FEED) if key.opens(Purpose.FEED, now)}
        for each in sorted({person.key, garage.list_keeper} & alive):
            renew_feed(unit, rules, garage_of(unit), each, now=now, base_url=base_url)
        return person


def _refuse(unit: WriteUnit, person: Person, now: datetime) -> None:
    if person.has_left:
        raise BadInput(saying("{name} left.", name=person.name), remedy="Take them in again first.", field="person")
    if Role.ONLOOKER in person.roles:
        raise BadInput(
            saying("{name} only looks on.", name=person.name), remedy="Give them another role first.", field="person"
        )
    ways = (Purpose.SESSION, Purpose.SIGN_IN)
    if not person.mail and not any(
        key.person == person.key and key.opens(key.purpose, now) for purpose in ways for key in unit.keys(purpose)
    ):
        raise BadInput(
            saying("{name} has no way in.", name=person.name),
            remedy="Add a mail address, or print a link for them first.",
            field="person",
        )
