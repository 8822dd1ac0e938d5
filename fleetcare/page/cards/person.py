"""One person of the garage: what they do, which vehicles are theirs, how they come in, their keys."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from urllib.parse import quote
from zoneinfo import ZoneInfo

from fleetcare.fleet.access import AccessKey, Purpose, Scope
from fleetcare.fleet.people import Garage, Person, Role
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import later, later_count, tr, tr_count
from fleetcare.language.tongue import Tongue
from fleetcare.page.cards.changed import Changed
from fleetcare.page.cards.frame import PEOPLE_URL, Frame, full_frame
from fleetcare.page.cards.ticks import TICKED_AT_MOST, Tick, VehicleTicks, vehicle_ticks
from fleetcare.page.drawings.code import SquareCode
from fleetcare.quantities import DistanceUnit
from fleetcare.wording import count_words, counted, day_words, grouped, joined, sentence

NAME_FIELD, MAIL_FIELD, ZONE_FIELD, UNIT_FIELD = "name", "mail", "zone", "unit"
ROLE_FIELD, KEEPS_FIELD, DRIVES_FIELD, SHOWN_FIELD = "role", "keeps", "drives", "shown"
KEEPS_OTHERS_FIELD, DRIVES_OTHERS_FIELD = "keeps-others", "drives-others"
SCOPE_FIELD, VEHICLE_FIELD, DAYS_FIELD, SHORT_FIELD = "scope", "vehicle", "days", "short"
LONGEST_KEY_NAME = 40
_NAMED_AT_MOST = 6


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
    keeps_others: str = ""
    drives_others: str = ""
    language: str = ""


@dataclass(frozen=True, slots=True)
class PersonForm:
    """The form about a person, new or not. shown: the state it was filled from, empty for a new one."""

    action: str
    shown: str
    name: str
    mail: str
    zone: str
    units: tuple[Tick, ...]
    languages: tuple[Tick, ...]
    """Empty where there is but one."""
    roles: tuple[Tick, ...]
    keeps: VehicleTicks
    drives: VehicleTicks
    problem: str
    field: str


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
    vehicle_typed: str | None
    """Of more vehicles than one would pick from, the mark or name as typed; None where all are there."""
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
    tongues: Sequence[Tongue] = (),
) -> PersonCard:
    """One person. keys: of theirs that open something now. hands: visits ahead that wait for their hands.

    state: of the person as shown. said: what was done that left no trace in the log. key_typed: a new key that could
    not be made: `problem` and its fields.
    """
    zone, typed = ZoneInfo(garage.zone), key_typed or {}
    api = [key for key in keys if key.purpose is Purpose.API]
    is_keeper, is_many = person.key == garage.list_keeper, len(vehicles) > TICKED_AT_MOST
    return PersonCard(
        frame=full_frame(person.name, garage=garage, reader=reader, today=today, here=PEOPLE_URL, can_enter=can_enter),
        name=person.name,
        first_name=person.first_name,
        lead=tr("Left; nothing opens for them.")
        if person.has_left
        else person_told(person, garage, *of_person(person.key, vehicles)),
        done=done,
        once=once,
        said=said,
        form=person_form(person_url(person.key), state, person, garage, vehicles, tried, tongues),
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
        vehicles=()
        if is_many
        else tuple(Tick(v.mark, f"{v.mark} {v.name}", v.mark == typed.get(VEHICLE_FIELD)) for v in vehicles),
        vehicle_typed=typed.get(VEHICLE_FIELD, "") if is_many else None,
        key_problem=typed.get("problem", ""),
        key_name=typed.get(NAME_FIELD, ""),
        key_days=typed.get(DAYS_FIELD, ""),
        may_leave=not is_keeper and not person.has_left,
        leaves=_leaves(hands),
        may_take_list=not is_keeper and not person.has_left and Role.ONLOOKER not in person.roles,
    )


def of_person(key: str, vehicles: Sequence[Vehicle]) -> tuple[list[Vehicle], list[Vehicle]]:
    """Those that a person keeps, and those that they drive."""
    return [v for v in vehicles if key and v.keeper == key], [v for v in vehicles if key and key in v.drivers]


_ROLES = {
    Role.KEEPER: later("keeper"),
    Role.MECHANIC: later("mechanic"),
    Role.DRIVER: later("driver"),
    Role.ONLOOKER: later("onlooker"),
}


def person_told(person: Person, garage: Garage, keeps: Sequence[Vehicle], drives: Sequence[Vehicle]) -> str:
    """What somebody is and has, in a few sentences: of many vehicles the first."""
    roles = [tr("keeps the list")] if person.key == garage.list_keeper else []
    told = [sentence(f"{joined([*roles, *(tr(_ROLES[role]) for role in person.roles)])}.")]
    if keeps:
        told.append(tr("Keeps {names}.", names=_names(keeps)))
    if drives:
        told.append(tr("Drives {names}.", names=_names(drives)))
    told.append(f"{person.mail}." if person.mail else tr("No mail."))
    return " ".join(told)


def _names(vehicles: Sequence[Vehicle]) -> str:
    names = [vehicle.name for vehicle in vehicles[:_NAMED_AT_MOST]]
    more = len(vehicles) - len(names)
    return tr("{names} and {number} more", names=", ".join(names), number=grouped(more)) if more else joined(names)


def person_form(
    action: str,
    state: str,
    person: Person,
    garage: Garage,
    vehicles: Sequence[Vehicle],
    tried: TriedPerson | None,
    tongues: Sequence[Tongue] = (),
) -> PersonForm:
    """The form about a person, as they are or as it was typed. state: of the person as shown. tongues: offered."""
    roles = tried.roles if tried else {role.value for role in person.roles}
    keeps, drives = ({vehicle.mark for vehicle in each} for each in of_person(person.key, vehicles))
    unit = tried.unit if tried else person.unit.value
    language = tried.language if tried else person.language
    spoken = (
        (("", tr("as the browser asks")), *((each.code, each.name) for each in tongues)) if len(tongues) > 1 else ()
    )
    return PersonForm(
        action=action,
        shown=state,
        name=tried.name if tried else person.name,
        mail=tried.mail if tried else person.mail,
        zone=tried.zone if tried else person.zone or garage.zone,
        units=tuple(Tick(each.value, each.value, each.value == unit) for each in DistanceUnit),
        languages=tuple(Tick(code, name, code == language) for code, name in spoken) if len(tongues) > 1 else (),
        roles=tuple(Tick(role.value, _role_words(role), role.value in roles) for role in Role),
        keeps=vehicle_ticks(vehicles, tried.keeps, there=keeps, others=tried.keeps_others)
        if tried
        else vehicle_ticks(vehicles, keeps),
        drives=vehicle_ticks(vehicles, tried.drives, there=drives, others=tried.drives_others)
        if tried
        else vehicle_ticks(vehicles, drives),
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
        (Purpose.SESSION, *later_count("device is signed in", "devices are signed in")),
        (Purpose.FEED, *later_count("calendar address answers", "calendar addresses answer")),
        (Purpose.SIGN_IN, *later_count("link to come in is open", "links to come in are open")),
        (Purpose.ODOMETER, *later_count("reading link is open", "reading links are open")),
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
