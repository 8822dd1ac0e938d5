"""Letters are sent: each once, tried again with longer and longer waits, given up only where that was said."""

from __future__ import annotations

import threading
import time
from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from fleetcare.actions.ports import Change
from fleetcare.actions.send_letters import LEASE, SPREAD, Sent, send_due_letters
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


def test_a_letter_not_taken_now_is_tried_again_with_doubling_waits_of_ten_minutes_at_most() -> None:
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
    minutes = [1, 2, 4, 8, 10, 10, 10, 10, 10]
    for wait, least in zip(waits, minutes, strict=True):
        assert timedelta(minutes=least) <= wait <= timedelta(minutes=least) * (1 + SPREAD)
    assert len(set(waits[4:])) == 5, "spread anew with each try"
    assert max(waits) + timedelta(minutes=1) <= timedelta(minutes=12)
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

    def send(self, raw: bytes, to_mail: str, *, next_to_mail: str | None = None) -> str:
        """As usual, a little later."""
        time.sleep(0.002)
        return super().send(raw, to_mail, next_to_mail=next_to_mail)


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


def test_waits_are_spread_over_a_batch_and_the_same_in_every_run() -> None:
    names = tuple(f"p{n:02}" for n in range(40))
    runs = []
    for _ in range(2):
        store, clock = store_with(*names), FixedClock(NOW)
        send_due_letters(store, KeptLetters({mail_of(name): not_now(1) for name in names}), clock)
        runs.append([letter_to(store, name).next_try_at for name in names])
    assert runs[0] == runs[1]
    assert len(set(runs[0])) == 40


def test_a_letter_refused_for_a_day_is_asked_about_once_an_hour() -> None:
    store, clock = store_with("anna"), FixedClock(NOW)
    mailer = KeptLetters({mail_of("anna"): not_now(400)})
    tries = 0
    while clock.now() < NOW + timedelta(days=2):
        tries += send_due_letters(store, mailer, clock).put_off
        clock.move(timedelta(minutes=1))
    assert 24 * 60 / 12 + 24 / 1.2 < tries < 24 * 60 / 10 + 30


def away(times: int) -> list[DeliveryFailed]:
    return [DeliveryFailed("The mail server cannot be reached.", permanent=False, server_away=True)] * times


def test_a_server_that_is_away_ends_the_batch_and_each_wake_asks_with_another_letter() -> None:
    store, clock = store_with(*NAMES), FixedClock(NOW)
    mailer = KeptLetters({mail_of(name): away(100) for name in NAMES})
    tries = []
    for _ in range(120):  # an hour of wakes
        outcome = send_due_letters(store, mailer, clock)
        tries.append(outcome.put_off)
        assert outcome.server_away is (outcome.put_off == 1)
        clock.move(timedelta(seconds=30))
    assert max(tries) == 1, "never more than one letter a wake"
    assert max(letter_to(store, name).tries for name in NAMES) <= 12
    mailer.refusals.clear()
    back_at = clock.now()
    while any(letter_to(store, name).state is not DeliveryState.SENT for name in NAMES):
        send_due_letters(store, mailer, clock)
        clock.move(timedelta(seconds=30))
    assert clock.now() - back_at <= timedelta(minutes=15)


def test_one_recipient_at_whom_the_server_breaks_off_does_not_starve_the_others() -> None:
    store, clock = store_with(*NAMES), FixedClock(NOW)
    mailer = KeptLetters({mail_of("anna"): away(100)})
    send_due_letters(store, mailer, clock)
    clock.move(timedelta(seconds=30))
    assert send_due_letters(store, mailer, clock).sent == 4


@pytest.mark.parametrize("back", [timedelta(hours=3), timedelta(days=1), timedelta(days=365)])
def test_a_clock_set_back_keeps_no_letter_waiting_for_a_moment_it_had_shown(back: timedelta) -> None:
    store, clock = store_with("anna", "berta"), FixedClock(NOW)
    mailer = KeptLetters({mail_of("anna"): not_now(1)})
    with store.write(Change("a process that dies", "letter leased", NOW)) as unit:
        assert unit.lease_delivery(2, NOW, NOW + LEASE) is not None
    assert send_due_letters(store, mailer, clock) == Sent(0, 0, 1, 0)
    clock.move(-back)
    assert send_due_letters(store, mailer, clock).sent == 1, "the one that waited for another try"
    clock.move(LEASE)
    assert send_due_letters(store, mailer, clock).sent == 1, "the one that was leased"
    clock.move(back)
    assert send_due_letters(store, mailer, clock) == Sent(0, 0, 0, 0)
    assert Counter(to for to, _ in mailer.sent) == {mail_of("anna"): 1, mail_of("berta"): 1}


class Listening(KeptLetters):
    """A mailer that keeps for whom it was told the next letter is."""

    def __init__(self, store: MemoryStore | None = None) -> None:
        super().__init__()
        self.nexts: list[str | None] = []
        self.store = store

    def send(self, raw: bytes, to_mail: str, *, next_to_mail: str | None = None) -> str:
        """As usual; another sender takes the second letter meanwhile, if there is a store to take it from."""
        self.nexts.append(next_to_mail)
        if self.store is not None and len(self.nexts) == 1:
            with self.store.write(Change("another", "letter leased", NOW)) as unit:
                assert unit.lease_delivery(2, NOW, NOW + LEASE) is not None
        return super().send(raw, to_mail)


def test_the_mailer_is_told_who_is_next_and_after_the_last_nobody() -> None:
    mailer = Listening()
    assert send_due_letters(store_with(*NAMES), mailer, FixedClock(NOW)).sent == 5
    assert mailer.nexts == [*(mail_of(name) for name in NAMES[1:]), None]


def test_beside_another_sender_nobody_is_named_as_next_any_more() -> None:
    """The next letter may be the other's by then, and a server that was asked for it in vain is lost as a line."""
    store = store_with(*NAMES)
    mailer = Listening(store)
    assert send_due_letters(store, mailer, FixedClock(NOW)).sent == 4
    assert mailer.nexts == [mail_of(NAMES[1]), None, None, None]


class Overtaken(KeptLetters):
    """A mailer that takes so long that the lease runs out and somebody else takes the letter over."""

    def __init__(self, store: MemoryStore, outcome: DeliveryFailed | None) -> None:
        super().__init__()
        self.store, self.outcome = store, outcome

    def send(self, raw: bytes, to_mail: str, *, next_to_mail: str | None = None) -> str:
        """As usual, after the other has taken it."""
        with self.store.write(Change("another", "letter leased", NOW + LEASE)) as unit:
            assert unit.lease_delivery(1, NOW + LEASE, NOW + 2 * LEASE) is not None
        if self.outcome is not None:
            raise self.outcome
        return super().send(raw, to_mail, next_to_mail=next_to_mail)


@pytest.mark.parametrize("permanent", [True, False])
def test_who_lost_its_lease_says_nothing_of_a_letter_that_was_not_taken(permanent: bool) -> None:
    store = store_with("anna")
    send_due_letters(store, Overtaken(store, DeliveryFailed("no", permanent=permanent)), FixedClock(NOW))
    letter = letter_to(store, "anna")
    assert (letter.state, letter.leased_until, letter.tries) == (DeliveryState.LEASED, NOW + 2 * LEASE, 0)


def test_a_letter_that_was_accepted_is_sent_whoever_holds_the_lease() -> None:
    store = store_with("anna")
    assert send_due_letters(store, Overtaken(store, None), FixedClock(NOW)).sent == 1
    assert letter_to(store, "anna").state is DeliveryState.SENT
