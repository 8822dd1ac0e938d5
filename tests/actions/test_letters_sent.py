"""Letters are sent: each once, tried again with longer and longer waits, given up only where that was said."""

from __future__ import annotations

import threading
import time
from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from fleetcare.actions.ports import Change
from fleetcare.actions.send_letters import LEASE, LONGEST_WAIT, Sent, send_due_letters
from fleetcare.digest.values import Delivery, DeliveryState, LetterKind
from fleetcare.errors import DeliveryFailed
from tests.stand_ins import FixedClock, KeptLetters, MemoryStore

NOW = datetime(2026, 4, 14, 13, 0, tzinfo=UTC)
NAMES = ("anna", "berta", "cleo", "dag", "esi")


def mail_of(name: str) -> str:
    return f"{name}@garage.example"


def store_with(*names: str, lasts: timedelta = timedelta(days=7)) -> MemoryStore:
    """A store with one letter due to each."""
    store = MemoryStore()
    with store.write(Change("test", "letters due", NOW)) as unit:
        for name in names:
            letter = Delivery(
                person=name,
                kind=LetterKind.GARAGE,
                period="2026-W16",
                message_id=f"<{name}@garage.example>",
                subject="Garage letter",
                to_mail=mail_of(name),
                raw=f"To: {mail_of(name)}".encode(),
                decided_at=NOW,
                expires_at=NOW + lasts,
            )
            unit.add_delivery(letter)
    return store


def letter_to(store: MemoryStore, name: str) -> Delivery:
    with store.read() as view:
        return next(each for each in view.deliveries() if each.person == name)


def not_now(times: int) -> list[DeliveryFailed]:
    return [DeliveryFailed("451 try later", permanent=False) for _ in range(times)]


def test_what_is_due_is_sent_once_with_the_answer_and_the_moment_kept() -> None:
    store, mailer, clock = store_with(*NAMES), KeptLetters(), FixedClock(NOW)
    assert send_due_letters(store, mailer, clock) == Sent(5, 0, 0, 0)
    assert send_due_letters(store, mailer, clock) == Sent(0, 0, 0, 0)
    assert Counter(to for to, _ in mailer.sent) == {mail_of(name): 1 for name in NAMES}
    sent = letter_to(store, "anna")
    assert (sent.state, sent.tries, sent.sent_at, sent.leased_until) == (DeliveryState.SENT, 1, NOW, None)
    assert sent.last_answer == "250 kept as number 1"
    assert mailer.batches == 2, "each batch is closed"


def test_a_letter_not_taken_now_is_tried_again_with_doubling_waits_up_to_an_hour() -> None:
    store, clock = store_with("anna"), FixedClock(NOW)
    mailer = KeptLetters({mail_of("anna"): not_now(9)})
    waits = []
    for _ in range(9):
        assert send_due_letters(store, mailer, clock).put_off == 1
        letter = letter_to(store, "anna")
        assert letter.state is DeliveryState.DUE
        assert letter.next_try_at is not None
        waits.append(letter.next_try_at - clock.now())
        clock.set(letter.next_try_at - timedelta(seconds=1))
        assert send_due_letters(store, mailer, clock) == Sent(0, 0, 0, 0), "not before its time"
        clock.set(letter.next_try_at)
    spread = timedelta(seconds=1)  # by the id of the letter, 1
    minutes = [1, 2, 4, 8, 16, 32, 60, 60, 60]
    assert waits == [timedelta(minutes=m) + spread for m in minutes]
    assert max(waits) <= LONGEST_WAIT + timedelta(seconds=20)
    assert send_due_letters(store, mailer, clock).sent == 1
    assert letter_to(store, "anna").tries == 10


def test_a_refusal_for_good_ends_that_letter_with_its_answer() -> None:
    store, clock = store_with("anna"), FixedClock(NOW)
    mailer = KeptLetters({mail_of("anna"): [DeliveryFailed("550 no such mailbox", permanent=True)]})
    assert send_due_letters(store, mailer, clock) == Sent(0, 1, 0, 0)
    letter = letter_to(store, "anna")
    assert (letter.state, letter.last_answer) == (DeliveryState.FAILED, "550 no such mailbox")
    clock.move(timedelta(days=1))
    assert send_due_letters(store, mailer, clock) == Sent(0, 0, 0, 0)
    assert mailer.sent == []
    with store.read() as view:
        assert view.log("anna")[0].after == "failed: 550 no such mailbox"


@pytest.mark.parametrize("permanent", [True, False])
def test_one_of_five_that_fails_keeps_no_other_waiting(permanent: bool) -> None:
    store, clock = store_with(*NAMES), FixedClock(NOW)
    mailer = KeptLetters({mail_of("berta"): [DeliveryFailed("no", permanent=permanent)]})
    outcome = send_due_letters(store, mailer, clock)
    assert (outcome.sent, outcome.failed + outcome.put_off) == (4, 1)
    assert {to for to, _ in mailer.sent} == {mail_of(name) for name in NAMES if name != "berta"}


def test_a_letter_whose_time_is_over_is_not_sent_any_more() -> None:
    store, clock = store_with("anna", lasts=timedelta(hours=2)), FixedClock(NOW)
    mailer = KeptLetters({mail_of("anna"): not_now(1)})
    send_due_letters(store, mailer, clock)
    clock.move(timedelta(hours=2))
    assert send_due_letters(store, mailer, clock) == Sent(0, 0, 0, 1)
    letter = letter_to(store, "anna")
    assert (letter.state, letter.last_answer, letter.tries) == (DeliveryState.EXPIRED, "451 try later", 1)
    assert mailer.sent == []


def test_a_letter_of_a_dead_process_is_taken_over_when_its_lease_is_out() -> None:
    store, mailer, clock = store_with("anna"), KeptLetters(), FixedClock(NOW)
    with store.write(Change("another process", "letter leased", NOW)) as unit:
        assert unit.lease_delivery(1, NOW, NOW + LEASE) is not None
    clock.move(LEASE - timedelta(seconds=1))
    assert send_due_letters(store, mailer, clock).sent == 0
    clock.move(timedelta(seconds=1))
    assert send_due_letters(store, mailer, clock).sent == 1
    assert send_due_letters(store, mailer, clock).sent == 0


class Slow(KeptLetters):
    """A mail server that takes its time, so that two senders really meet."""

    def send(self, raw: bytes, to_mail: str) -> str:
        """As usual, a little later."""
        time.sleep(0.002)
        return super().send(raw, to_mail)


def test_two_senders_never_send_one_letter_twice() -> None:
    names = tuple(f"p{n:02}" for n in range(40))
    store, mailer, clock = store_with(*names), Slow(), FixedClock(NOW)
    gate = threading.Barrier(3)

    def send() -> None:
        gate.wait()
        send_due_letters(store, mailer, clock)

    threads = [threading.Thread(target=send) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert Counter(to for to, _ in mailer.sent) == {mail_of(name): 1 for name in names}
    assert {letter_to(store, name).state for name in names} == {DeliveryState.SENT}


def test_the_bytes_that_are_sent_are_those_that_were_decided() -> None:
    store, mailer = store_with("anna"), KeptLetters()
    with store.write(Change("test", "another body", NOW)) as unit:
        unit.set_delivery(replace(letter_to(store, "anna"), raw=b"something else", subject="Other"))
    send_due_letters(store, mailer, FixedClock(NOW))
    assert mailer.sent == [(mail_of("anna"), b"To: anna@garage.example")]
