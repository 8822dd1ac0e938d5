"""SIGKILL under a stream of readings: what was acknowledged is stored, and what is sent again counts once.

`python -m tests.faults.reading_kills [KILLS]` runs the full number, a thousand, and prints what came of it. Most
starts are quick ones, from a process that has the program loaded; each tenth is one as a machine does it, and is timed.
"""

from __future__ import annotations

import random
import sys
import tempfile
import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import count
from pathlib import Path

import httpx

from tests.faults.reading_server import ReadingServer, demo_server

FULL = 1000
KILLS_A_HOME = 25
A_SECOND = 20
LONGEST_LIFE_S = 1.5
BACK_WITHIN_S = 5.0
WHOLE_START_EVERY = 10
STARTS = {"AN": 112641, "BE": 83366, "NE": 31421, "TH": 44906, "BR": 27189, "LA": 146913, "PO": 61205, "RA": 18341}
"""The next whole figure after each vehicle's last reading in the demo's files."""
_TENTHS_A_HOME = 900


@dataclass
class Report:
    """What came of it. back_s: seconds until it answered again, of starts that load the program anew."""

    kills: int = 0
    acknowledged: int = 0
    lost: list[tuple[str, Decimal]] = field(default_factory=list)
    doubled: list[tuple[str, Decimal]] = field(default_factory=list)
    resent: int = 0
    back_s: list[float] = field(default_factory=list)

    def add(self, other: Report) -> None:
        """Takes up the report of another home."""
        self.kills += other.kills
        self.acknowledged += other.acknowledged
        self.lost += other.lost
        self.doubled += other.doubled
        self.resent += other.resent
        self.back_s += other.back_s

    def __str__(self) -> str:
        return (
            f"{self.kills} kills, {self.acknowledged} readings acknowledged, {len(self.lost)} of them lost, "
            f"{self.resent} sent again, {len(self.doubled)} counted twice; back after at most "
            f"{max(self.back_s, default=0.0):.2f} s ({len(self.back_s)} whole starts)"
        )


Sent = tuple[str, Decimal, str]
"""Mark, value and key of one reading."""


def run(server: ReadingServer, kills: int, *, seed: int, whole_start_every: int = 1) -> Report:
    """So many kills at random moments, each under 20 readings a second; what had no answer is sent again after it.

    whole_start_every: of so many starts one loads the program anew, the others are quick ones.
    """
    report, chance, numbers = Report(), random.Random(seed), count()
    acknowledged: dict[tuple[str, Decimal], str] = {}
    unanswered: list[Sent] = []
    for number in range(kills):
        if number % whole_start_every == 0:
            report.back_s.append(server.start())
        else:
            server.start_quickly()
        for sent in unanswered:
            assert _send(server, sent), sent
            acknowledged[sent[:2]] = sent[2]
            report.resent += 1
        unanswered = []
        timer = threading.Timer(chance.uniform(0.05, LONGEST_LIFE_S), server.kill)
        timer.start()
        while timer.is_alive():
            sent = _next(next(numbers))
            unanswered.append(sent)
            if _send(server, sent):
                acknowledged[sent[:2]] = sent[2]
                unanswered.remove(sent)
            time.sleep(1 / A_SECOND)
        timer.join()
        report.kills += 1
        _compare(server, acknowledged, report)
    report.acknowledged = len(acknowledged)
    return report


def _next(number: int) -> Sent:
    """A reading that no other one equals: every vehicle in turn, a tenth further each time."""
    mark = list(STARTS)[number % len(STARTS)]
    step = number // len(STARTS)
    assert step < _TENTHS_A_HOME
    return mark, STARTS[mark] + Decimal(step) / 10, f"kill-{number}"


def _send(server: ReadingServer, sent: Sent) -> bool:
    """True if it was acknowledged: answered with 2xx, to the end."""
    mark, value, key = sent
    headers = {"Authorization": f"Bearer {server.key}", "Idempotency-Key": key}
    body = {"vehicle": mark, "value": str(value), "hold": True}
    try:
        answer = httpx.post(f"{server.url}/api/readings", json=body, headers=headers, timeout=20, trust_env=False)
    except httpx.HTTPError:
        return False
    assert answer.status_code in (200, 201), (answer.status_code, answer.text)
    return True


def _compare(server: ReadingServer, acknowledged: dict[tuple[str, Decimal], str], report: Report) -> None:
    stored = Counter((r.mark, r.value) for r in server.readings())
    report.lost += [sent for sent in acknowledged if not stored[sent]]
    report.doubled += [sent for sent in acknowledged if stored[sent] > 1]


def main() -> None:
    """The full number, in homes that do not grow beyond a month's worth of readings."""
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else FULL
    whole = Report()
    while whole.kills < kills:
        with tempfile.TemporaryDirectory() as folder:
            server = demo_server(Path(folder) / "home")
            try:
                whole.add(
                    run(
                        server,
                        min(KILLS_A_HOME, kills - whole.kills),
                        seed=whole.kills,
                        whole_start_every=WHOLE_START_EVERY,
                    )
                )
            finally:
                server.close()
        print(whole, flush=True)
    sys.exit(1 if whole.lost or whole.doubled or max(whole.back_s) > BACK_WITHIN_S else 0)


if __name__ == "__main__":
    main()
