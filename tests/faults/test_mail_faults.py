"""Every way a mail server can fail, played by a real one: no letter is lost, and none comes twice without excuse.

A copy is excused if the server's answer to the one before was never given, or if the sender was killed between that
answer and its own commit. The whole of it, with 50 and 1,000 people: python -m tests.faults.mail_full
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from fleetcare.actions.ports import Change
from fleetcare.actions.send_letters import send_due_letters
from fleetcare.assemble import Parts
from fleetcare.digest.values import DeliveryState
from tests.digest.every_letter import LOST
from tests.faults.mail_server import FailingServer, Mode, Plan, Taken
from tests.faults.mail_world import (
    FAST,
    LEASE,
    USUAL_MIX,
    FastClock,
    home_with_letters,
    judge,
    letters,
    mailer_of,
    mix,
    run_with_kills,
    send_all,
    waiting,
)

QUICK = (Mode.FINAL_4XX, Mode.RCPT_4XX, Mode.ACCEPT_THEN_DROP, Mode.DROP_MID_DATA)
SLOW = (Mode.SLOW_DRIP, Mode.HANG, Mode.FINAL_HANG)


@contextmanager
def served(tmp_path: Path, plan: Plan, people: int) -> Iterator[tuple[FailingServer, Parts]]:
    """A failing server, and a home with a letter to each of so many people."""
    clock = FastClock(time.time())
    with FailingServer(plan) as server:
        parts = home_with_letters(tmp_path / "home", clock, server.port, people)
        try:
            yield server, parts
        finally:
            parts.close()


def once(mode: Mode, people: int = 10_000) -> Plan:
    """The first attempt of the first people goes wrong, the second goes well."""
    return lambda who, attempt: mode if who and attempt == 0 and int(who[1:5]) < people else Mode.OK


@pytest.mark.parametrize("mode", QUICK)
def test_a_fault_at_everybodys_first_attempt_loses_nothing(tmp_path: Path, mode: Mode) -> None:
    with served(tmp_path, once(mode), 12) as (server, parts):
        send_all(parts)
        judged = judge(letters(parts.store), server.taken)
        assert judged.faults == []
        assert judged.is_clean
        assert (judged.sent, judged.excused) == (12, 12 if mode is Mode.ACCEPT_THEN_DROP else 0)
        assert server.at_once <= 2


@pytest.mark.parametrize("mode", SLOW)
def test_a_server_that_hangs_at_some_keeps_nobody_else_waiting(tmp_path: Path, mode: Mode) -> None:
    """Each hang costs its own time-out (half a second a command here, one and a half in all) and no more."""
    with served(tmp_path, once(mode, people=2), 10) as (server, parts):
        send_all(parts, mailer_of(parts, command_s=0.5, total_s=1.5))
        judged = judge(letters(parts.store), server.taken)
        assert judged.faults == []
        assert (judged.is_clean, judged.sent) == (True, 10)


def test_a_recipient_at_whom_the_server_always_hangs_does_not_starve_the_others(tmp_path: Path) -> None:
    plan: Plan = lambda who, attempt: Mode.HANG if who.startswith("p0000") else Mode.OK  # noqa: E731
    with served(tmp_path, plan, 10) as (_, parts):
        mailer = mailer_of(parts, command_s=0.5)
        for _ in range(2):
            send_due_letters(parts.store, mailer, parts.clock, lease=LEASE)
        left = [each.to_mail for each in letters(parts.store) if each.state is not DeliveryState.SENT]
        assert left == ["p0000@garage.example"], "one wake for the hang, the next for everybody else"


@pytest.mark.parametrize("mode", [Mode.GREET_SLOW, Mode.ACCEPT_LATE, Mode.NO_EXTENSIONS])
def test_a_slow_or_simple_server_is_waited_for_and_nothing_is_sent_twice(tmp_path: Path, mode: Mode) -> None:
    with served(tmp_path, lambda who, attempt: mode, 5) as (server, parts):
        send_all(parts)
        judged = judge(letters(parts.store), server.taken)
        assert (judged.is_clean, judged.sent, judged.excused) == (True, 5, 0)


@pytest.mark.parametrize("mode", [Mode.RCPT_5XX, Mode.NO_EXTENSIONS])
def test_of_one_bad_recipient_the_others_hear_nothing_and_the_keeper_hears(tmp_path: Path, mode: Mode) -> None:
    """With NO_EXTENSIONS it is an address outside ASCII, which this server cannot take (RFC 6531)."""
    bad = "pöt@garage.example" if mode is Mode.NO_EXTENSIONS else "p0003@garage.example"
    plan: Plan = lambda who, attempt: mode if mode is Mode.NO_EXTENSIONS or who == bad else Mode.OK  # noqa: E731
    with served(tmp_path, plan, 10) as (server, parts):
        with parts.store.write(Change("test", "one more", parts.clock.now())) as unit:
            row = unit.deliveries()[3]
            unit.add_delivery(replace(row, id=None, period="by hand", to_mail=bad, message_id="<by-hand@x>"))
            unit.set_delivery(replace(row.place, state=DeliveryState.NOTHING))
        send_all(parts)
        places = letters(parts.store)
        judged = judge(places, server.taken)
        assert (judged.sent, judged.failed, judged.lost, judged.unexcused) == (9, 1, 0, 0)
        (refused,) = [each for each in places if each.state is DeliveryState.FAILED]
        assert (refused.to_mail, refused.tries) == (bad, 1)
        assert refused.last_answer


def test_a_server_that_is_away_for_an_hour_gets_everything_within_a_quarter_of_an_hour(tmp_path: Path) -> None:
    with served(tmp_path, lambda who, attempt: Mode.OK, 12) as (server, parts):
        server.go_away()
        mailer = mailer_of(parts)
        away_s = 3600 / FAST
        began_s = time.monotonic()
        while time.monotonic() - began_s < away_s:
            send_due_letters(parts.store, mailer, parts.clock, lease=LEASE)
            time.sleep(30 / FAST)
        assert waiting(parts.store) == 12
        server.come_back()
        took_s = send_all(parts, wake_s=30 / FAST)
        judged = judge(letters(parts.store), server.taken)
        assert (judged.is_clean, judged.sent, server.at_once) == (True, 12, 1)
        assert judged.most_tries <= 12
        assert took_s * FAST <= 15 * 60 + 30 * FAST, "a quarter of an hour, and some seconds for a busy machine"


def test_a_random_mix_of_faults_loses_nothing(tmp_path: Path) -> None:
    with served(tmp_path, mix(1, USUAL_MIX), 30) as (server, parts):
        send_all(parts)
        judged = judge(letters(parts.store), server.taken)
        assert judged.faults == []
        assert (judged.is_clean, judged.sent) == (True, 30)
        assert judged.excused <= sum(not each.answered for each in server.taken)


def test_a_sender_that_is_killed_again_and_again_loses_nothing(tmp_path: Path) -> None:
    with served(tmp_path, mix(2, USUAL_MIX), 40) as (server, parts):
        clock = parts.clock
        assert isinstance(clock, FastClock)
        gap, kills, _ = run_with_kills(parts.home, server, clock, parts.store, every_s=(0.05, 0.5), seed=2, most=4)
        judged = judge(letters(parts.store), server.taken, gap)
        assert judged.faults == []
        assert (judged.is_clean, judged.sent) == (True, 40)
        assert kills >= 2
        assert sum(gap.values()) <= kills, "one letter at a time is in the gap"


def test_a_kill_makes_one_letter_come_twice_at_most(tmp_path: Path) -> None:
    """However fast they go: each is written down before the next is handed over, whatever was asked for ahead."""
    with served(tmp_path, lambda who, attempt: Mode.OK, 150) as (server, parts):
        clock = parts.clock
        assert isinstance(clock, FastClock)
        gap, kills, _ = run_with_kills(parts.home, server, clock, parts.store, every_s=(0.02, 0.2), seed=3, most=5)
        judged = judge(letters(parts.store), server.taken, gap)
        assert judged.faults == []
        assert (judged.is_clean, judged.sent) == (True, 150)
        assert kills >= 2
        assert len(server.taken) - 150 <= kills


# The judge can condemn


def _copies(*answered: bool) -> list[Taken]:
    return [Taken("a@x", "<1@x>", "k", "d", 0.0, each) for each in answered]


@pytest.mark.parametrize(
    ("change", "what"),
    [
        (lambda place, taken: (place, []), "lost"),
        (lambda place, taken: (place, _copies(False)), "lost"),
        (lambda place, taken: (place, _copies(True, True)), "unexcused"),
        (lambda place, taken: (place, [*taken, replace(taken[0], digest="other", answered=False)]), "unstable"),
        (lambda place, taken: (place, [*taken, replace(taken[0], key="other", answered=False)]), "keys_shared"),
        (lambda place, taken: (replace(place, state=DeliveryState.LEASED), taken), "faults"),
        (lambda place, taken: (place, [*taken, replace(taken[0], message_id="<2@x>", digest="e")]), "faults"),
    ],
)
def test_the_judge_condemns_what_is_wrong(change: Callable[..., tuple[object, list[Taken]]], what: str) -> None:
    sent = replace(LOST[0], state=DeliveryState.SENT, message_id="<1@x>")
    assert judge([sent], _copies(True)).is_clean
    assert judge([sent], _copies(False, True)).is_clean, "the second copy is excused"
    place, taken = change(sent, _copies(True))
    judged = judge([place], taken)  # type: ignore[list-item]
    assert not judged.is_clean
    assert getattr(judged, what)
