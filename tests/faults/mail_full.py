"""The whole fault plan for letters: python -m tests.faults.mail_full [PEOPLE] [DIGESTS] [KILLS]

Every fault at PEOPLE (50) people, then a random mix over DIGESTS (1,000) letters with three seeds, then the same with
the sender killed again and again, at most KILLS (40) times. Prints one line for each; ends with 1 if any letter was
lost or came twice without excuse.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from fleetcare.actions.send_letters import send_due_letters
from fleetcare.assemble import Parts
from fleetcare.mailer.smtp import SmtpMailer
from tests.faults.mail_server import FailingServer, Mode, Plan
from tests.faults.mail_world import (
    FAST,
    LEASE,
    TOTAL_S,
    USUAL_MIX,
    FastClock,
    Judged,
    home_with_letters,
    judge,
    letters,
    mailer_of,
    mix,
    run_with_kills,
    send_all,
)

LONG_S = 3600.0


def told(name: str, judged: Judged, took_s: float, at_once: int, more: str = "") -> bool:
    """Prints one line; True if it is clean."""
    print(
        f"{name:<34} {judged.letters:>5} letters: sent {judged.sent}, refused {judged.failed}, lost {judged.lost}, "
        f"unexcused {judged.unexcused}, excused {judged.excused}, keys changed {judged.unstable + judged.keys_shared}, "
        f"most tries {judged.most_tries}, connections {at_once}, {took_s:.0f} s{more}",
        flush=True,
    )
    for fault in judged.faults[:5]:
        print(f"    {fault}", flush=True)
    return judged.is_clean


def one_fault(mode: Mode, people: int) -> bool:
    """That fault at everybody's first attempt (at three people for those that cost a time-out), then none."""
    some = 3 if mode in (Mode.HANG, Mode.SLOW_DRIP, Mode.FINAL_HANG) else people
    always = mode in (Mode.GREET_SLOW, Mode.ACCEPT_LATE, Mode.NO_EXTENSIONS)

    def plan(who: str, attempt: int) -> Mode:
        if always:
            return mode
        return mode if who and attempt == 0 and int(who[1:5]) < some else Mode.OK

    if mode is Mode.RCPT_5XX:
        plan = lambda who, attempt: mode if who.startswith("p0003") else Mode.OK  # noqa: E731
    with tempfile.TemporaryDirectory() as folder, FailingServer(plan, slow_s=0.1) as server:
        parts = home_with_letters(Path(folder), FastClock(time.time()), server.port, people)
        began_s = time.monotonic()
        if mode is Mode.AWAY:
            server.go_away()
            mailer = mailer_of(parts)
            while time.monotonic() - began_s < 3600 / FAST:
                _wake(parts, mailer)
            server.come_back()
            began_s = time.monotonic()
        send_all(parts, wake_s=30 / FAST, within_s=LONG_S)
        took_s = time.monotonic() - began_s
        more = f" ({took_s * FAST / 60:.1f} min of the garage's clock after it came back)" if mode is Mode.AWAY else ""
        judged = judge(letters(parts.store), server.taken)
        parts.close()
        return told(mode.value, judged, took_s, server.at_once, more)


def _wake(parts: Parts, mailer: SmtpMailer) -> None:
    send_due_letters(parts.store, mailer, parts.clock, lease=LEASE)
    time.sleep(30 / FAST)


def mixed(seed: int, digests: int, kills: int) -> bool:
    """A random mix of faults, with at most so many kills."""
    plan: Plan = mix(seed, USUAL_MIX)
    with tempfile.TemporaryDirectory() as folder, FailingServer(plan) as server:
        clock = FastClock(time.time())
        parts = home_with_letters(Path(folder), clock, server.port, digests)
        began_s = time.monotonic()
        gap: Counter[str] = Counter()
        done, late_s = 0, [0.0]
        if kills:
            every_s = (0.2, 3.0)
            gap, done, late_s = run_with_kills(
                Path(folder), server, clock, parts.store, every_s=every_s, seed=seed, most=kills
            )
        else:
            send_all(parts, within_s=LONG_S)
        took_s = time.monotonic() - began_s
        judged = judge(letters(parts.store), server.taken, gap)
        parts.close()
        more = f", {done} kills, {sum(gap.values())} in the gap" if kills else ""
        if late_s and kills:
            more += f", at most {max(late_s) * 1000:.0f} ms after an answer"
        return told(f"mix, seed {seed}{', killed' if kills else ''}", judged, took_s, server.at_once, more)


def main(people: int = 50, digests: int = 1000, kills: int = 40) -> int:
    """All of it."""
    print(f"a minute of the garage's clock takes {60 / FAST:.3f} s, a letter {TOTAL_S} s at most", flush=True)
    clean = [one_fault(mode, people) for mode in Mode]
    clean += [mixed(seed, digests, 0) for seed in (1, 2, 3)]
    clean += [mixed(seed, digests, kills) for seed in (4, 5, 6)]
    print("all clean" if all(clean) else "NOT CLEAN")
    return 0 if all(clean) else 1


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
