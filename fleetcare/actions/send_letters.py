"""Hands letters that are due to the mailer, one lease and one commit for each."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from fleetcare.actions.ports import Change, Mailer, Store
from fleetcare.clock import Clock
from fleetcare.digest.values import Delivery, DeliveryState
from fleetcare.errors import DeliveryFailed

LEASE = timedelta(minutes=10)
"""Longer than the longest time a mail server is waited for; after it a letter of a dead process is taken over."""
FIRST_WAIT = timedelta(minutes=1)
LONGEST_WAIT = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Sent:
    """How a batch went."""

    sent: int
    failed: int
    put_off: int
    expired: int


def send_due_letters(store: Store, mailer: Mailer, clock: Clock) -> Sent:
    """Sends what is due now. A refusal for good ends that letter alone; anything else is tried again later."""
    counts = dict.fromkeys(("sent", "failed", "put_off", "expired"), 0)
    try:
        for waiting in _due(store, clock.now()):
            outcome = _send_one(store, mailer, clock, waiting)
            if outcome is not None:
                counts[outcome] += 1
    finally:
        mailer.finish()
    return Sent(**counts)


def _due(store: Store, now: datetime) -> tuple[Delivery, ...]:
    with store.read() as view:
        waiting = view.deliveries(DeliveryState.DUE) + view.deliveries(DeliveryState.LEASED)
    return tuple(
        each
        for each in waiting
        if (each.next_try_at is None or each.next_try_at <= now)
        and (each.leased_until is None or each.leased_until <= now)
    )


def _send_one(store: Store, mailer: Mailer, clock: Clock, waiting: Delivery) -> str | None:
    if waiting.id is None:
        return None
    now = clock.now()
    with store.write(Change("timetable", "letter leased", now)) as unit:
        taken = unit.lease_delivery(waiting.id, now, now + LEASE)
    if taken is None:
        return None
    if now >= taken.expires_at:
        _settle(store, clock, taken, DeliveryState.EXPIRED, taken.last_answer or "its time was over")
        return "expired"
    try:
        answer = mailer.send(taken.raw, taken.to_mail)
    except DeliveryFailed as failure:
        if failure.permanent:
            _settle(store, clock, taken, DeliveryState.FAILED, failure.answer)
            return "failed"
        _put_off(store, clock, taken, failure.answer)
        return "put_off"
    _settle(store, clock, taken, DeliveryState.SENT, answer)
    return "sent"


def _settle(store: Store, clock: Clock, letter: Delivery, state: DeliveryState, answer: str) -> None:
    now = clock.now()
    with store.write(Change("timetable", f"letter {state.value}", now)) as unit:
        unit.set_delivery(
            replace(
                letter,
                state=state,
                tries=letter.tries + (state is not DeliveryState.EXPIRED),
                next_try_at=None,
                leased_until=None,
                last_answer=answer,
                sent_at=now if state is DeliveryState.SENT else None,
            )
        )
        unit.log_change(letter.person, "letter", letter.subject, f"{state.value}: {answer}")


def _put_off(store: Store, clock: Clock, letter: Delivery, answer: str) -> None:
    now = clock.now()
    # Doubles with each try. Letters of one batch are spread by their id, so that a server that comes back is not
    # met by all of them at once; the spread is not drawn by chance, so that a run can be repeated.
    wait = min(FIRST_WAIT * 2 ** min(letter.tries, 10), LONGEST_WAIT) + timedelta(seconds=(letter.id or 0) % 20)
    with store.write(Change("timetable", "letter put off", now)) as unit:
        unit.set_delivery(
            replace(
                letter,
                state=DeliveryState.DUE,
                tries=letter.tries + 1,
                next_try_at=now + wait,
                leased_until=None,
                last_answer=answer,
            )
        )
