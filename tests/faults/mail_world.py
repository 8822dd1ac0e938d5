"""Letters of a small garage, a clock that runs fast, senders, and the judge: what was lost, and what came twice."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from fleetcare.actions.ports import Change, Store
from fleetcare.actions.send_letters import send_due_letters
from fleetcare.actions.write_letters import write_due_letters
from fleetcare.assemble import Parts, assemble
from fleetcare.cli.bringing import bring_in_files
from fleetcare.digest.values import DeliveryState, LetterPlace
from fleetcare.fleet.people import Person
from fleetcare.mailer.smtp import SmtpMailer
from fleetcare.quantities import DistanceUnit
from tests.cli.small_garage import write_garage
from tests.faults.mail_server import FailingServer, Mode, Plan, Taken
from tests.house.tree import ROOT
from tests.stand_ins import NumberedKeys

BEGIN = datetime(2021, 6, 7, 12, tzinfo=UTC)
"""A Monday four months after the garage's last reading: everybody's garage letter has something to say."""
FAST = 480.0
"""So many times as fast as time the clock runs: a minute is an eighth of a second."""
COMMAND_S, TOTAL_S = 2.0, 4.0
LEASE = timedelta(minutes=40)
"""Five seconds here: longer than a letter may take in all."""
SENDER = "garage@garage.example"
GIVE_UP_AFTER_S = 240.0
_WAITING = (DeliveryState.DUE, DeliveryState.LEASED)


@dataclass(frozen=True)
class FastClock:
    """Stands at BEGIN at one moment of the machine's clock, and runs fast from there, in every process alike."""

    started_s: float
    fast: float = FAST

    def now(self) -> datetime:
        """This instant."""
        return BEGIN + timedelta(seconds=(time.time() - self.started_s) * self.fast)


def mix(seed: int, weights: dict[Mode, int]) -> Plan:
    """Modes drawn by weight, the same for the same recipient, attempt and seed."""
    modes, shares = list(weights), list(weights.values())

    def plan(recipient: str, attempt: int) -> Mode:
        if not recipient:
            return Mode.OK
        return random.Random(f"{seed} {recipient} {attempt}").choices(modes, shares)[0]

    return plan


USUAL_MIX = {Mode.OK: 5, Mode.FINAL_4XX: 2, Mode.ACCEPT_THEN_DROP: 2, Mode.DROP_MID_DATA: 1, Mode.RCPT_4XX: 1}


def open_home(home: Path, clock: FastClock, port: int) -> Parts:
    """The parts of that home, whose letters go to the server on that port."""
    settings = {
        "FLEETCARE_MAIL_HOST": "127.0.0.1",
        "FLEETCARE_MAIL_PORT": str(port),
        "FLEETCARE_MAIL_SECURITY": "none",
        "FLEETCARE_MAIL_FROM_ADDRESS": SENDER,
        "FLEETCARE_MAIL_TIMEOUT_S": str(COMMAND_S),
        "FLEETCARE_MAIL_TOTAL_TIMEOUT_S": str(TOTAL_S),
    }
    return assemble(home, {}, clock=clock, keys=NumberedKeys(), overrides=settings)


def home_with_letters(home: Path, clock: FastClock, port: int, people: int) -> Parts:
    """A home in which every one of so many people has a garage letter that waits."""
    parts = open_home(home, clock, port)
    bring_in_files(parts, write_garage(home / "files"))
    drivers = [
        Person(f"p{n:04}", f"Driver {n}", f"p{n:04}@garage.example", "UTC", DistanceUnit.KM, letter_weekday=0)
        for n in range(people)
    ]
    with parts.store.write(Change("test", "people", BEGIN)) as unit:
        (vehicle,) = unit.vehicles()
        unit.put_vehicle(replace(vehicle, keeper=drivers[0].key, drivers=tuple(p.key for p in drivers)))
        for person in unit.people():
            unit.put_person(replace(person, mail=""))
        for person in drivers:
            unit.put_person(person)
    assert write_due_letters(parts.store, parts.rules, parts.desk, now=BEGIN, with_requests=False) == people
    return parts


def letters(store: Store) -> tuple[LetterPlace, ...]:
    """How far each is; those that were settled without a letter left out."""
    with store.read() as view:
        return tuple(each for each in view.letter_places() if each.state is not DeliveryState.NOTHING)


def waiting(store: Store) -> int:
    """How many are not settled."""
    with store.read() as view:
        return len(view.letter_places(states=_WAITING))


def mailer_of(parts: Parts, *, command_s: float = COMMAND_S, total_s: float = TOTAL_S) -> SmtpMailer:
    """A mailer to the server of that home."""
    port = parts.settings.mail.port
    return SmtpMailer("127.0.0.1", port, "none", from_address=SENDER, timeout_s=command_s, total_timeout_s=total_s)


