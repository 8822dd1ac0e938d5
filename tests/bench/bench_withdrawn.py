"""A withdrawn key and one that never was look alike: `python -m tests.bench.bench_withdrawn [PAIRS]`.

For each way a key can stand in an address, a real server is asked in turn, pair by pair and in random order within
the pair, under a key that was withdrawn and under a random one of the same length (2,000 pairs each). Told are whether
the first request after the withdrawal is refused, whether answers are the same in status, head and body, and the p of
the Mann-Whitney U test (two-sided) over the times; they differ by no more than noise if p is over 0.01. One in a
hundred runs of two equal ways falls below that by chance: measure again before you worry.
"""

from __future__ import annotations

import http.client
import random
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path

from scipy.stats import mannwhitneyu

from fleetcare.actions.links import make_key, revoke
from fleetcare.assemble import Parts, assemble
from fleetcare.chance import RandomKeys
from fleetcare.cli.serving import load_demo
from fleetcare.clock import MachineClock
from fleetcare.fleet.access import Purpose
from fleetcare.settings.new_home import write_new_home
from fleetcare.web.app import create_app
from fleetcare.web.server import open_socket, port_of, start_server

PAIRS = 2000
WARM_UP = 100
NOISE_P = 0.01
WAYS = {Purpose.FEED: "/feeds/{key}.ics", Purpose.ODOMETER: "/o/{key}", Purpose.API: ""}
"""Where a key stands; an API key stands in a header, and `/api/due` is asked."""
_OF_THE_MOMENT = ("date",)

Answer = tuple[int, tuple[tuple[str, str], ...], bytes]


def ask(line: http.client.HTTPConnection, purpose: Purpose, key: str) -> tuple[float, Answer]:
    """Seconds until the whole answer was there, and what it was without what changes from second to second."""
    path = WAYS[purpose].format(key=key) or "/api/due"
    headers = {} if WAYS[purpose] else {"Authorization": f"Bearer {key}"}
    began = time.perf_counter()
    line.request("GET", path, headers=headers)
    answer = line.getresponse()
    body = answer.read()
    took = time.perf_counter() - began
    head = tuple((name, value) for name, value in answer.getheaders() if name.lower() not in _OF_THE_MOMENT)
    return took, (answer.status, head, body.replace(key.encode(), b"KEY"))


def compare(parts: Parts, port: int, purpose: Purpose, pairs: int) -> bool:
    """Prints one line; True if nothing tells the two apart."""
    person, mark = ("", "AN") if purpose is Purpose.ODOMETER else (_somebody(parts), "")
    now = parts.clock.now()
    key = make_key(parts.store, parts.keys, now=now, who="bench", purpose=purpose, person=person, mark=mark)
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    before = ask(line, purpose, key)[1][0]
    revoke(parts.store, now=now, who="bench", purposes=(purpose,), person=person, mark=mark)
    first = ask(line, purpose, key)[1][0]
    chance = random.Random(purpose.value)
    # One and the same each time, as the withdrawn one is: what a server remembers of an address helps both alike.
    stranger = RandomKeys().new_key()
    times: tuple[list[float], list[float]] = ([], [])
    different = 0
    for number in range(-WARM_UP, pairs):
        keys = (key, stranger)
        found: list[tuple[float, Answer]] = [(0.0, (0, (), b""))] * 2
        for which in chance.sample((0, 1), 2):
            found[which] = ask(line, purpose, keys[which])
        if number >= 0:
            different += found[0][1] != found[1][1]
            for which in (0, 1):
                times[which].append(found[which][0])
    line.close()
    p = float(mannwhitneyu(*times, alternative="two-sided").pvalue)
    medians = [1000 * statistics.median(each) for each in times]
    print(
        f"{purpose.value:<9} {before} before, {first} at once after; {different} of {pairs} answers differ; "
        f"median {medians[0]:.3f} ms withdrawn, {medians[1]:.3f} ms random, p = {p:.3f}",
        flush=True,
    )
    return before == 200 and first in (401, 404) and not different and p > NOISE_P


def _somebody(parts: Parts) -> str:
    with parts.store.read() as view:
        garage = view.garage()
    assert garage is not None
    return garage.list_keeper


def main(pairs: int = PAIRS) -> None:
    """Every way in turn."""
    with tempfile.TemporaryDirectory() as name:
        home = Path(name) / "home"
        write_new_home(home)
        limits = {"FLEETCARE_WEB_SENDS_A_MINUTE_ADDRESS": "0", "FLEETCARE_WEB_SENDS_A_MINUTE_KEY": "0"}
        parts = assemble(home, limits, clock=MachineClock(), keys=RandomKeys())
        parts, _ = load_demo(parts)
        sock = open_socket("127.0.0.1", 0)
        is_up = threading.Event()
        server = start_server(create_app(parts), is_up.set)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [sock]}, daemon=True)
        thread.start()
        is_up.wait(60)
        alike = [compare(parts, port_of(sock), purpose, pairs) for purpose in WAYS]
        server.should_exit = True
        thread.join(30)
        parts.close()
    sys.exit(0 if all(alike) else 1)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
