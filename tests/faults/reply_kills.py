"""SIGKILL while answers lie in a real mailbox: in the end each is counted once, told about once, and marked as read.

`python -m tests.faults.reply_kills [KILLS [SEED]]` plays a hundred kills, and prints what came of it. Half of them come
at any moment, half when a mail is about to be marked as read. Each process finds the garage's clock six hours on, so an
answer that is taken twice would mostly be stored for another day and be seen.
"""

from __future__ import annotations

import multiprocessing
import random
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from email import message_from_bytes
from email.message import EmailMessage
from multiprocessing.connection import Connection
from pathlib import Path

from fleetcare.actions.ports import PostedMail
from fleetcare.actions.write_letters import write_due_letters
from fleetcare.assemble import Parts, assemble
from fleetcare.cli.bringing import bring_in_files
from fleetcare.digest.values import LetterKind
from fleetcare.mail_in.mailbox import ImapMailbox
from fleetcare.meter.reading import Door
from fleetcare.replies import take_replies
from tests.cli.small_garage import write_garage
from tests.mail_in.imap_server import PASSWORD, USER, ImapServer
from tests.stand_ins import FixedClock

FULL = 100
ANSWERS_A_KILL = 2
KILLS_A_HOME = 50
ASKED = datetime(2021, 3, 15, 12, 0, tzinfo=UTC)
"""Six weeks after the vehicle was last read, at 11 000 km: its driver is asked for a reading."""
LATER = timedelta(hours=6)
"""With so many kills a home, the last process still comes before the 35 days of a reply address are over."""
LONGEST_LIFE_S = 1.0
MOST_TOLD_A_DAY = 5
_FORKS = multiprocessing.get_context("fork")


@dataclass
class Report:
    """What came of it.

    between: kills that fell after an answer was stored and before its mail was marked as read: there, without a
    receipt, it would be counted again.
    """

    kills: int = 0
    answers: int = 0
    between: int = 0
    told: int = 0
    lost: list[Decimal] = field(default_factory=list)
    doubled: list[Decimal] = field(default_factory=list)
    unread: int = 0

    def add(self, other: Report) -> None:
        """Takes up the report of another home."""
        self.kills += other.kills
        self.answers += other.answers
        self.between += other.between
        self.told += other.told
        self.lost += other.lost
        self.doubled += other.doubled
        self.unread += other.unread

    @property
    def is_clean(self) -> bool:
        """True if every answer was counted once and every mail is marked."""
        return not (self.lost or self.doubled or self.unread)

    def __str__(self) -> str:
        return (
            f"{self.kills} kills, {self.between} of them between an answer's commit and the mark on its mail; "
            f"{self.answers} answers with a figure, {len(self.lost)} lost, {len(self.doubled)} counted twice, "
            f"{self.unread} mails left unread; {self.told} letters about answers"
        )


def parts_of(home: Path, port: int, now: datetime) -> Parts:
    """The parts of that home at that moment, with its mailbox on that port."""
    settings = {
        "FLEETCARE_REPLIES_HOST": "127.0.0.1",
        "FLEETCARE_REPLIES_PORT": str(port),
        "FLEETCARE_REPLIES_SECURITY": "none",
        "FLEETCARE_REPLIES_USER": USER,
        "FLEETCARE_REPLIES_PASSWORD": PASSWORD,
        "FLEETCARE_REPLIES_ADDRESS": "readings+{key}@garage.example",
        "FLEETCARE_MAIL_FROM_ADDRESS": "garage@garage.example",
    }
    return assemble(home, {}, clock=FixedClock(now), overrides=settings)


def asked_home(home: Path, port: int) -> str:
    """Makes a home that has asked its driver for a reading; where the answers go."""
    parts = parts_of(home, port, ASKED)
    try:
        bring_in_files(parts, write_garage(home / "files"))
        write_due_letters(parts.store, parts.rules, parts.desk, now=ASKED)
        with parts.store.read() as view:
            (request,) = [each for each in view.deliveries() if each.kind is LetterKind.READING]
        return str(message_from_bytes(request.raw)["Reply-To"])
    finally:
        parts.close()


def answer(number: int, to: str) -> tuple[bytes, Decimal | None]:
    """The n-th answer and its figure: most fit, each seventh is doubtful, each eleventh holds no figure."""
    figure: Decimal | None = Decimal(124000 + number) / 10
    if number % 11 == 10:
        figure = None
    elif number % 7 == 6:
        figure = Decimal(999000 + number) / 10
    message = EmailMessage()
    message["From"] = "Noor Haddad <noor@small.example>"
    message["To"] = to
    message["Message-ID"] = f"<{number}@phone.example>"
    message.set_content("I will look tomorrow.\n" if figure is None else f"{figure}\n")
    return message.as_bytes(), figure


