"""Decides which letters are due and writes each down once, whole, before anything is sent."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta

from fleetcare.actions.composing import Desk as Desk
from fleetcare.actions.composing import Standing, composed, in_stretches, write_letter
from fleetcare.actions.gather import Rules, garage_day, garage_of, outlooks_of
from fleetcare.actions.kept_outlooks import KeptOutlooks
from fleetcare.actions.ports import Change, ReadView, Store
from fleetcare.chance import key_hash
from fleetcare.clock import monotonic_s
from fleetcare.digest.bay_visits import bay_letters_due
from fleetcare.digest.letters_due import (
    LEDGER_LOOKS_BACK,
    Wanted,
    letters_due,
    lost_letters_due,
    periods_known,
)
from fleetcare.digest.moments import zone_of
from fleetcare.digest.schedule import garage_letter_period
from fleetcare.digest.values import Delivery, DeliveryState, Letter, LetterKind
from fleetcare.errors import BadInput
from fleetcare.fleet.access import Purpose
from fleetcare.fleet.naming import person_called
from fleetcare.fleet.people import Garage, Person
from fleetcare.language import saying
from fleetcare.work.order import sheets_by_visit

AT_ONCE = 20
"""Letters of one transaction. A whole garage in one would keep everybody else's readings waiting."""
LOOKED_AT_S = 20.0
"""While somebody else writes between two stretches, where the garage stands is read again after so many seconds."""
THIS_WEEK = timedelta(days=10)
_ONCE = (LetterKind.PAST_LATE, LetterKind.FINDING, LetterKind.BAY_DAY, LetterKind.BAY_DAY_MOVED)
"""Told once for ever, so the ledger is asked about them however far back."""


def write_due_letters(
    store: Store,
    rules: Rules,
    desk: Desk,
    *,
    now: datetime,
    with_requests: bool = True,
    kept: KeptOutlooks | None = None,
) -> int:
    """Writes every letter that is due and not written yet; returns how many. Called as often as one likes.

    with_requests: whether to look for vehicles that want a reading, are past late or had something found; that looks
    every vehicle through, so it is not for every minute. kept: what this process has worked out before; only what has
    changed since is worked out then.

    Who got what for which period is one row that is never made twice, so a restart, a second process or a clock that
    was set back sends nothing again. Letters are written in stretches, one transaction each: killed in between, the
    rest is written by the next call.
    """
    with store.read() as view:
        garage = view.garage()
        if garage is None:
            return 0
        people = reachable(view, garage)
        wanted = [*_weekly(view, people, now), *_about_lost_letters(view, garage, people, now)]
    if not wanted and not with_requests:
        return 0
    looked = _Look(store, rules, now, kept)
    if with_requests:
        wanted += looked.due()
    written = 0
    for stretch in in_stretches(wanted, AT_ONCE):
        standing = looked.standing
        with store.write(Change("timetable", "letters due", now)) as unit:
            written += sum(write_letter(unit, desk, standing, each, now) for each in stretch)
            looked.expect(unit.version() + 1)
        looked.renew()
    return written


class _Look:
    """Where the garage stands, read once and again if somebody else writes while letters are written."""

    def __init__(self, store: Store, rules: Rules, now: datetime, kept: KeptOutlooks | None) -> None:
        self._store, self._rules, self._now, self._kept = store, rules, now, kept
        self._read()

    def _read(self) -> None:
        with self._store.read() as view:
            self._version = view.version()
            self.standing = standing_in(view, self._rules, self._now, self._kept)
        self._at_s = monotonic_s()

    def due(self) -> tuple[Wanted, ...]:
        """The letters that hang on it."""
        with self._store.read() as view:
            places = (
                *view.letter_places(since=self._now - LEDGER_LOOKS_BACK),
                *view.letter_places(kinds=_ONCE),
            )
        standing, ledger = self.standing, periods_known(places)
        return (
            *letters_due(
                garage=standing.garage,
                people=standing.people,
                outlooks=standing.outlooks,
                work=standing.work,
                ledger=ledger,
                now=self._now,
            ),
            *bay_letters_due(
                standing.visits,
                garage=standing.garage,
                people=standing.people,
                outlooks=standing.outlooks,
                ledger=ledger,
                now=self._now,
                sheets=standing.sheets,
            ),
        )

    def expect(self, version: int) -> None:
        """The version of the store, if nobody but us has written."""
        self._version = version

    def renew(self) -> None:
        """Reads again what others may have changed, unless it is fresh."""
        if monotonic_s() - self._at_s < LOOKED_AT_S:
            return
        with self._store.read() as view:
            is_ours = view.version() == self._version
        if not is_ours:
            self._read()


def standing_in(view: ReadView, rules: Rules, now: datetime, kept: KeptOutlooks | None = None) -> Standing:
    """Where the garage stands, for letters; kept: what was worked out before. Raises BadInput without a garage."""
    garage = garage_of(view)
    today = garage_day(garage, now)
    if kept is None:
        outlooks = outlooks_of(view, rules, today, with_steps=False)
    else:
        outlooks = tuple(each.outlook for each in kept.look(view, rules, today))
    return Standing(
        garage=garage,
        people=reachable(view, garage),
        outlooks=outlooks,
        work=view.work(),
        bookings=view.bookings(),
        visits=view.bay_visits(),
        sheets=_sheets(view, now),
        calendars=view.calendars(),
    )


