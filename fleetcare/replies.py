"""Readings that come as answers by mail: from the mailbox, by the same grammar and the same screen as at every door."""

from __future__ import annotations

import json
import logging
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from fleetcare.actions.links import Opened, open_key
from fleetcare.actions.ports import PostedMail
from fleetcare.actions.receipts import Answer, Once
from fleetcare.actions.record_reading import Given, Recorded, record_reading
from fleetcare.actions.tell_about_answer import tell_about_answer
from fleetcare.assemble import Parts
from fleetcare.chance import key_hash
from fleetcare.digest.answer_letter import AnswerFate
from fleetcare.errors import BadInput, NotAllowed, NotFound
from fleetcare.fleet.access import Purpose
from fleetcare.intake.numbers import parse_dial
from fleetcare.mail_in.answer import MailedAnswer, read_answer
from fleetcare.meter.doubt import held_because
from fleetcare.meter.reading import Door, ReadingState
from fleetcare.quantities import MeterUnit
from fleetcare.store.sentences import kept_text, told_again

LONGEST_SAID = 40

log = logging.getLogger(__name__)


@dataclass
class RepliesTaken:
    """How many answers of one round were stored, how many told about, and how many passed over."""

    stored: int = 0
    told: int = 0
    passed_over: int = 0


@dataclass(frozen=True, slots=True)
class _Figure:
    said: str
    value: Decimal
    unit: MeterUnit | None


def take_replies(parts: Parts) -> RepliesTaken:
    """Takes what waits in the mailbox; nothing if none is set.

    A mail is marked as read after all that it leads to is on the disk. If the process dies before, it is taken again,
    and its receipt and the ledger of letters see to it that it counts once. Raises MailboxTrouble, StoreTrouble.
    """
    taken = RepliesTaken()
    mailbox, addresses = parts.mailbox, parts.reply_addresses
    if mailbox is None or addresses is None:
        return taken
    with mailbox.opened() as box:
        for mail in box.waiting():
            _take(parts, read_answer(mail.raw, addresses), mail, taken)
            box.mark_seen(mail)
    return taken


def _take(parts: Parts, answer: MailedAnswer, mail: PostedMail, taken: RepliesTaken) -> None:
    if answer.is_automatic:
        taken.passed_over += 1
        return
    now = parts.clock.now()

    def tell(fate: AnswerFate, said: str = "", why: str = "") -> None:
        is_new = tell_about_answer(
            parts.store, parts.desk, key=answer.key, name=answer.name, fate=fate, said=said, why=why, now=now
        )
        taken.told += is_new
        taken.passed_over += not is_new

    try:
        opened = open_key(parts.store, answer.key, Purpose.REPLY, now=now)
    except NotAllowed:
        tell(AnswerFate.TOO_LATE)
        return
    figure = _figure_in(answer)
    if figure is None:
        tell(AnswerFate.UNCLEAR)
        return
    said = figure.said[:LONGEST_SAID]
    try:
        came = _recorded(parts, opened, answer, figure, _day(mail.arrived_at, now, opened), now)
    except (BadInput, NotFound) as bad:
        tell(AnswerFate.REFUSED, said, getattr(bad, "what", "") or bad.said)
        return
    taken.stored += 1
    kept = json.loads(came.body)
    if kept["held"] is not None:
        # What an earlier version kept has its English alone.
        tell(AnswerFate.HELD, said, told_again(kept["held"], kept.get("said", "")))


def _recorded(parts: Parts, opened: Opened, answer: MailedAnswer, figure: _Figure, on: date, now: datetime) -> Answer:
    assert opened.vehicle is not None  # every reply key is for one
    # The same mail is the same however often it comes; another one is another even where a program names both alike.
    told_apart = key_hash(f"{Door.MAIL}\n{answer.key}\n{answer.name}\n{figure.value} {figure.unit}")
    given = Given(
        vehicle=opened.vehicle.mark,
        value=figure.value,
        by=opened.key.person,
        door=Door.MAIL,
        on=on,
        unit=figure.unit,
        meter=_meter(opened, figure.unit),
        hold=True,
    )
    came = record_reading(
        parts.store,
        parts.rules,
        given,
        now=now,
        base_url=parts.base_url,
        once=Once(told_apart, told_apart, _kept_answer),
    )
    assert isinstance(came, Answer)  # nothing is asked back where it is held
    return came


def _kept_answer(recorded: Recorded) -> Answer:
    """Why the reading is held, or null: it is told the same if the process dies before it is told."""
    held = recorded.reading.state is ReadingState.HELD
    why = recorded.doubt.said(recorded.vehicle.unit) if recorded.doubt else held_because(recorded.reading.note)
    return Answer(201, json.dumps({"held": why if held else None, "said": kept_text(why) if held else ""}).encode())


def _meter(opened: Opened, unit: MeterUnit | None) -> str:
    """The meter that was asked about, unless the unit says that another one was read."""
    assert opened.vehicle is not None
    asked = next((each for each in opened.vehicle.meters if each.key == opened.key.name), None)
    if asked is None or (unit is not None and (unit is MeterUnit.HOURS) != (asked.unit is MeterUnit.HOURS)):
        return ""
    return asked.key


def _figure_in(answer: MailedAnswer) -> _Figure | None:
    """The figure in the first line that was typed; else the only one that stands alone in a line; else None."""
    for lines in answer.said:
        figures = [_figure(line) for line in lines]
        if figures[0] is not None:
            return figures[0]
        found = {(each.value, each.unit): each for each in figures if each is not None}
        if found:
            return next(iter(found.values())) if len(found) == 1 else None
    return None


def _figure(line: str) -> _Figure | None:
    try:
        value, unit = parse_dial(line)
    except BadInput:
        return None
    return _Figure(line, value, unit)


def _day(arrived_at: datetime | None, now: datetime, opened: Opened) -> date:
    """The day in the garage on which the mail arrived: a mailbox that was not read for days changes nothing."""
    at = now if arrived_at is None else min(arrived_at, now)
    return max(at, opened.key.made_at).astimezone(ZoneInfo(opened.garage.zone)).date()
