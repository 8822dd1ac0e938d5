"""The people of the garage: who belongs to it, what each does and has, who left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from fleetcare.fleet.access import AccessKey, Purpose
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr, tr_count
from fleetcare.language.tongue import Tongue
from fleetcare.page.cards.changed import Changed
from fleetcare.page.cards.choose import FIND_FROM, range_told, turn_link
from fleetcare.page.cards.frame import PEOPLE_URL, Frame, Link, full_frame
from fleetcare.page.cards.person import PersonForm, TriedPerson, person_form, person_told, person_url
from fleetcare.wording import count_words, joined, sentence

PEOPLE_A_PAGE = 100


@dataclass(frozen=True, slots=True)
class PersonRow:
    """One person in the list."""

    name: str
    url: str
    told: str


@dataclass(frozen=True, slots=True)
class PeopleCard:
    """The list. gone: who left. told: said in place of the list or above a part of it."""

    frame: Frame
    lead: str
    done: Changed | None
    told: str
    has_find: bool
    find: str
    earlier: Link | None
    later: Link | None
    rows: tuple[PersonRow, ...]
    gone: tuple[PersonRow, ...]
    form: PersonForm
    is_open: bool


def people_card(
    *,
    garage: Garage,
    reader: Person,
    today: date,
    people: Sequence[Person],
    vehicles: Sequence[Vehicle],
    keys: Sequence[AccessKey],
    can_enter: bool,
    done: Changed | None = None,
    tried: TriedPerson | None = None,
    find: str = "",
    start: int = 0,
    tongues: Sequence[Tongue] = (),
) -> PeopleCard:
    """The list of people, who left last. keys: that open something now.

    find: leaves those whose name or mail holds this text. start: how many to leave out, for further pages.
    """
    here, find = [person for person in people if not person.has_left], find.strip()
    found = [each for each in people if find.casefold() in f"{each.name} {each.mail}".casefold()]
    found.sort(key=lambda person: person.has_left)
    start = start if 0 <= start < len(found) else 0
    shown, later = found[start : start + PEOPLE_A_PAGE], start + PEOPLE_A_PAGE
    keeps, drives = _theirs(shown, vehicles)
    return PeopleCard(
        frame=full_frame(
            tr("People and keys"), garage=garage, reader=reader, today=today, here=PEOPLE_URL, can_enter=can_enter
        ),
        lead=_lead(here, keys),
        done=done,
        told=range_told(len(found), start, len(shown), find, nobody=tr("Nobody here is called “{find}”.", find=find)),
        has_find=len(people) >= FIND_FROM or bool(find),
        find=find,
        earlier=turn_link(tr("Earlier ones"), PEOPLE_URL, find, start - PEOPLE_A_PAGE) if start else None,
        later=turn_link(tr("Later ones"), PEOPLE_URL, find, later) if later < len(found) else None,
        rows=tuple(
            PersonRow(each.name, person_url(each.key), person_told(each, garage, keeps[each.key], drives[each.key]))
            for each in shown
            if not each.has_left
        ),
        gone=tuple(
            PersonRow(each.name, person_url(each.key), tr("Left; what was done stays under this name."))
            for each in shown
            if each.has_left
        ),
        form=person_form(
            PEOPLE_URL, "", Person("", "", zone=garage.zone, unit=garage.unit), garage, vehicles, tried, tongues
        ),
        is_open=tried is not None,
    )


def _theirs(
    people: Sequence[Person], vehicles: Sequence[Vehicle]
) -> tuple[dict[str, list[Vehicle]], dict[str, list[Vehicle]]]:
    """What each of them keeps and drives, by their keys; the vehicles are gone through once."""
    keeps: dict[str, list[Vehicle]] = {person.key: [] for person in people}
    drives: dict[str, list[Vehicle]] = {person.key: [] for person in people}
    for vehicle in vehicles:
        if vehicle.keeper in keeps:
            keeps[vehicle.keeper].append(vehicle)
        for driver in vehicle.drivers:
            if driver in drives:
                drives[driver].append(vehicle)
    return keeps, drives


def _lead(people: Sequence[Person], keys: Sequence[AccessKey]) -> str:
    told = tr_count(
        "{number} person belongs to the garage.",
        "{number} people belong to the garage.",
        len(people),
        number=sentence(count_words(len(people))),
    )
    without = [person.first_name for person in people if not person.mail]
    programs = sum(key.purpose is Purpose.API for key in keys)
    if without:
        told += " " + tr("No mail address is known of {names}.", names=joined(without[:6]))
    if programs:
        told += " " + tr_count(
            "{number} program has a key.",
            "{number} programs have a key.",
            programs,
            number=sentence(count_words(programs)),
        )
    return told
