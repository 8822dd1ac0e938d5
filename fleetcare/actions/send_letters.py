"""Hands letters that are due to the mailer, one lease and one commit for each."""

from __future__ import annotations

import hashlib
from collections import deque
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from fleetcare.actions.ports import Change, Mailer, Store, WriteUnit
from fleetcare.clock import Clock, monotonic_s
from fleetcare.digest.values import Delivery, DeliveryState, LetterPlace
from fleetcare.errors import DeliveryFailed, StoreBusy

LEASE = timedelta(minutes=10)
"""Longer than the longest time a mail server is waited for; after it a letter of a dead process is taken over."""
FIRST_WAIT = timedelta(minutes=1)
LONGEST_WAIT = timedelta(minutes=10)
"""With its spread and the time until the next wake it stays under a quarter of an hour: so soon after a server works
again everything that waited is with it."""
LONGEST_WAIT_LATER = timedelta(hours=1)
"""For a letter that the server has refused for a day, while it took others."""
PATIENT_AFTER = timedelta(days=1)
SPREAD = 0.1
"""Part of a wait by which letters are spread."""
SYNC_AFTER_S = 0.05
_WAITING = (DeliveryState.DUE, DeliveryState.LEASED)
_WHYS = {DeliveryState.DUE: "put off"}
_COUNTED = {
    DeliveryState.SENT: "sent",
    DeliveryState.FAILED: "failed",
    DeliveryState.DUE: "put_off",
    DeliveryState.EXPIRED: "expired",
}


@dataclass(frozen=True, slots=True)
class Sent:
    """How a batch went. server_away: it was broken off, because the server would have taken no other letter either."""

    sent: int
    failed: int
    put_off: int
    expired: int
    server_away: bool = False


@dataclass(frozen=True, slots=True)
class _Waiting:
    """A letter that is due: its id, and for whom it is."""

    number: int
    to_mail: str


@dataclass(frozen=True, slots=True)
class _Outcome:
    """What became of one letter that was leased until then; still to be written down."""

    letter: LetterPlace
    held_until: datetime
    state: DeliveryState
    """DUE: not taken now, to be tried again."""
    answer: str


def send_due_letters(store: Store, mailer: Mailer, clock: Clock, *, lease: timedelta = LEASE) -> Sent:
    """Sends what is due now, oldest first. A refusal for good ends that letter alone; anything else is tried again.

    A server that is away ends the batch: the letter that met it waits longer and longer, the next wake tries another.
    Letters are read one at a time, so a large batch takes no more memory than a small one. Two senders may run at the
    same time; a letter that one has leased is not the other's, and what a sender says of a letter whose lease it has
    lost is not written down, unless the letter was accepted.
    What the server answered is committed at once, in one transaction with the lease of the next letter, and only then
    is that one handed over; so a process that dies sends one letter twice at most. Before its lease the mailer is told
    for whom the next letter is, so that it can make way for it meanwhile.
    The disk is waited for where a twentieth of a second has passed since it was last waited for, and at the end: more
    than that no power cut can undo.
    lease: longer than the mailer may take for one letter.
    """
    counts = dict.fromkeys(("sent", "failed", "put_off", "expired"), 0)
    waiting = deque(_due(store, clock.now(), lease))
    before: _Outcome | None = None
    away, is_alone, synced_at_s = False, True, monotonic_s()
    try:
        while before is not None or (waiting and not away):
            expected = waiting[0].number if waiting else None
            is_last = away or not waiting
            sync = is_last or monotonic_s() - synced_at_s >= SYNC_AFTER_S
            taken = _write(store, clock, before, deque() if away else waiting, lease, sync=sync)
            if sync:
                synced_at_s = monotonic_s()
            before = None
            if taken is not None:
                # Beside another sender the next letter may be that one's before its turn comes here.
                is_alone = is_alone and taken.id == expected
                following = waiting[0].to_mail if waiting and is_alone else None
                before, away = _hand_over(mailer, taken, clock, following)
                counts[_COUNTED[before.state]] += 1
    finally:
        mailer.finish()
    return Sent(**counts, server_away=away)