def run(server: ImapServer, home: Path, kills: int, seed: int) -> Report:
    """So many processes that are killed while they take answers, and one at the end that may finish."""
    drawn, report = random.Random(seed), Report()
    to, figures, number, now = asked_home(home, server.port), [], 0, ASKED
    for count in range(kills + 1):
        for _ in range(ANSWERS_A_KILL if count < kills else 0):
            raw, figure = answer(number, to)
            server.deliver(raw)
            number += 1
            figures += [] if figure is None else [figure]
        now = ASKED + count * LATER
        before, parent = _FORKS.Pipe(duplex=False)
        process = _FORKS.Process(target=_take, args=(home, server.port, now, parent, count == kills))
        process.start()
        assert before.recv() == "begins"
        if count < kills:
            if count % 2:
                before.poll(20)  # until a mail is about to be marked; which of them, and how far it comes, is chance
            else:
                process.join(drawn.uniform(0.0, LONGEST_LIFE_S))
            process.kill()
            process.join()
            report.kills += 1
            taken, told = counted(home, server.port, now)
            report.between += _answered(taken, told) > sum(server.seen())
        else:
            process.join()
            assert process.exitcode == 0, "the last process takes what is left"
        before.close()
        parent.close()
    taken, report.told = counted(home, server.port, now)
    report.answers, report.unread = len(figures), server.seen().count(False)
    judge(report, figures, taken)
    return report


def judge(report: Report, figures: list[Decimal], taken: Counter[Decimal]) -> None:
    """Writes down which of these figures are not stored, and which are stored more than once."""
    report.lost = [figure for figure in figures if not taken[figure]]
    report.doubled = [figure for figure, times in taken.items() if times > 1 or figure not in figures]


def counted(home: Path, port: int, now: datetime) -> tuple[Counter[Decimal], int]:
    """How often each figure is stored that came by mail, and how many letters about answers there are."""
    parts = parts_of(home, port, now)
    try:
        with parts.store.read() as view:
            taken = Counter(each.value for each in view.readings() if each.door is Door.MAIL)
            told = view.letter_places(kinds={LetterKind.ABOUT_AN_ANSWER})
        return taken, len(told)
    finally:
        parts.close()


def _answered(taken: Counter[Decimal], told: int) -> int:
    """How many mails have led to something that is stored: a figure, or a letter about one without."""
    doubtful = sum(times for figure, times in taken.items() if figure > 99_000)
    return sum(taken.values()) + max(0, told - doubtful)


class _TellingMailbox:
    """A mailbox that tells when a mail is about to be marked as read: all that it leads to is stored by then."""

    def __init__(self, within: ImapMailbox, parent: Connection) -> None:
        self._within, self._parent = within, parent

    @contextmanager
    def opened(self) -> Iterator[_TellingMailbox]:
        """As usual."""
        with self._within.opened() as self._open:
            yield self

    def waiting(self) -> Iterator[PostedMail]:
        """As usual."""
        return self._open.waiting()

    def mark_seen(self, mail: PostedMail) -> None:
        """As usual, and said before."""
        self._parent.send("marks")
        self._open.mark_seen(mail)


def _take(home: Path, port: int, now: datetime, parent: Connection, to_the_end: bool) -> None:
    """In a process of its own: takes what waits, round after round, until it is killed; or once."""
    parts = parts_of(home, port, now)
    assert parts.mailbox is not None
    parts.__dict__["mailbox"] = _TellingMailbox(parts.mailbox, parent)
    parent.send("begins")
    take_replies(parts)
    while not to_the_end:
        time.sleep(0.01)
        take_replies(parts)
    parts.close()


def main(kills: int = FULL, seed: int = 1) -> int:
    """The full number, in homes of their own."""
    whole = Report()
    for start in range(0, kills, KILLS_A_HOME):
        some = min(KILLS_A_HOME, kills - start)
        with tempfile.TemporaryDirectory() as folder, ImapServer() as server:
            whole.add(run(server, Path(folder) / "home", some, seed + start))
        print(whole, flush=True)
    print("clean" if whole.is_clean else f"NOT CLEAN: lost {whole.lost}, doubled {whole.doubled}")
    return 0 if whole.is_clean else 1


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
