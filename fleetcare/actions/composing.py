"""One letter composed, put into its envelope and written into the ledger, in the transaction that decided it.

Not an action: it is how every action writes letters.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from fleetcare.actions.ports import Composer, ReadView, WriteUnit
from fleetcare.chance import KeyMaker, in_small_letters, key_hash
from fleetcare.digest.answer_letter import answer_letter
from fleetcare.digest.bay_day import bay_day_letter, bay_day_moved_letter
from fleetcare.digest.bay_visits import bay_days_of
from fleetcare.digest.concerns import ServiceAhead, services_ahead
from fleetcare.digest.letters import come_in_letter, garage_letter
from fleetcare.digest.letters_due import LEDGER_LOOKS_BACK, Wanted, missed_sentence, who_reads
from fleetcare.digest.moments import zone_of
from fleetcare.digest.notices import finding_letter, not_delivered_letter, past_late_letter
from fleetcare.digest.reading_letters import reading_again_letter, reading_letter, reading_missing_letter
from fleetcare.digest.schedule import expires_at
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
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.busy import CalendarSource
from fleetcare.fleet.calendar_trouble import concerns, trouble_sentence, troubled
from fleetcare.fleet.naming import marks_of
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.reply_address import ReplyAddresses
from fleetcare.language import Tongues, speaking
from fleetcare.language.measure import measuring
from fleetcare.work.record import WorkDone

SAMPLE_KEY = "sample-key".ljust(43, "-")
"""Stands in letters that are only shown: as long as a real one, and opens nothing."""


@dataclass(frozen=True, slots=True)
class Desk:
    """What letters are written with."""

    keys: KeyMaker
    composer: Composer
    base_url: str
    replies: ReplyAddresses | None = None
    """Where answers to reading requests are taken by mail; None: nowhere."""
    tongues: Tongues = field(default_factory=Tongues)


@dataclass(frozen=True, slots=True)
class Standing:
    """Where the garage stands, read once for many letters. people: those with a mail address."""

    garage: Garage
    people: tuple[Person, ...]
    outlooks: tuple[VehicleOutlook, ...] = ()
    work: tuple[WorkDone, ...] = ()
    bookings: tuple[Booking, ...] = ()
    visits: tuple[BayVisit, ...] = ()
    sheets: Mapping[tuple[str, int], int] = field(default_factory=dict)
    """Numbers of job sheets by the visit they were made from."""
    calendars: tuple[CalendarSource, ...] = ()
    _ahead: dict[date, tuple[ServiceAhead, ...]] = field(default_factory=dict)

    def ahead(self, today: date) -> tuple[ServiceAhead, ...]:
        """The services ahead on that day, most urgent first; worked out once for all who live on the same day."""
        if today not in self._ahead:
            self._ahead[today] = services_ahead(self.outlooks, today)
        return self._ahead[today]


def write_letter(unit: WriteUnit, desk: Desk, standing: Standing, wanted: Wanted, now: datetime) -> int:
    """Composes one letter and stores it as due; a letter with nothing in it is stored as settled. 1 if one is due.

    A letter whose place in the ledger is taken already is neither composed nor stored.
    """
    person = wanted.person
    if unit.delivery(person.key, wanted.kind, wanted.period) is not None:
        return 0
    letter, delivery = composed(unit, desk, standing, wanted, now, unit)
    if not unit.add_delivery(delivery):
        return 0
    for period in wanted.with_it:
        unit.add_delivery(_told_with(desk, standing.garage, delivery, period, now))
    what = delivery.last_answer or ("nothing to say" if letter is None else "written")
    unit.log_change(person.key, "letter", "", f"{wanted.kind.value} {wanted.period}: {what}")
    return 1 if delivery.state is DeliveryState.DUE else 0


def composed(
    view: ReadView, desk: Desk, standing: Standing, wanted: Wanted, now: datetime, unit: WriteUnit | None = None
) -> tuple[Letter | None, Delivery]:
    """The letter (None if there is nothing to say) and its row.

    unit: keeps the keys in its links; without it the letter is only shown, with keys that open nothing.
    """
    person, garage = wanted.person, standing.garage
    message_id = desk.composer.message_id(person.key, wanted.kind, wanted.period, garage.id)
    letter, raw, trouble = None, b"", ""
    try:
        ends = expires_at(wanted.kind, person, now, wanted.notice)
        with speaking(desk.tongues.to(person.language)), measuring(person.unit):
            letter = _compose(view, desk, standing, wanted, now, unit)
        raw = b"" if letter is None else desk.composer.raw(letter, message_id=message_id, date=now)
    except BadInput as bad:
        # One address that cannot stand in a header must not keep anybody else's letter.
        trouble, ends = str(bad), now
    state = DeliveryState.FAILED if trouble else DeliveryState.DUE if letter is not None else DeliveryState.NOTHING
    return letter, Delivery(
        person=person.key,
        kind=wanted.kind,
        period=wanted.period,
        message_id=message_id,
        subject="" if letter is None else letter.subject,
        to_mail=person.mail,
        raw=raw,
        decided_at=now,
        expires_at=ends,
        state=state,
        last_answer=trouble,
    )


def _told_with(desk: Desk, garage: Garage, first: Delivery, period: str, now: datetime) -> Delivery:
    """The row of something that another letter tells."""
    return Delivery(
        person=first.person,
        kind=first.kind,
        period=period,
        message_id=desk.composer.message_id(first.person, first.kind, period, garage.id),
        subject=first.subject,
        to_mail=first.to_mail,
        raw=b"",
        decided_at=now,
        expires_at=first.expires_at,
        state=DeliveryState.NOTHING,
        last_answer=f"told in the letter about {first.period}",
    )


def marks_to_read(person: Person, standing: Standing) -> tuple[str, ...]:
    """Marks of the vehicles whose reading is asked of this person."""
    people = {each.key: each for each in standing.people}
    return tuple(
        outlook.vehicle.mark
        for outlook in standing.outlooks
        if outlook.wanted is not None and person in who_reads(outlook.vehicle, standing.garage, people)
    )


def _compose(
    view: ReadView, desk: Desk, standing: Standing, wanted: Wanted, now: datetime, unit: WriteUnit | None
) -> Letter | None:
    person, garage = wanted.person, standing.garage
    today = now.astimezone(zone_of(person)).date()
    if wanted.kind is LetterKind.COME_IN:
        link = _new_link(unit, desk, Purpose.SIGN_IN, person, "", now, SIGN_IN_TIME)
        return come_in_letter(garage=garage, person=person, link=link, until=now + SIGN_IN_TIME)
    if wanted.kind is LetterKind.NOT_DELIVERED:
        names = {each.key: each.name for each in standing.people}
        return not_delivered_letter(
            garage=garage, person=person, lost=wanted.lost, names=names, today=today, base_url=desk.base_url
        )
    if wanted.kind is LetterKind.GARAGE:
        before = view.letter_places(people=(person.key,), since=now - LEDGER_LOOKS_BACK)
        missed = missed_sentence(person, wanted.period, before, today)
        zone = ZoneInfo(garage.zone)
        unread = [each for each in troubled(standing.calendars, for_long=True) if concerns(each, person, garage)]
        told = " ".join(filter(None, (missed, *(trouble_sentence(each, zone, today) for each in unread))))
        return _garage_letter(unit, desk, standing, person, now, today, told)
    return _about_vehicles(unit, desk, garage, wanted, now, today)


def _garage_letter(
    unit: WriteUnit | None, desk: Desk, standing: Standing, person: Person, now: datetime, today: date, missed: str
) -> Letter | None:
    return garage_letter(
        garage=standing.garage,
        person=person,
        outlooks=standing.outlooks,
        kept=marks_of(person, tuple(each.vehicle for each in standing.outlooks)),
        work=standing.work,
        bookings=standing.bookings,
        today=today,
        base_url=desk.base_url,
        reading_links={
            mark: _new_link(unit, desk, Purpose.ODOMETER, person, mark, now, LETTER_LINK_TIME)
            for mark in marks_to_read(person, standing)
        },
        link_until=today + LETTER_LINK_TIME,
        stop_url=_stop_link(unit, desk, person, now),
        change_url=f"{desk.base_url}/letters",
        missed=missed,
        ahead=standing.ahead(today),
        bay_days=bay_days_of(
            person,
            standing.visits,
            {outlook.vehicle.mark: outlook for outlook in standing.outlooks},
            zone=ZoneInfo(standing.garage.zone),
            now=now,
            sheets=standing.sheets,
        ),
    )


def _about_vehicles(
    unit: WriteUnit | None, desk: Desk, garage: Garage, wanted: Wanted, now: datetime, today: date
) -> Letter:
    person, base_url = wanted.person, desk.base_url
    stop_url = _stop_link(unit, desk, person, now)
    if wanted.kind is LetterKind.PAST_LATE:
        return past_late_letter(
            garage=garage,
            person=person,
            services=wanted.services,
            today=today,
            base_url=base_url,
            stop_url=stop_url,
        )
    if wanted.notice is not None:
        tell = bay_day_moved_letter if wanted.kind is LetterKind.BAY_DAY_MOVED else bay_day_letter
        return tell(
            garage=garage, person=person, notice=wanted.notice, today=today, base_url=base_url, stop_url=stop_url
        )
    if wanted.answer is not None:
        mark = wanted.answer.vehicle.mark
        has_link = wanted.answer.has_link
        return answer_letter(
            garage=garage,
            person=person,
            news=wanted.answer,
            link=_new_link(unit, desk, Purpose.ODOMETER, person, mark, now, LETTER_LINK_TIME) if has_link else "",
            link_until=today + LETTER_LINK_TIME,
            base_url=base_url,
            today=today,
        )
    outlook = wanted.outlook
    assert outlook is not None  # whoever decides on these letters names the vehicle
    if wanted.kind is LetterKind.FINDING:
        return finding_letter(
            garage=garage,
            person=person,
            outlook=outlook,
            findings=wanted.findings,
            by="".join(wanted.names),
            today=today,
            base_url=base_url,
            stop_url=stop_url,
        )
    link = _new_link(unit, desk, Purpose.ODOMETER, person, outlook.vehicle.mark, now, LETTER_LINK_TIME)
    link_until = today + LETTER_LINK_TIME
    reply_to = _reply_address(unit, desk, person, outlook, now)
    if wanted.kind is LetterKind.READING_MISSING:
        return reading_missing_letter(
            garage=garage,
            person=person,
            outlook=outlook,
            asked=wanted.names,
            link=link,
            link_until=link_until,
            base_url=base_url,
            stop_url=stop_url,
            today=today,
            reply_to=reply_to,
        )
    ask = reading_again_letter if wanted.kind is LetterKind.READING_AGAIN else reading_letter
    return ask(
        garage=garage,
        person=person,
        outlook=outlook,
        link=link,
        link_until=link_until,
        base_url=base_url,
        stop_url=stop_url,
        today=today,
        reply_to=reply_to,
    )


def _stop_link(unit: WriteUnit | None, desk: Desk, person: Person, now: datetime) -> str:
    return _new_link(unit, desk, Purpose.STOP_LETTERS, person, "", now, STOP_TIME)


def _reply_address(unit: WriteUnit | None, desk: Desk, person: Person, outlook: VehicleOutlook, now: datetime) -> str:
    """Where an answer with the figure goes to; empty if answers by mail are not taken."""
    if desk.replies is None:
        return ""
    if unit is None:
        return desk.replies.address(in_small_letters(SAMPLE_KEY))
    secret = in_small_letters(desk.keys.new_key())
    meter = "" if outlook.wanted is None else outlook.wanted.meter
    ends = now + LETTER_LINK_TIME
    unit.put_key(AccessKey(key_hash(secret), Purpose.REPLY, person.key, outlook.vehicle.mark, now, ends, name=meter))
    return desk.replies.address(secret)


def _new_link(
    unit: WriteUnit | None, desk: Desk, purpose: Purpose, person: Person, mark: str, now: datetime, lasts: timedelta
) -> str:
    if unit is None:
        return link_address(desk.base_url, purpose, SAMPLE_KEY)
    secret = desk.keys.new_key()
    unit.put_key(AccessKey(key_hash(secret), purpose, person.key, mark, now, now + lasts))
    return link_address(desk.base_url, purpose, secret)


def in_stretches(wanted: Sequence[Wanted], most: int) -> list[Sequence[Wanted]]:
    """The letters in stretches of so many, in order."""
    return [wanted[start : start + most] for start in range(0, len(wanted), most)]