def send_all(
    parts: Parts, mailer: SmtpMailer | None = None, *, wake_s: float = 0.05, within_s: float = GIVE_UP_AFTER_S
) -> float:
    """Wakes the sender until every letter is settled; seconds it took."""
    began_s = time.monotonic()
    mailer = mailer or mailer_of(parts)
    while waiting(parts.store):
        assert time.monotonic() - began_s < within_s, "letters are still waiting"
        send_due_letters(parts.store, mailer, parts.clock, lease=LEASE)
        time.sleep(wake_s)
    return time.monotonic() - began_s


@dataclass
class Judged:
    """What became of the letters. lost: called sent, and never taken; unexcused: copies beyond the excused ones."""

    letters: int = 0
    sent: int = 0
    failed: int = 0
    expired: int = 0
    lost: int = 0
    excused: int = 0
    unexcused: int = 0
    unstable: int = 0
    """Letters of which two copies differ in Message-ID, key or body."""
    keys_shared: int = 0
    most_tries: int = 0
    kills: int = 0
    faults: list[str] = field(default_factory=list)

    @property
    def is_clean(self) -> bool:
        """True if nothing was lost, nothing came twice without excuse and every key stayed the same."""
        return not (self.lost or self.unexcused or self.unstable or self.keys_shared or self.faults)


def judge(places: Sequence[LetterPlace], taken: Sequence[Taken], gap: Counter[str] | None = None) -> Judged:
    """Compares the ledger with what the server took.

    gap: by Message-ID, how often a sender was killed after the server's answer and before its own commit.
    """
    gap = gap or Counter()
    by_id: dict[str, list[Taken]] = {}
    for each in taken:
        by_id.setdefault(each.message_id, []).append(each)
    states = Counter(place.state for place in places)
    judged = Judged(
        letters=len(places),
        sent=states[DeliveryState.SENT],
        failed=states[DeliveryState.FAILED],
        expired=states[DeliveryState.EXPIRED],
        most_tries=max((place.tries for place in places), default=0),
    )
    for place in places:
        copies = by_id.pop(place.message_id, [])
        if place.state is DeliveryState.SENT and not any(each.answered for each in copies):
            judged.lost += 1
            judged.faults.append(f"{place.to_mail} counts as sent; the server said yes to no copy")
        if place.state in _WAITING:
            judged.faults.append(f"{place.to_mail} still waits: {place.last_answer}")
        excused = sum(not each.answered for each in copies) + gap[place.message_id]
        more = max(0, len(copies) - 1)
        judged.excused += min(more, excused)
        if more > excused:
            judged.unexcused += more - excused
            judged.faults.append(f"{place.to_mail} has {more} copies too many, {excused} excused")
        if len({(each.key, each.digest) for each in copies}) > 1:
            judged.unstable += 1
    if by_id:
        judged.faults.append(f"{len(by_id)} letters were taken that the ledger does not know")
    digests = Counter(copies_digest for copies_digest in {(each.digest, each.key) for each in taken})
    judged.keys_shared = len(digests) - len({digest for digest, _ in digests})
    return judged


def run_with_kills(
    home: Path,
    server: FailingServer,
    clock: FastClock,
    store: Store,
    *,
    every_s: tuple[float, float],
    seed: int,
    most: int,
) -> tuple[Counter[str], int, list[float]]:
    """Sender processes, each killed after a random time, until all letters are settled; at most so many kills.

    Returns the gap (see `judge`), the number of kills, and how long before the kill the answers in the gap were given.
    """
    drawn = random.Random(seed)
    gap: Counter[str] = Counter()
    kills, late_s = 0, []
    began_s = time.monotonic()
    while waiting(store):
        assert time.monotonic() - began_s < GIVE_UP_AFTER_S * 6, "letters are still waiting"
        started_s = time.time()
        process = subprocess.Popen(
            [sys.executable, "-m", "tests.faults.sending_process", str(home), str(server.port), repr(clock.started_s)],
            stdout=subprocess.PIPE,
            text=True,
            cwd=ROOT,
        )
        assert process.stdout is not None
        assert process.stdout.readline() == "begins\n"
        try:
            process.wait(timeout=drawn.uniform(*every_s) if kills < most else GIVE_UP_AFTER_S)
        except subprocess.TimeoutExpired:
            process.send_signal(signal.SIGKILL)
            killed_at_s = time.time()
            process.wait()
            kills += 1
            time.sleep(0.05)  # what was on its way to the server is there, or is not
            leased = {each.message_id for each in letters(store) if each.state is DeliveryState.LEASED}
            for each in server.taken:
                # What an earlier process left leased, this one has not touched: only its own copies count, each once.
                if each.message_id in leased and each.answered and each.at_s >= started_s:
                    gap[each.message_id] += 1
                    late_s.append(killed_at_s - each.at_s)
        process.stdout.close()
    return gap, kills, late_s
