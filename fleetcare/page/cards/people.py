"""The people of the garage, and one of them: what they do, which vehicles are theirs, how they come in, their keys."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from urllib.parse import quote
from zoneinfo import ZoneInfo

from fleetcare.fleet.access import AccessKey, Purpose, Scope
from fleetcare.fleet.people import Garage, Person, Role
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr, tr_count
from fleetcare.page.cards.changed import Changed
from fleetcare.page.cards.frame import PEOPLE_URL, Frame, full_frame
from fleetcare.page.drawings.code import SquareCode
from fleetcare.quantities import DistanceUnit
from fleetcare.wording import count_words, counted, day_words, joined, sentence

NAME_FIELD, MAIL_FIELD, ZONE_FIELD, UNIT_FIELD = "name", "mail", "zone", "unit"
ROLE_FIELD, KEEPS_FIELD, DRIVES_FIELD, SHOWN_FIELD = "role", "keeps", "drives", "shown"
SCOPE_FIELD, VEHICLE_FIELD, DAYS_FIELD, SHORT_FIELD = "scope", "vehicle", "days", "short"
LONGEST_KEY_NAME = 40


@dataclass(frozen=True, slots=True)
class Tick:
    """Something to tick or choose."""

    value: str
    text: str
    is_on: bool


@dataclass(frozen=True, slots=True)
class TriedPerson:
    """A form that could not be taken: what stood in it, and why. field: where."""

    problem: str
    field: str
    name: str = ""
    mail: str = ""
    zone: str = ""
    unit: str = ""
    roles: Collection[str] = ()
    keeps: Collection[str] = ()
    drives: Collection[str] = ()


@dataclass(frozen=True, slots=True)
class PersonForm:
    """The form about a person, new or not. shown: the state it was filled from, empty for a new one."""

    action: str
    shown: str
    name: str
    mail: str
    zone: str
    units: tuple[Tick, ...]
    roles: tuple[Tick, ...]
    keeps: tuple[Tick, ...]
    drives: tuple[Tick, ...]
    problem: str
    field: str


@dataclass(frozen=True, slots=True)
class PersonRow:
    """One person in the list."""

    name: str
    url: str
    told: str


@dataclass(frozen=True, slots=True)
class PeopleCard:
    """The list. gone: who left."""

    frame: Frame
    lead: str
    done: Changed | None
    rows: tuple[PersonRow, ...]
    gone: tuple[PersonRow, ...]
    form: PersonForm
    is_open: bool


@dataclass(frozen=True, slots=True)
class KeyRow:
    """One key for a program. short: tells it from others."""

    name: str
    short: str
    told: str


@dataclass(frozen=True, slots=True)
class ShownOnce:
    """A link or key that was just made. code: drawn for a link, None for a key that a program carries."""

    heading: str
    told: str
    text: str
    code: SquareCode | None


@dataclass(frozen=True, slots=True)
class PersonCard:
    """One person. may_leave: False for who keeps the list. ways: sentences about what opens for them now."""

    frame: Frame
    name: str
    first_name: str
    lead: str
    done: Changed | None
    once: ShownOnce | None
    said: str
    form: PersonForm
    url: str
    mail: str
    has_left: bool
    ways: tuple[str, ...]
    open_sessions: int
    keys: tuple[KeyRow, ...]
    scopes: tuple[Tick, ...]
    vehicles: tuple[Tick, ...]
    key_problem: str
    key_name: str
    key_days: str
    may_leave: bool
    leaves: str
    may_take_list: bool
    """Whether the list could be handed over to them."""


def person_url(key: str) -> str:
    """The page of one person: `/people/teo`."""
    return f"{PEOPLE_URL}/{quote(key, safe='')}"


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
) -> PeopleCard:
    """The list of people. keys: that open something now."""
    here = [person for person in people if not person.has_left]
    return PeopleCard(
        frame=full_frame(
            tr("People and keys"), garage=garage, reader=reader, today=today, here=PEOPLE_URL, can_enter=can_enter
        ),
        lead=_lead(here, keys),
        done=done,
        rows=tuple(PersonRow(each.name, person_url(each.key), _told(each, garage, vehicles)) for each in here),
        gone=tuple(
            PersonRow(each.name, person_url(each.key), tr("Left; what was done stays under this name."))
            for each in people
            if each.has_left
        ),
        form=_form(PEOPLE_URL, "", Person("", "", zone=garage.zone, unit=garage.unit), garage, vehicles, tried),
        is_open=tried is not None,
    )


def person_card(
    *,
    garage: Garage,
    reader: Person,
    today: date,
    person: Person,
    vehicles: Sequence[Vehicle],
    keys: Sequence[AccessKey],
    hands: int,
    state: str,
    can_enter: bool,
    done: Changed | None = None,
    once: ShownOnce | None = None,
    said: str = "",
    tried: TriedPerson | None = None,
    key_typed: Mapping[str, str] | None = None,
) -> PersonCard:
    """One person. keys: of theirs that open something now. hands: visits ahead that wait for their hands.

    state: of the person as shown. said: what was done that left no trace in the log. key_typed: a new key that could
    not be made: `problem` and its fields.
    """
    zone, typed = ZoneInfo(garage.zone), key_typed or {}
    api = [key for key in keys if key.purpose is Purpose.API]
    is_keeper = person.key == garage.list_keeper
    return PersonCard(
        frame=full_frame(person.name, garage=garage, reader=reader, today=today, here=PEOPLE_URL, can_enter=can_enter),
        name=person.name,
        first_name=person.first_name,
        lead=_told(person, garage, vehicles) if not person.has_left else tr("Left; nothing opens for them."),
        done=done,
        once=once,
        said=said,
        form=_form(person_url(person.key), state, person, garage, vehicles, tried),
        url=person_url(person.key),
        mail=person.mail,
        has_left=person.has_left,
        ways=_ways(keys, zone, today),
        open_sessions=sum(key.purpose is Purpose.SESSION for key in keys),
        keys=tuple(_key_row(key, zone, today) for key in api),
        scopes=tuple(
            Tick(scope.value, words, scope.value == typed.get(SCOPE_FIELD, Scope.ALL.value))
            for scope, words in (
                (Scope.ALL, tr("all that {name} may do", name=person.first_name)),
                (Scope.LOOK, tr("look: dates, no entries")),
                (Scope.READINGS, tr("readings: entries, no dates")),
            )
        ),
        vehicles=tuple(Tick(v.mark, f"{v.mark} {v.name}", v.mark == typed.get(VEHICLE_FIELD)) for v in vehicles),
        key_problem=typed.get("problem", ""),
        key_name=typed.get(NAME_FIELD, ""),
        key_days=typed.get(DAYS_FIELD, ""),
        may_leave=not is_keeper and not person.has_left,
        leaves=_leaves(hands),
        may_take_list=not is_keeper and not person.has_left and Role.ONLOOKER not in person.roles,
    )


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


def _told(person: Person, garage: Garage, vehicles: Sequence[Vehicle]) -> str:
    roles = [tr("keeps the list")] if person.key == garage.list_keeper else []
    told = [sentence(f"{joined([*roles, *(tr(role.value) for role in person.roles)])}.")]
    keeps = [vehicle.name for vehicle in vehicles if vehicle.keeper == person.key]
    drives = [vehicle.name for vehicle in vehicles if person.key in vehicle.drivers]
    if keeps:
        told.append(tr("Keeps {names}.", names=joined(keeps)))
    if drives:
        told.append(tr("Drives {names}.", names=joined(drives)))
    told.append(f"{person.mail}." if person.mail else tr("No mail."))
    return " ".join(told)


def _form(
    action: str,
    state: str,
    person: Person,
    garage: Garage,
    vehicles: Sequence[Vehicle],
    tried: TriedPerson | None,
) -> PersonForm:
    roles = tried.roles if tried else {role.value for role in person.roles}
    keeps = tried.keeps if tried else {v.mark for v in vehicles if person.key and v.keeper == person.key}
    drives = tried.drives if tried else {v.mark for v in vehicles if person.key and person.key in v.drivers}
    unit = tried.unit if tried else person.unit.value
    return PersonForm(
        action=action,
        shown=state,
        name=tried.name if tried else person.name,
        mail=tried.mail if tried else person.mail,
        zone=tried.zone if tried else person.zone or garage.zone,
        units=tuple(Tick(each.value, each.value, each.value == unit) for each in DistanceUnit),
        roles=tuple(Tick(role.value, _role_words(role), role.value in roles) for role in Role),
        keeps=tuple(Tick(v.mark, f"{v.mark} {v.name}", v.mark in keeps) for v in vehicles),
        drives=tuple(Tick(v.mark, f"{v.mark} {v.name}", v.mark in drives) for v in vehicles),
        problem=tried.problem if tried else "",
        field=tried.field if tried else "",
    )


def _role_words(role: Role) -> str:
    return {
        Role.KEEPER: tr("keeper: answers for vehicles"),
        Role.MECHANIC: tr("mechanic: works on all of them"),
        Role.DRIVER: tr("driver: reads the odometer"),
        Role.ONLOOKER: tr("onlooker: sees, and enters nothing"),
    }[role]


def _ways(keys: Sequence[AccessKey], zone: ZoneInfo, today: date) -> tuple[str, ...]:
    told = []
    for purpose, one, more in (
        (Purpose.SESSION, "device is signed in", "devices are signed in"),
        (Purpose.FEED, "calendar address answers", "calendar addresses answer"),
        (Purpose.SIGN_IN, "link to come in is open", "links to come in are open"),
        (Purpose.ODOMETER, "reading link is open", "reading links are open"),
    ):
        there = [key for key in keys if key.purpose is purpose]
        if there:
            newest = max(key.made_at for key in there).astimezone(zone)
            day = day_words(newest.date(), today)
            told.append(tr("{count}, the newest since {day}.", count=sentence(counted(len(there), one, more)), day=day))
    return tuple(told) or (tr("Nothing is open for them just now."),)


def _key_row(key: AccessKey, zone: ZoneInfo, today: date) -> KeyRow:
    made = tr("made {day}", day=day_words(key.made_at.astimezone(zone).date(), today))
    parts = [tr(key.scope.value), *([tr("for {mark} alone", mark=key.mark)] if key.mark else []), made]
    if key.expires_at is not None:
        parts.append(tr("until {day}", day=day_words(_day(key.expires_at, zone), today)))
    return KeyRow(key.name or tr("without a name"), key.hash[:12], f"{sentence(', '.join(parts))}.")


def _day(at: datetime, zone: ZoneInfo) -> date:
    return at.astimezone(zone).date()


def _leaves(hands: int) -> str:
    told = tr("Every link, device and key of theirs ends, and no vehicle is theirs any more.")
    kept = tr("What they read, did and found stays under their name.")
    if not hands:
        return f"{told} {kept}"
    waits = tr_count(
        "{number} bay day ahead waits for their hands; give it to somebody else.",
        "{number} bay days ahead wait for their hands; give them to somebody else.",
        hands,
        number=sentence(count_words(hands)),
    )
    return f"{told} {kept} {waits}"
