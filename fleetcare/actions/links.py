"""Keys for links: made, looked up, named, replaced, revoked; and what the calendars they open should hold.

Only hashes of keys are kept. A calendar may have several keys, one for each device, each with its own name.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from fleetcare.actions.gather import Rules, garage_day, garage_of
from fleetcare.actions.ports import Change, ReadView, Store, WriteUnit
from fleetcare.actions.renew_feeds import renew_feed
from fleetcare.calendar_feed.farewell import farewell
from fleetcare.calendar_feed.plain_text import one_line
from fleetcare.chance import KeyMaker, key_hash
from fleetcare.errors import BadInput, Clash, NotAllowed, NotFound, shown
from fleetcare.fleet.access import BAY, FAREWELL_TIME, LONGEST_NAME, SESSION_TIME, AccessKey, Fetch, Purpose, Scope
from fleetcare.fleet.feed_choice import FeedChoice
from fleetcare.fleet.naming import person_called, vehicle_called
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import Quoted, Saying, later, saying, together

GARAGE = "garage"
"""Subject of the log for what belongs to no person and no vehicle."""
LINK_OVER = "This link was used already, or its time is over. Ask for a new one; nothing is lost."


@dataclass(frozen=True, slots=True)
class Opened:
    """Whom and what a key stands for. `person` is None for a sticker that belongs to a vehicle alone."""

    garage: Garage
    person: Person | None
    vehicle: Vehicle | None
    key: AccessKey


@dataclass(frozen=True, slots=True)
class FeedAddress:
    """One address of a calendar as its owner sees it, without the key. fetch: when it was last fetched, by what.

    short: tells it from others without a name. replaced_at: it only says that it was replaced, until `expires_at`.
    """

    short: str
    name: str
    made_at: datetime
    expires_at: datetime | None
    replaced_at: datetime | None
    fetch: Fetch | None


def whose(store: Store, name: str) -> Person | Vehicle:
    """The person or the vehicle that somebody named. Raises NotFound with the nearest name."""
    with store.read() as view:
        people, vehicles = view.people(), view.vehicles()
    with suppress(NotFound):
        return person_called(people, name)
    with suppress(NotFound):
        return vehicle_called(vehicles, name)
    known = [p.name for p in people] + [p.key for p in people] + [v.name for v in vehicles] + [v.mark for v in vehicles]
    raise NotFound("person or vehicle", name, known)


def make_key(
    store: Store,
    keys: KeyMaker,
    *,
    now: datetime,
    who: str,
    purpose: Purpose,
    person: str = "",
    mark: str = "",
    lasts: timedelta | None = None,
    name: str = "",
    scope: Scope = Scope.ALL,
) -> str:
    """A new key for a person (key or name), a vehicle (mark or name) or both. It is shown once and never again.

    A feed key of a person opens that person's calendar, one of a vehicle when that vehicle is taken, one of neither the
    garage's own. name: of a feed key, unique among those of one calendar; empty makes one (`calendar`, `calendar 2`).
    scope: of an API key, what it may do; with a mark as well it is for that vehicle alone.
    Raises NotFound, Clash for a name that is taken, BadInput for one that cannot be.
    """
    secret = keys.new_key()
    with store.write(Change(who, f"new {purpose.value} link", now)) as unit:
        owner, vehicle = _owner(unit, person, mark)
        if purpose is Purpose.FEED:
            if owner and vehicle:
                raise BadInput("A calendar belongs to a person or to a vehicle, not to both.", remedy="Name one.")
            name = _free_name(unit, owner, vehicle, name, now)
        unit.put_key(
            AccessKey(
                hash=key_hash(secret),
                purpose=purpose,
                person=owner,
                mark=vehicle,
                made_at=now,
                expires_at=None if lasts is None else now + lasts,
                name=name,
                scope=scope,
            )
        )
        unit.log_change(owner or vehicle or GARAGE, "link", "", _told(purpose, name, later("made")))
    return secret


def publish_feed(
    store: Store, rules: Rules, person: str = "", *, mark: str = "", now: datetime, base_url: str
) -> bytes:
    """Brings one calendar up to date and returns its bytes. Raises NotFound.

    person, mark: a person's own, when a vehicle is taken, or (neither) the garage's own.
    """
    with store.write(Change("fleetcare", "feed asked for", now), typed=False) as unit:
        owner, vehicle = _owner(unit, person, mark)
        return renew_feed(unit, rules, garage_of(unit), owner, vehicle, now=now, base_url=base_url)


def feed_addresses(store: Store, *, now: datetime, person: str = "", mark: str = "") -> tuple[FeedAddress, ...]:
    """The addresses of one calendar that answer, those that were replaced included, oldest first. Raises NotFound."""
    with store.read() as view:
        fetches = view.fetches()
        return tuple(_address(key, fetches) for key in _answering(view, *_owner(view, person, mark), now))


def shared_addresses(store: Store, *, now: datetime) -> dict[str, tuple[FeedAddress, ...]]:
    """The addresses of every shared calendar that answer, by mark (the bay's word, or empty for the garage).

    One look however many vehicles there are; a calendar without an address is not in it.
    """
    found: dict[str, list[FeedAddress]] = {}
    with store.read() as view:
        fetches = view.fetches()
        for key in view.keys(Purpose.FEED):
            if not key.person and key.opens(Purpose.FEED, now):
                found.setdefault(key.mark, []).append(_address(key, fetches))
    return {mark: tuple(addresses) for mark, addresses in found.items()}


def _address(key: AccessKey, fetches: Mapping[str, Fetch]) -> FeedAddress:
    return FeedAddress(
        short=_short(key),
        name=key.name,
        made_at=key.made_at,
        expires_at=key.expires_at,
        replaced_at=key.replaced_at,
        fetch=fetches.get(key.hash),
    )


def rename_feed_key(
    store: Store, name: str, new_name: str, *, now: datetime, who: str, person: str = "", mark: str = ""
) -> None:
    """Calls one address of a calendar something else. name: as it is called, or its short mark.

    Raises NotFound, Clash for a name that is taken, BadInput for one that cannot be.
    """
    with store.write(Change(who, "calendar address named", now)) as unit:
        owner, vehicle = _owner(unit, person, mark)
        key = _called(unit, owner, vehicle, name, now)
        if one_line(new_name, LONGEST_NAME) == key.name:
            return
        given = _free_name(unit, owner, vehicle, new_name, now)
        unit.put_key(replace(key, name=given))
        unit.log_change(owner or vehicle or GARAGE, "link", key.name, given)


def revoke_feed_key(store: Store, name: str, *, now: datetime, who: str, person: str = "", mark: str = "") -> None:
    """Ends one address of a calendar at once; the others go on. Raises NotFound."""
    with store.write(Change(who, "calendar address ended", now)) as unit:
        owner, vehicle = _owner(unit, person, mark)
        key = _called(unit, owner, vehicle, name, now, replaced_too=True)
        unit.use_up_key(key.hash, now)
        unit.log_change(
            owner or vehicle or GARAGE, "link", _told(Purpose.FEED, key.name, later("in use")), later("ended")
        )


def rotate_feed_key(
    store: Store, keys: KeyMaker, name: str, *, now: datetime, who: str, person: str = "", mark: str = ""
) -> str:
    """A new key in place of one, under its name. The old address says for 30 days that it was replaced, then nothing.

    Raises NotFound.
    """
    secret = keys.new_key()
    with store.write(Change(who, "calendar address replaced", now)) as unit:
        owner, vehicle = _owner(unit, person, mark)
        key = _called(unit, owner, vehicle, name, now)
        garage = garage_of(unit)
        ends_at = now + FAREWELL_TIME
        body = farewell(
            owner,
            vehicle,
            calendar_name=garage.name,
            garage_id=garage.id,
            today=garage_day(garage, now),
            days=FAREWELL_TIME.days,
            now=now,
        )
        unit.put_farewell(key.hash, body)
        unit.put_key(replace(key, replaced_at=now, expires_at=min(key.expires_at or ends_at, ends_at)))
        unit.put_key(replace(key, hash=key_hash(secret), made_at=now))
        unit.log_change(
            owner or vehicle or GARAGE, "link", _told(Purpose.FEED, key.name, later("in use")), later("replaced")
        )
    return secret


def feed_choice(store: Store, person: str) -> FeedChoice:
    """What a person wants in their calendar. Raises NotFound."""
    with store.read() as view:
        return view.feed_choices().get(person_called(view.people(), person).key, FeedChoice())


def choose_feed(
    store: Store, rules: Rules, person: str, choice: FeedChoice, *, now: datetime, who: str, base_url: str
) -> None:
    """From now on a person's calendar holds this. Raises NotFound for a person or vehicle that is not there."""
    with store.write(Change(who, "calendar chosen", now)) as unit:
        owner, _ = _owner(unit, person, "")
        vehicles = unit.vehicles()
        choice = replace(choice, marks=tuple(vehicle_called(vehicles, mark).mark for mark in choice.marks))
        before = unit.feed_choices().get(owner, FeedChoice())
        if choice == before:
            return
        unit.put_feed_choice(owner, choice)
        unit.log_change(owner, "calendar", _choice_words(before), _choice_words(choice))
        renew_feed(unit, rules, garage_of(unit), owner, now=now, base_url=base_url)


def revoke(
    store: Store, *, now: datetime, who: str, purposes: tuple[Purpose, ...], person: str = "", mark: str = ""
) -> int:
    """Ends every link of those purposes that belongs to that person or vehicle; returns how many. Raises NotFound."""
    with store.write(Change(who, "links ended", now)) as unit:
        owner = person_called(unit.people(), person).key if person else ""
        vehicle = mark if mark == BAY else vehicle_called(unit.vehicles(), mark).mark if mark else ""
        ended = 0
        for purpose in purposes:
            held = [
                key
                for key in unit.keys(purpose)
                if key.revoked_at is None and ((owner and key.person == owner) or (vehicle and key.mark == vehicle))
            ]
            for key in held:
                ended += unit.use_up_key(key.hash, now)
        unit.log_change(owner or vehicle, "link", saying("{count} in use", count=ended), later("ended"))
        return ended


def open_key(store: Store, key: str, purpose: Purpose, *, now: datetime) -> Opened:
    """Whom a key stands for. Raises NotAllowed for any key that does not open this, always alike."""
    with store.read() as view:
        found = view.key(key_hash(key), in_use=True)
        garage = view.garage()
        if found is None or garage is None or not found.opens(purpose, now):
            raise NotAllowed(LINK_OVER)
        person = next((p for p in view.people() if p.key == found.person), None)
        vehicles = view.vehicles((found.mark,)) if found.mark else ()
        if (found.person and person is None) or (found.mark not in ("", BAY) and not vehicles):
            raise NotAllowed(LINK_OVER)
        return Opened(garage, person, vehicles[0] if vehicles else None, found)


def come_in(store: Store, keys: KeyMaker, key: str, *, now: datetime) -> tuple[str, Person]:
    """Uses up a sign-in key and returns a session key. Raises NotAllowed if it was used or its time is over."""
    session = keys.new_key()
    with store.write(Change("link", "came in", now)) as unit:
        found = unit.key(key_hash(key))
        person = next((p for p in unit.people() if found is not None and p.key == found.person), None)
        if found is None or person is None or not found.opens(Purpose.SIGN_IN, now):
            raise NotAllowed(LINK_OVER)
        if not unit.use_up_key(found.hash, now):
            raise NotAllowed(LINK_OVER)
        unit.put_key(AccessKey(key_hash(session), Purpose.SESSION, person.key, "", now, now + SESSION_TIME))
        unit.log_change(person.key, "came in", "", "by sign-in link")
    return session, person


def go_out(store: Store, session: str, *, now: datetime) -> None:
    """Ends one session; one that is not there is no matter."""
    with store.write(Change("link", "went out", now)) as unit:
        found = unit.key(key_hash(session))
        # Whatever a cookie holds: only a session is ended by going out, never a feed or a sticker.
        if found is not None and found.purpose is Purpose.SESSION:
            unit.use_up_key(found.hash, now)


def _owner(view: ReadView, person: str, mark: str) -> tuple[str, str]:
    owner = person_called(view.people(), person).key if person else ""
    if not mark or mark == BAY:
        return owner, mark
    return owner, vehicle_called(view.vehicles(), mark).mark


def _answering(view: ReadView, owner: str, vehicle: str, now: datetime) -> list[AccessKey]:
    """The feed keys of one calendar that open something, oldest first."""
    theirs = (key for key in view.keys(Purpose.FEED) if (key.person, key.mark) == (owner, vehicle))
    return [key for key in theirs if key.opens(Purpose.FEED, now)]


def _called(
    unit: WriteUnit, owner: str, vehicle: str, name: str, now: datetime, *, replaced_too: bool = False
) -> AccessKey:
    keys = [key for key in _answering(unit, owner, vehicle, now) if replaced_too or key.replaced_at is None]
    wanted = name.strip().casefold()
    # One that was replaced has the name of the one that took its place; its short mark still tells it apart.
    for key in sorted(keys, key=lambda key: key.replaced_at is not None):
        if wanted and wanted in (key.name.casefold(), _short(key)):
            return key
    raise NotFound("calendar address", name, [key.name or _short(key) for key in keys])


def _free_name(unit: WriteUnit, owner: str, vehicle: str, name: str, now: datetime) -> str:
    keys = _answering(unit, owner, vehicle, now)
    taken = {key.name.casefold() for key in keys if key.replaced_at is None}
    if not name:
        made = (f"calendar {number}" if number > 1 else "calendar" for number in range(1, len(taken) + 2))
        return next(each for each in made if each not in taken)
    given = one_line(name, LONGEST_NAME)
    if not given or given != " ".join(name.split()):
        raise BadInput(
            "An address cannot be called that.",
            remedy=saying("Give a short name, {longest_name} characters.", longest_name=LONGEST_NAME),
            field="name",
        )
    if given.casefold() in taken:
        raise Clash(saying("There is an address called {given} already. Give another name.", given=shown(given)))
    return given


def _short(key: AccessKey) -> str:
    return key.hash[:8]


_LINKS = {
    Purpose.FEED: later("feed link"),
    Purpose.ODOMETER: later("odometer link"),
    Purpose.SIGN_IN: later("sign-in link"),
    Purpose.SESSION: later("session link"),
    Purpose.API: later("api link"),
    Purpose.STOP_LETTERS: later("stop letters link"),
    Purpose.REPLY: later("reply link"),
}


def _told(purpose: Purpose, name: str, what: str) -> Saying:
    return together(Saying(_LINKS[purpose]), Quoted(name) if name else "", Saying(what))


def _choice_words(choice: FeedChoice) -> str:
    alarms = [alarm.name for alarm in choice.alarms]
    parts = (
        f"kinds {', '.join(choice.topics)}",
        f"dates {', '.join(choice.dates)}",
        f"vehicles {', '.join(choice.marks) or 'all'}",
        f"alarms {', '.join(alarms) or 'off'}",
    )
    return "; ".join(parts)
