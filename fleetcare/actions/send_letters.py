"""Hands letters that are due to the mailer, one lease and one commit for each."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from fleetcare.actions.ports import Change, Mailer, Store
from fleetcare.clock import Clock
from fleetcare.digest.values import DeliveryState, LetterPlace
from fleetcare.errors import DeliveryFailed

LEASE = timedelta(minutes=10)
"""Longer than the longest time a mail server is waited for; after it a letter of a dead process is taken over."""
FIRST_WAIT = timedelta(minutes=1)
LONGEST_WAIT = timedelta(minutes=12)
"""With its spread and the time until the next wake it stays under a quarter of an hour: so soon after a server works
again everything that waited is with it."""
LONGEST_WAIT_LATER = timedelta(hours=1)
"""For a letter that the server has refused for a day, while it took others."""
PATIENT_AFTER = timedelta(days=1)
SPREAD = 0.1
"""Part of a wait by which letters are spread."""
_WAITING = (DeliveryState.DUE, DeliveryState.LEASED)


@dataclass(frozen=True, slots=True)
class Sent:
    """How a batch went. server_away: it was broken off, because the server would have taken no other letter either."""

    sent: int
    failed: int
    put_off: int
    expired: int
    server_away: bool = False


def send_due_letters(store: Store, mailer: Mailer, clock: Clock, *, lease: timedelta = LEASE) -> Sent:
    """Sends what is due now, oldest first. A refusal for good ends that letter alone; anything else is tried again.

    A server that is away ends the batch: the letter that met it waits longer and longer, the next wake tries another.
    Letters are read one at a time, so a large batch takes no more memory than a small one. Two senders may run at the
    same time; a letter that one has leased is not the other's, and what a sender says of a letter whose lease it has
    lost is not written down, unless the letter was accepted.
    lease: longer than the mailer may take for one letter.
    """
    counts = dict.fromkeys(("sent", "failed", "put_off", "expired"), 0)
    away = False
    try:
        for number in _due(store, clock.now(), lease):
            outcome, away = _send_one(store, mailer, clock, number, lease)
            if outcome:
                counts[outcome] += 1
            if away:
                break
    finally:
        mailer.finish()
    return Sent(**counts, server_away=away)


def wait_after(letter: LetterPlace, *, now: datetime) -> timedelta:
    """How long a letter waits that was not taken after so many tries: doubling from a minute, spread by a tenth.

    The spread is derived from the letter's own key and the try, not drawn: letters of one batch do not come back at the
    same moment, and a run can be repeated.
    """
    longest = LONGEST_WAIT_LATER if now - letter.decided_at >= PATIENT_AFTER else LONGEST_WAIT
    wait = min(FIRST_WAIT * (1 << min(letter.tries, 10)), longest)
    drawn = hashlib.sha256(f"{letter.message_id} {letter.tries}".encode("utf-8", "surrogatepass")).digest()
    return wait * (1 + SPREAD * int.from_bytes(drawn[:4], "big") / (1 << 32))


def _due(store: Store, now: datetime, lease: timedelta) -> tuple[int, ...]:
    """Ids of the letters to be tried now."""
    with store.read() as view:
        waiting = view.letter_places(states=_WAITING)
    if any(_is_beyond(each, now, lease) for each in waiting):
        _mend(store, now, lease)
        with store.read() as view:
            waiting = view.letter_places(states=_WAITING)
    return tuple(
        each.id
        for each in waiting
        if (each.next_try_at is None or each.next_try_at <= now)
        and (each.leased_until is None or each.leased_until <= now)
    )


def _is_beyond(letter: LetterPlace, now: datetime, lease: timedelta) -> bool:
    """True if it waits for a moment further away than any wait: the clock was set back since."""
    ends = now + LONGEST_WAIT_LATER * (1 + SPREAD)
    return (letter.next_try_at or now) > ends or (letter.leased_until or now) > now + lease


def _mend(store: Store, now: datetime, lease: timedelta) -> None:
    """Letters that wait for a moment of a clock that was set back since wait as long as they would by this one."""
    with store.write(Change("timetable", "the clock was set back", now)) as unit:
        for each in unit.letter_places(states=_WAITING):
            if _is_beyond(each, now, lease):
                # A lease is cut to its usual length and not ended: its holder may be sending at this very moment.
                held = None if each.leased_until is None else min(each.leased_until, now + lease)
                wait = now if each.state is DeliveryState.DUE else None
                unit.set_delivery(replace(each, next_try_at=wait, leased_until=held))


def _send_one(store: Store, mailer: Mailer, clock: Clock, number: int, lease: timedelta) -> tuple[str, bool]:
    """What became of one letter, nothing if another sender has it; and whether the server is away."""
    now = clock.now()
    with store.write(Change("timetable", "letter leased", now)) as unit:
        taken = unit.lease_delivery(number, now, now + lease)
    if taken is None:
        return "", False
    raw, letter = taken.raw, taken.place
    held_until = now + lease
    if now >= letter.expires_at:
        _settle(store, clock, letter, held_until, DeliveryState.EXPIRED, letter.last_answer or "its time was over")
        return "expired", False
    try:
        answer = mailer.send(raw, letter.to_mail)
    except DeliveryFailed as failure:
        if failure.permanent:
            _settle(store, clock, letter, held_until, DeliveryState.FAILED, failure.answer)
            return "failed", False
        _put_off(store, clock, letter, held_until, failure.answer)
        return "put_off", failure.server_away
    # Nothing may come between the server's answer and this: a process that dies here sends the letter twice.
    _settle(store, clock, letter, held_until, DeliveryState.SENT, answer)
    return "sent", False


def _settle(
    store: Store, clock: Clock, letter: LetterPlace, held_until: datetime, state: DeliveryState, answer: str
) -> None:
    now = clock.now()
    settled = replace(
        letter,
        state=state,
        tries=letter.tries + (state is not DeliveryState.EXPIRED),
        next_try_at=None,
        leased_until=None,
        last_answer=answer,
        sent_at=now if state is DeliveryState.SENT else None,
    )
    with store.write(Change("timetable", f"letter {state.value}", now)) as unit:
        if state is DeliveryState.SENT:
            unit.set_delivery(settled)  # true whoever holds the lease by now
        elif not unit.end_lease(settled, held_until):
            return
        unit.log_change(letter.person, "letter", letter.subject, f"{state.value}: {answer}")


def _put_off(store: Store, clock: Clock, letter: LetterPlace, held_until: datetime, answer: str) -> None:
    now = clock.now()
    with store.write(Change("timetable", "letter put off", now)) as unit:
        unit.end_lease(
            replace(
                letter,
                state=DeliveryState.DUE,
                tries=letter.tries + 1,
                next_try_at=now + wait_after(letter, now=now),
                leased_until=None,
                last_answer=answer,
            ),
            held_until,
        )
