"""Decides which letters are due and writes each down once, whole, before anything is sent."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from fleetcare.actions.gather import Rules, garage_day, outlooks_of
from fleetcare.actions.ports import Change, Composer, Store, WriteUnit
from fleetcare.chance import KeyMaker, key_hash
from fleetcare.digest.letters import come_in_letter, garage_letter, reading_letter
from fleetcare.digest.schedule import expires_at, garage_letter_period, reading_request_period
from fleetcare.digest.values import Delivery, DeliveryState, Letter, LetterKind
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.errors import BadInput
from fleetcare.fleet.access import (
    LETTER_LINK_TIME,
    SIGN_IN_TIME,
    STOP_TIME,
    AccessKey,
    Purpose,
    link_address,
)
from fleetcare.fleet.naming import marks_of, person_called
from fleetcare.fleet.people import Garage, Person


@dataclass(frozen=True, slots=True)
class Desk:
    """What letters are written with."""

    keys: KeyMaker
    composer: Composer
    base_url: str


@dataclass(frozen=True, slots=True)
class _Wanted:
    person: Person
    kind: LetterKind
    period: str
    mark: str = ""


def write_due_letters(store: Store, rules: Rules, desk: Desk, *, now: datetime, with_requests: bool = True) -> int:
    """Writes every letter that is due and not written yet; returns how many. Called as often as one likes.

    with_requests: whether to look for vehicles that want a reading; that works every vehicle out, so it is not for
    every minute.

    Who got what for which period is one row that is never made twice, so a restart, a second process or a clock that
    was set back sends nothing again.
    """
    with store.read() as view:
        garage = view.garage()
        if garage is None:
            return 0
        people = [p for p in view.people() if p.mail]
        wanted = [
            _Wanted(person, LetterKind.GARAGE, period)
            for person in people
            if (period := garage_letter_period(person, now)) is not None
            and view.delivery(person.key, LetterKind.GARAGE, period) is None
        ]
    if not wanted and not with_requests:
        return 0
    with store.write(Change("timetable", "letters due", now)) as unit:
        today = garage_day(garage, now)
        outlooks = outlooks_of(unit, rules, today)
        asked = [
            _Wanted(person, LetterKind.READING, period, outlook.vehicle.mark)
            for outlook in outlooks
            if with_requests and outlook.wanted is not None
            for person in _who_reads(outlook, people)
            if (period := reading_request_period(outlook, person, now)) is not None
        ]
        written = 0
        for each in wanted + asked:
            if unit.delivery(each.person.key, each.kind, each.period) is None:
                written += _write(unit, desk, garage, each, outlooks, now)
        return written


def write_garage_letter(store: Store, rules: Rules, desk: Desk, person: str, *, now: datetime) -> Letter | None:
    """The garage letter this person would get now, whatever the day; None if nothing concerns them. Raises NotFound.

    Nothing is stored: its links are samples that open nothing.
    """
    with store.read() as view:
        garage = view.garage()
        reader = person_called(view.people(), person)
        if garage is None:
            return None
        today = now.astimezone(ZoneInfo(reader.zone)).date()
        outlooks = outlooks_of(view, rules, garage_day(garage, now))
        links = {mark: link_address(desk.base_url, Purpose.ODOMETER, "…") for mark in _marks_to_read(reader, outlooks)}
        vehicles = view.vehicles()
        return garage_letter(
            garage=garage,
            person=reader,
            outlooks=outlooks,
            kept=marks_of(reader, vehicles),
            work=view.work(),
            bookings=view.bookings(),
            today=today,
            base_url=desk.base_url,
            reading_links=links,
            link_until=today + LETTER_LINK_TIME,
            stop_url=link_address(desk.base_url, Purpose.STOP_LETTERS, "…"),
        )


def send_garage_letter(store: Store, rules: Rules, desk: Desk, person: str, *, now: datetime) -> bool:
    """Writes this person's garage letter now, by hand, beside the weekly ones; False if nothing concerns them.

    Raises NotFound, and BadInput if there is no address to send it to.
    """
    with store.write(Change("command", "garage letter asked for", now)) as unit:
        garage = unit.garage()
        reader = person_called(unit.people(), person)
        if not reader.mail:
            raise BadInput(f"{reader.name} has no mail address.", remedy="Bring one in with people.toml.")
        if garage is None:
            return False
        outlooks = outlooks_of(unit, rules, garage_day(garage, now))
        period = f"by hand {now:%Y-%m-%dT%H:%M:%SZ}"
        return _write(unit, desk, garage, _Wanted(reader, LetterKind.GARAGE, period), outlooks, now) == 1


def write_come_in_letter(store: Store, desk: Desk, mail: str, *, now: datetime) -> None:
    """Writes a sign-in link to the person with that mail address; says nothing if there is none.

    One letter a minute for each person at most, so that nobody can be flooded.
    """
    with store.write(Change("come in", "sign-in link asked for", now)) as unit:
        garage = unit.garage()
        wanted = mail.strip().casefold()
        person = next((p for p in unit.people() if p.mail and p.mail.casefold() == wanted), None)
        if garage is not None and person is not None:
            period = f"{now:%Y-%m-%dT%H:%M}Z"
            if unit.delivery(person.key, LetterKind.COME_IN, period) is None:
                _write(unit, desk, garage, _Wanted(person, LetterKind.COME_IN, period), (), now)


def stop_letters(store: Store, key: str, *, now: datetime) -> bool:
    """Ends the weekly letter of whom a stop key belongs to; False if the key opens nothing. Twice is harmless."""
    with store.write(Change("link", "letters stopped", now)) as unit:
        found = unit.key(key_hash(key))
        person = next((p for p in unit.people() if found is not None and p.key == found.person), None)
        if found is None or person is None or not found.opens(Purpose.STOP_LETTERS, now):
            return False
        if person.letter_weekday is not None:
            unit.put_person(replace(person, letter_weekday=None))
            unit.log_change(person.key, "garage letter", "weekly", "stopped by its reader")
        return True


def _write(
    unit: WriteUnit, desk: Desk, garage: Garage, wanted: _Wanted, outlooks: tuple[VehicleOutlook, ...], now: datetime
) -> int:
    """Composes one letter and stores it as due; a letter with nothing in it is stored as settled. 1 if one is due."""
    message_id = desk.composer.message_id(wanted.person.key, wanted.kind, wanted.period, garage.id)
    ends = expires_at(wanted.kind, wanted.person, now)
    trouble = ""
    letter, raw = None, b""
    try:
        letter = _compose(unit, desk, garage, wanted, outlooks, now)
        raw = b"" if letter is None else desk.composer.raw(letter, message_id=message_id, date=now)
    except BadInput as bad:
        # One address that cannot stand in a header must not keep anybody else's letter.
        trouble = str(bad)
    state = DeliveryState.FAILED if trouble else DeliveryState.DUE if letter is not None else DeliveryState.NOTHING
    is_new = unit.add_delivery(
        Delivery(
            person=wanted.person.key,
            kind=wanted.kind,
            period=wanted.period,
            message_id=message_id,
            subject="" if letter is None else letter.subject,
            to_mail=wanted.person.mail,
            raw=raw,
            decided_at=now,
            expires_at=ends,
            state=state,
            last_answer=trouble,
        )
    )
    if not is_new:
        return 0
    what = trouble or ("nothing to say" if letter is None else "written")
    unit.log_change(wanted.person.key, "letter", "", f"{wanted.kind.value} {wanted.period}: {what}")
    return 1 if state is DeliveryState.DUE else 0


def _compose(
    unit: WriteUnit, desk: Desk, garage: Garage, wanted: _Wanted, outlooks: tuple[VehicleOutlook, ...], now: datetime
) -> Letter | None:
    person = wanted.person
    today = now.astimezone(ZoneInfo(person.zone)).date()
    if wanted.kind is LetterKind.COME_IN:
        link = _new_link(unit, desk, Purpose.SIGN_IN, person, "", now, SIGN_IN_TIME)
        return come_in_letter(garage=garage, person=person, link=link, until=now + SIGN_IN_TIME)
    link_until = today + LETTER_LINK_TIME
    stop_url = _new_link(unit, desk, Purpose.STOP_LETTERS, person, "", now, STOP_TIME)
    if wanted.kind is LetterKind.READING:
        return reading_letter(
            garage=garage,
            person=person,
            outlook=next(each for each in outlooks if each.vehicle.mark == wanted.mark),
            link=_new_link(unit, desk, Purpose.ODOMETER, person, wanted.mark, now, LETTER_LINK_TIME),
            link_until=link_until,
            base_url=desk.base_url,
            stop_url=stop_url,
            today=today,
        )
    return garage_letter(
        garage=garage,
        person=person,
        outlooks=outlooks,
        kept=marks_of(person, tuple(each.vehicle for each in outlooks)),
        work=unit.work(),
        bookings=unit.bookings(),
        today=today,
        base_url=desk.base_url,
        reading_links={
            mark: _new_link(unit, desk, Purpose.ODOMETER, person, mark, now, LETTER_LINK_TIME)
            for mark in _marks_to_read(person, outlooks)
        },
        link_until=link_until,
        stop_url=stop_url,
    )


def _new_link(
    unit: WriteUnit, desk: Desk, purpose: Purpose, person: Person, mark: str, now: datetime, lasts: timedelta
) -> str:
    secret = desk.keys.new_key()
    unit.put_key(AccessKey(key_hash(secret), purpose, person.key, mark, now, now + lasts))
    return link_address(desk.base_url, purpose, secret)


def _marks_to_read(person: Person, outlooks: tuple[VehicleOutlook, ...]) -> tuple[str, ...]:
    return tuple(o.vehicle.mark for o in outlooks if o.wanted is not None and person in _who_reads(o, [person]))


def _who_reads(outlook: VehicleOutlook, people: list[Person]) -> tuple[Person, ...]:
    """Who is asked for a reading: the drivers, or the keeper if nobody is down as driver."""
    asked = outlook.vehicle.drivers or (outlook.vehicle.keeper,)
    return tuple(person for person in people if person.key in asked)