def _write(
    store: Store, clock: Clock, before: _Outcome | None, waiting: deque[_Waiting], lease: timedelta, *, sync: bool
) -> Delivery | None:
    """Writes down what became of one letter and leases the next of these that nobody else has; that one, or None."""
    try:
        return _written(store, clock, before, waiting, lease, sync=sync)
    except StoreBusy:
        if before is None or before.state is not DeliveryState.SENT:
            raise
        # It was accepted: unless that is written down it goes out a second time. The batch may end, this must not.
        _written(store, clock, before, deque(), lease, sync=True)
        raise


def _written(
    store: Store, clock: Clock, before: _Outcome | None, waiting: deque[_Waiting], lease: timedelta, *, sync: bool
) -> Delivery | None:
    now = clock.now()
    why = "letter leased" if before is None else f"letter {_WHYS.get(before.state, before.state.value)}"
    with store.write(Change("timetable", why, now), typed=sync) as unit:
        if before is not None:
            _note(unit, before, now)
        while waiting:
            taken = unit.lease_delivery(waiting.popleft().number, now, now + lease)
            if taken is not None:
                return taken
    return None


def _hand_over(mailer: Mailer, taken: Delivery, clock: Clock, following: str | None) -> tuple[_Outcome, bool]:
    """What became of one letter, and whether the server is away. following: for whom the next one probably is."""
    letter = taken.place
    held_until = letter.leased_until
    assert held_until is not None  # it was just leased

    def outcome(state: DeliveryState, answer: str) -> _Outcome:
        return _Outcome(letter, held_until, state, answer)

    if clock.now() >= letter.expires_at:
        return outcome(DeliveryState.EXPIRED, letter.last_answer or "its time was over"), False
    try:
        # Nothing may come between the answer to this and its commit: a process that dies there sends the letter twice.
        return outcome(DeliveryState.SENT, mailer.send(taken.raw, letter.to_mail, next_to_mail=following)), False
    except DeliveryFailed as failure:
        if failure.permanent:
            return outcome(DeliveryState.FAILED, failure.answer), False
        return outcome(DeliveryState.DUE, failure.answer), failure.server_away


def _note(unit: WriteUnit, outcome: _Outcome, now: datetime) -> None:
    letter, state = outcome.letter, outcome.state
    after = replace(
        letter,
        state=state,
        tries=letter.tries + (state is not DeliveryState.EXPIRED),
        next_try_at=now + wait_after(letter, now=now) if state is DeliveryState.DUE else None,
        leased_until=None,
        last_answer=outcome.answer,
        sent_at=now if state is DeliveryState.SENT else None,
    )
    if state is DeliveryState.SENT:
        unit.set_delivery(after)  # true whoever holds the lease by now
    elif not unit.end_lease(after, outcome.held_until):
        return
    if state is not DeliveryState.DUE:
        unit.log_change(letter.person, "letter", letter.subject, f"{state.value}: {outcome.answer}")


def wait_after(letter: LetterPlace, *, now: datetime) -> timedelta:
    """How long a letter waits that was not taken after so many tries: doubling from a minute, spread by a tenth.

    The spread is derived from the letter's own key and the try, not drawn: letters of one batch do not come back at the
    same moment, and a run can be repeated.
    """
    longest = LONGEST_WAIT_LATER if now - letter.decided_at >= PATIENT_AFTER else LONGEST_WAIT
    wait = min(FIRST_WAIT * (1 << min(letter.tries, 10)), longest)
    drawn = hashlib.sha256(f"{letter.message_id} {letter.tries}".encode("utf-8", "surrogatepass")).digest()
    return wait * (1 + SPREAD * int.from_bytes(drawn[:4], "big") / (1 << 32))


def _due(store: Store, now: datetime, lease: timedelta) -> tuple[_Waiting, ...]:
    """The letters to be tried now."""
    with store.read() as view:
        waiting = view.letter_places(states=_WAITING)
    if any(_is_beyond(each, now, lease) for each in waiting):
        _mend(store, now, lease)
        with store.read() as view:
            waiting = view.letter_places(states=_WAITING)
    return tuple(
        _Waiting(each.id, each.to_mail)
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
