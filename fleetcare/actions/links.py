"""Keys for links: made, looked up, revoked. Only their hashes are kept."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta

from fleetcare.actions.gather import Rules, garage_of
from fleetcare.actions.ports import Change, Store
from fleetcare.actions.settle import renew_feed
from fleetcare.chance import KeyMaker, key_hash
from fleetcare.errors import NotAllowed, NotFound
from fleetcare.fleet.access import SESSION_TIME, AccessKey, Purpose
from fleetcare.fleet.naming import person_called, vehicle_called
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle

LINK_OVER = "This link was used already, or its time is over. Ask for a new one; nothing is lost."


@dataclass(frozen=True, slots=True)
class Opened:
    """Whom and what a key stands for. `person` is None for a sticker that belongs to a vehicle alone."""

    garage: Garage
    person: Person | None
    vehicle: Vehicle | None
    key: AccessKey


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
) -> str:
    """A new key for a person (key or name), a vehicle (mark or name) or both. It is shown once and never again.

    Raises NotFound.
    """
    secret = keys.new_key()
    with store.write(Change(who, f"new {purpose.value} link", now)) as unit:
        owner = person_called(unit.people(), person).key if person else ""
        vehicle = vehicle_called(unit.vehicles(), mark).mark if mark else ""
        unit.put_key(
            AccessKey(
                hash=key_hash(secret),
                purpose=purpose,
                person=owner,
                mark=vehicle,
                made_at=now,
                expires_at=None if lasts is None else now + lasts,
            )
        )
        unit.log_change(owner or vehicle, "link", "", f"{purpose.value} link made")
    return secret


def publish_feed(store: Store, rules: Rules, person: str, *, now: datetime, base_url: str) -> bytes:
    """Brings one person's feed up to date and returns its bytes. Raises NotFound."""
    with store.write(Change("fleetcare", "feed asked for", now), typed=False) as unit:
        reader = person_called(unit.people(), person)
        return renew_feed(unit, rules, garage_of(unit), reader, now=now, base_url=base_url)


def revoke(
    store: Store, *, now: datetime, who: str, purposes: tuple[Purpose, ...], person: str = "", mark: str = ""
) -> int:
    """Ends every link of those purposes that belongs to that person or vehicle; returns how many. Raises NotFound."""
    with store.write(Change(who, "links ended", now)) as unit:
        owner = person_called(unit.people(), person).key if person else ""
        vehicle = vehicle_called(unit.vehicles(), mark).mark if mark else ""
        ended = 0
        for purpose in purposes:
            held = [
                key
                for key in unit.keys(purpose)
                if key.revoked_at is None and ((owner and key.person == owner) or (vehicle and key.mark == vehicle))
            ]
            for key in held:
                ended += unit.use_up_key(key.hash, now)
        unit.log_change(owner or vehicle, "link", f"{ended} in use", "ended")
        return ended


def open_key(store: Store, key: str, purpose: Purpose, *, now: datetime) -> Opened:
    """Whom a key stands for. Raises NotAllowed for any key that does not open this, always alike."""
    with store.read() as view:
        found = view.key(key_hash(key))
        garage = view.garage()
        if found is None or garage is None or not found.opens(purpose, now):
            raise NotAllowed(LINK_OVER)
        person = next((p for p in view.people() if p.key == found.person), None)
        vehicles = view.vehicles((found.mark,)) if found.mark else ()
        if (found.person and person is None) or (found.mark and not vehicles):
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
