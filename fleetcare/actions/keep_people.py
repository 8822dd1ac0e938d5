"""A garage begins with who keeps its list; they add people, say what these do and which vehicles are theirs."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from fleetcare.actions.gather import Rules, garage_of
from fleetcare.actions.ports import AccessKey, Change, Purpose, Store, WriteUnit
from fleetcare.actions.renew_feeds import renew_feed
from fleetcare.actions.settle import settle
from fleetcare.chance import KeyMaker, new_id
from fleetcare.errors import BadInput, Clash, NotFound, shown
from fleetcare.fleet.naming import vehicle_called
from fleetcare.fleet.people import Garage, Person, Role
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import Saying, listed, saying
from fleetcare.quantities import DistanceUnit

PERSON = "person"
"""What the log calls whatever is changed of one."""
FIRST_ROLES = (Role.KEEPER, Role.MECHANIC, Role.DRIVER)
"""Of who begins a garage: a household keeps, mends and drives by itself until it says otherwise."""


@dataclass(frozen=True, slots=True)
class Given:
    """A person as somebody filled them in. keeps, drives: marks or names of vehicles. language: a code, empty for as
    the browser asks, None for what it is."""

    name: str
    mail: str = ""
    zone: str = ""
    unit: DistanceUnit = DistanceUnit.KM
    roles: tuple[Role, ...] = (Role.DRIVER,)
    keeps: tuple[str, ...] = ()
    drives: tuple[str, ...] = ()
    language: str | None = None


@dataclass(frozen=True, slots=True)
class Household:
    """The people, what is theirs, and the keys that open something now."""

    garage: Garage
    people: tuple[Person, ...]
    vehicles: tuple[Vehicle, ...]
    keys: tuple[AccessKey, ...]
    visits_ahead: dict[str, int]
    """How many visits ahead wait for the hands of a person, by key."""


def household(store: Store, *, now: datetime) -> Household:
    """Everybody who is down here, those who left included, by key."""
    with store.read() as view:
        hands: dict[str, int] = {}
        for visit in view.bay_visits():
            if visit.mechanic and visit.takes_place and visit.free_at > now:
                hands[visit.mechanic] = hands.get(visit.mechanic, 0) + 1
        return Household(
            garage_of(view),
            view.people(),
            view.vehicles(),
            tuple(key for key in view.keys(None) if key.person and key.opens(key.purpose, now)),
            hands,
        )


def state_of(person: Person, vehicles: Sequence[Vehicle]) -> str:
    """Changes when anything of the person does; a form that was shown another state is an old one."""
    told = repr((person, *_theirs(person.key, vehicles)))
    return hashlib.sha256(told.encode("utf-8", "surrogatepass")).hexdigest()[:16]


def begin_garage(
    store: Store, rules: Rules, keys: KeyMaker, name: str, given: Given, *, now: datetime, who: str, base_url: str
) -> Person:
    """A garage with the first person in it, who keeps its list; it has that person's zone and unit. All or nothing.

    Raises Clash if there is a garage already, and BadInput for a name, mail or zone that is none.
    """
    with store.write(Change(who, f"{given.name} begins the garage", now)) as unit:
        there = unit.garage()
        if there is not None:
            raise Clash(
                saying(
                    "There is a garage here already, {name}. Add people on its page People and keys.", name=there.name
                )
            )
        _refuse(given, (), "")
        if not given.zone:
            raise BadInput("The time zone is missing.", remedy="Write it as Europe/Vienna.", field="zone")
        if not name.strip():
            raise BadInput("The name of the garage is missing.", remedy="Give it one.", field="garage")
        person = Person(_new_key(given.name, ()), given.name)
        garage = Garage(name, given.zone, given.unit, id=new_id(keys), list_keeper=person.key)
        unit.put_garage(garage)
        return _put(unit, rules, garage, person, given, is_new=True, now=now, base_url=base_url)


def add_person(store: Store, rules: Rules, given: Given, *, now: datetime, who: str, base_url: str) -> Person:
    """A new person, with a key made of their name. Raises BadInput, Clash (mail or name is taken) and NotFound."""
    with store.write(Change(who, f"{given.name} comes to the garage", now)) as unit:
        garage, people = garage_of(unit), unit.people()
        _refuse(given, people, "")
        person = Person(_new_key(given.name, {each.key for each in people}), given.name)
        return _put(unit, rules, garage, person, given, is_new=True, now=now, base_url=base_url)


def change_person(
    store: Store,
    rules: Rules,
    key: str,
    given: Given,
    *,
    shown_state: str | None = None,
    now: datetime,
    who: str,
    base_url: str,
) -> Person:
    """What is known of a person from now on; who left comes back with it. In one transaction, or nothing.

    shown_state: `state_of` on the page somebody answered from. Raises BadInput, Clash and NotFound.
    """
    with store.write(Change(who, f"{given.name} changed", now)) as unit:
        garage, people = garage_of(unit), unit.people()
        person = _person(people, key)
        _refuse_old(unit, person, shown_state, garage)
        if person.key == garage.list_keeper and (Role.ONLOOKER in given.roles or not given.roles):
            raise BadInput("Who keeps the list does something here.", remedy="Tick a role for them.", field="role")
        _refuse(given, people, person.key)
        return _put(unit, rules, garage, person, given, is_new=False, now=now, base_url=base_url)


def let_go(
    store: Store, rules: Rules, key: str, *, shown_state: str | None = None, now: datetime, who: str, base_url: str
) -> Person:
    """Somebody leaves: no role, no mail, no vehicle, every key ended. What they did stays under their name.

    Raises BadInput for who keeps the list, Clash and NotFound.
    """
    with store.write(Change(who, f"{key} left", now)) as unit:
        garage = garage_of(unit)
        person = _person(unit.people(), key)
        _refuse_old(unit, person, shown_state, garage)
        if person.key == garage.list_keeper:
            raise BadInput(
                saying("{name} keeps the list.", name=person.name),
                remedy="Hand it over on somebody else’s page first.",
                field="person",
            )
        for each in unit.keys(None):
            if each.person == person.key:
                unit.use_up_key(each.hash, now)
        gone = replace(person, mail="", roles=(), letter_weekday=None)
        marks = _give_vehicles(unit, person.key, keeps=(), drives=())
        unit.put_person(gone)
        unit.log_change(person.key, PERSON, _words(person), saying("left; nothing opens for them any more"))
        settle(unit, rules, now=now, base_url=base_url, marks=marks)
        return gone


def _put(
    unit: WriteUnit,
    rules: Rules,
    garage: Garage,
    person: Person,
    given: Given,
    *,
    is_new: bool,
    now: datetime,
    base_url: str,
) -> Person:
    changed = replace(
        person,
        name=given.name,
        mail=given.mail,
        zone=given.zone or garage.zone,
        unit=given.unit,
        language=person.language if given.language is None else given.language,
        roles=given.roles,
        letter_weekday=0 if person.has_left and not is_new else person.letter_weekday,
    )
    vehicles = unit.vehicles()
    keeps = tuple(vehicle_called(vehicles, each).mark for each in given.keeps)
    drives = tuple(vehicle_called(vehicles, each).mark for each in given.drives)
    unit.put_person(changed)
    if is_new or _words(changed) != _words(person):
        unit.log_change(person.key, PERSON, "" if is_new else _words(person), _words(changed))
    marks = _give_vehicles(unit, person.key, keeps=keeps, drives=drives)
    settle(unit, rules, now=now, base_url=base_url, marks=marks)
    if any(key.person == person.key and key.opens(Purpose.FEED, now) for key in unit.keys(Purpose.FEED)):
        renew_feed(unit, rules, garage, person.key, now=now, base_url=base_url)
    return changed


def _give_vehicles(unit: WriteUnit, person: str, *, keeps: Collection[str], drives: Collection[str]) -> tuple[str, ...]:
    """Sets whose the vehicles are; the marks of those that changed. A keeper that is taken away leaves nobody."""
    marks = []
    for vehicle in unit.vehicles():
        keeper, drivers = vehicle.keeper, vehicle.drivers
        if vehicle.mark in keeps:
            keeper = person
        elif keeper == person:
            keeper = ""
        if vehicle.mark in drives and person not in drivers:
            drivers = (*drivers, person)
        elif vehicle.mark not in drives:
            drivers = tuple(each for each in drivers if each != person)
        if (keeper, drivers) != (vehicle.keeper, vehicle.drivers):
            unit.put_vehicle(replace(vehicle, keeper=keeper, drivers=drivers))
            if keeper != vehicle.keeper:
                unit.log_change(vehicle.mark, "keeper", vehicle.keeper, keeper or "nobody")
            if drivers != vehicle.drivers:
                unit.log_change(vehicle.mark, "drivers", ", ".join(vehicle.drivers), ", ".join(drivers) or "nobody")
            marks.append(vehicle.mark)
    return tuple(marks)


def _refuse(given: Given, people: Sequence[Person], but: str) -> None:
    if not given.name.strip():
        raise BadInput("The name is missing.", remedy="Give first name and surname.", field="name")
    if not given.roles:
        raise BadInput("Nothing says what this person does here.", remedy="Tick at least one.", field="role")
    if given.mail and not re.fullmatch(r"[^@\s]+@[^@\s]+", given.mail):
        raise BadInput(
            saying("{mail} is no mail address.", mail=shown(given.mail)),
            remedy="Write it as name@example.org.",
            field="mail",
        )
    if given.zone:
        try:
            ZoneInfo(given.zone)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            what = saying("{zone} is no time zone.", zone=shown(given.zone))
            raise BadInput(what, remedy="Write it as Europe/Vienna.", field="zone") from None
    others = [each for each in people if each.key != but and not each.has_left]
    if given.mail and any(each.mail.casefold() == given.mail.casefold() for each in others):
        raise Clash(
            saying("Somebody with the address {mail} is down here already. Give another one, or none.", mail=given.mail)
        )
    if any(each.name.casefold() == given.name.casefold() for each in others):
        raise Clash(saying("{name} is down here already. Add something that tells the two apart.", name=given.name))


def _refuse_old(unit: WriteUnit, person: Person, state: str | None, garage: Garage) -> None:
    if state is None or state == state_of(person, unit.vehicles()):
        return
    last = next(iter(unit.log(person.key, 1)), None)
    names = {each.key: each.first_name for each in unit.people()}
    somebody = saying("Somebody")
    who = names.get(last.change.who, somebody) if last is not None else somebody
    zone = ZoneInfo(garage.zone)
    at = saying(" at {time}", time=f"{last.change.at.astimezone(zone):%H:%M}") if last is not None else ""
    raise Clash(
        saying(
            "{who} changed {first_name}{at}. What was typed is still here; what counts now stands below it.",
            who=who,
            first_name=person.first_name,
            at=at,
        )
    )


def _person(people: Sequence[Person], key: str) -> Person:
    found = next((each for each in people if each.key == key), None)
    if found is None:
        raise NotFound(PERSON, key, [each.key for each in people])
    return found


def _theirs(key: str, vehicles: Sequence[Vehicle]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    keeps = tuple(vehicle.mark for vehicle in vehicles if vehicle.keeper == key)
    return keeps, tuple(vehicle.mark for vehicle in vehicles if key in vehicle.drivers)


def _new_key(name: str, taken: Collection[str]) -> str:
    """A key nobody has, made of the first name, of the whole one, or with a number."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().casefold()
    words = re.findall(r"[a-z0-9]+", plain) or [PERSON]
    first = words[0][:40]
    tries: list[str] = [first, "-".join(words)[:40], *(f"{first}-{number}" for number in range(2, len(taken) + 3))]
    return next(each for each in tries if each not in taken and each != "new")


def _words(person: Person) -> Saying:
    roles = [Saying(role.value) for role in person.roles] or [saying("no role")]
    said = [person.name, person.mail or saying("no mail"), person.zone, person.unit.value, person.language]
    return listed(*filter(None, said), listed(*roles, by=", "), by="; ")