def _sheets(view: ReadView, now: datetime) -> dict[tuple[str, int], int]:
    """Sheets of visits that are not over."""
    marks = sorted({visit.mark for visit in view.bay_visits() if visit.takes_place and visit.free_at > now})
    return sheets_by_visit(view.orders(marks)) if marks else {}


def reachable(view: ReadView, garage: Garage) -> tuple[Person, ...]:
    """The people who have a mail address. Who lives in a zone that this machine does not know goes by the garage's."""
    return tuple(_in_known_zone(person, garage) for person in view.people() if person.mail)


def _in_known_zone(person: Person, garage: Garage) -> Person:
    try:
        zone_of(person)
    except BadInput:
        # One zone that a newer list of zones has dropped must not keep everybody's letters.
        return replace(person, zone=garage.zone)
    return person


def write_garage_letter(store: Store, rules: Rules, desk: Desk, person: str, *, now: datetime) -> Letter | None:
    """The garage letter this person would get now, whatever the day; None if nothing concerns them. Raises NotFound.

    Nothing is stored: its links are samples that open nothing.
    """
    with store.read() as view:
        if view.garage() is None:
            return None
        reader = person_called(view.people(), person)
        wanted = Wanted(reader, LetterKind.GARAGE, garage_letter_period(reader, now) or _by_hand(now))
        return composed(view, desk, standing_in(view, rules, now), wanted, now)[0]


def garage_message(store: Store, rules: Rules, desk: Desk, person: str, *, now: datetime) -> bytes | None:
    """The bytes of this person's garage letter of this week; None if nothing concerns them. Raises NotFound, BadInput.

    Once decided, they are the very bytes that lie in the ledger, whether they were sent already or wait. Before that
    they are what would be written now, but for the keys in its links, which are drawn when it is.
    """
    with store.read() as view:
        if view.garage() is None:
            return None
        reader = person_called(view.people(), person)
        period = garage_letter_period(reader, now) or _by_hand(now)
        there = view.delivery(reader.key, LetterKind.GARAGE, period)
        if there is not None and there.raw:
            return there.raw
        wanted = Wanted(reader, LetterKind.GARAGE, period)
        delivery: Delivery = composed(view, desk, standing_in(view, rules, now), wanted, now)[1]
    if delivery.state is DeliveryState.FAILED:
        raise BadInput(delivery.last_answer)
    return delivery.raw or None


def send_garage_letter(store: Store, rules: Rules, desk: Desk, person: str, *, now: datetime) -> bool:
    """Writes this person's garage letter now, by hand, beside the weekly ones; False if nothing concerns them.

    Raises NotFound, and BadInput if there is no address to send it to.
    """
    with store.write(Change("command", "garage letter asked for", now)) as unit:
        garage = unit.garage()
        reader = person_called(unit.people(), person)
        if not reader.mail:
            raise BadInput(
                saying("{name} has no mail address.", name=reader.name), remedy="Bring one in with people.toml."
            )
        if garage is None:
            return False
        wanted = Wanted(reader, LetterKind.GARAGE, _by_hand(now))
        return write_letter(unit, desk, standing_in(unit, rules, now), wanted, now) == 1


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
            write_letter(unit, desk, Standing(garage, (person,)), Wanted(person, LetterKind.COME_IN, period), now)


def stop_letters(store: Store, key: str, *, now: datetime) -> bool:
    """Ends the letters that come by themselves to whom a stop key belongs; False if the key opens nothing.

    Twice is harmless.
    """
    with store.write(Change("link", "letters stopped", now)) as unit:
        found = unit.key(key_hash(key))
        person = next((p for p in unit.people() if found is not None and p.key == found.person), None)
        if found is None or person is None or not found.opens(Purpose.STOP_LETTERS, now):
            return False
        if person.letter_weekday is not None:
            unit.put_person(replace(person, letter_weekday=None))
            unit.log_change(person.key, "garage letter", "weekly", "stopped by its reader")
        return True


def _weekly(view: ReadView, people: Iterable[Person], now: datetime) -> list[Wanted]:
    """Garage letters of this week that are not decided yet."""
    found = []
    # A letter of this week was decided this week; the few rows before save one question for each person.
    known = periods_known(view.letter_places(kinds=(LetterKind.GARAGE,), since=now - THIS_WEEK))
    for person in people:
        period = garage_letter_period(person, now)
        if period is None or (person.key, LetterKind.GARAGE, period) in known:
            continue
        if view.delivery(person.key, LetterKind.GARAGE, period) is None:
            found.append(Wanted(person, LetterKind.GARAGE, period))
    return found


def _about_lost_letters(
    view: ReadView, garage: Garage, people: tuple[Person, ...], now: datetime
) -> tuple[Wanted, ...]:
    since = now - LEDGER_LOOKS_BACK
    lost = view.letter_places(states=(DeliveryState.FAILED, DeliveryState.EXPIRED), since=since)
    if not lost:
        return ()
    told = periods_known(view.letter_places(kinds=(LetterKind.NOT_DELIVERED,), since=since))
    return lost_letters_due(garage=garage, people=people, lost=lost, ledger=told, now=now)


def _by_hand(now: datetime) -> str:
    return f"by hand {now:%Y-%m-%dT%H:%M:%SZ}"
