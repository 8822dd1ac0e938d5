"""From the link to "Saved", with 1,000 vehicles: `python -m tests.bench.bench_reading_page`.

Over HTTP, the server in a process of its own on SQLite: the reading page, the saved page, and beside each in the same
round an empty form that the same server refuses without a look at any vehicle. The ratio of the two is what counts; the
machine cancels out. Then what a phone fetches on the way: the first time, and once style sheet, script and font are at
hand.
"""

from __future__ import annotations

import re
import statistics
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from functools import partial
from pathlib import Path

import httpx

from fleetcare.actions.links import make_key
from fleetcare.actions.ports import Change
from fleetcare.actions.refresh import refresh
from fleetcare.assemble import assemble
from fleetcare.chance import RandomKeys
from fleetcare.clock import MachineClock
from fleetcare.fleet.access import Purpose
from tests.faults.reading_server import ReadingServer, demo_server

VEHICLES = 1000
ROUNDS = 200
FIRST_NEEDED = re.compile(r'(?:href|src)="(/static/[^"]+\.(?:css|js)\?v=[0-9a-f]+)"')
_HIDDEN = re.compile(r'<input type="hidden" name="(\w+)" value="([^"]*)">')
"""All that a browser fetches for these pages (`tests/browser/test_journeys.py`), but for the optional worker."""


def main() -> None:
    """Prints p50 and p95 of each, the ratios, and the bytes."""
    for readers in (False, True):
        print(f"{VEHICLES} vehicles, {'a calendar that holds all of them' if readers else 'nobody has a calendar'}:")
        _measured(readers)


def _measured(readers: bool) -> None:
    with tempfile.TemporaryDirectory() as folder:
        server = demo_server(Path(folder) / "home")
        links = _many(server, readers)
        server.start()
        try:
            _wait_until_idle(server, links[0])
            _times(server, links)
            _bytes(server, links[-1])
        finally:
            server.stop()


def _many(server: ReadingServer, readers: bool) -> list[str]:
    """Bellows a thousand times over, with its two years of readings; returns a link for each of some vehicles.

    readers: the people of the demo keep their calendars; who keeps the list has one of everything.
    """
    parts = assemble(server.home, {}, clock=MachineClock(), keys=RandomKeys())
    now = parts.clock.now()
    with parts.store.write(Change("bench", "many vehicles", now)) as unit:
        if not readers:
            for key in unit.keys(Purpose.FEED):
                unit.use_up_key(key.hash, now)
        (bellows,) = unit.vehicles(("BE",))
        readings = unit.readings(("BE",))
        work = unit.work(("BE",))
        for number in range(VEHICLES):
            mark = f"V{number}"
            unit.put_vehicle(replace(bellows, mark=mark, name=f"Wagon {number}"))
            unit.add_readings([replace(each, mark=mark, id=None) for each in readings])
            unit.add_work([replace(each, line=each.line._replace(mark=mark), id=None) for each in work])
    refresh(parts.store, parts.rules, now=now, base_url=server.url, why="many vehicles")
    keys = [
        make_key(
            parts.store, parts.keys, now=now, who="bench", purpose=Purpose.ODOMETER, person="teo", mark=f"V{number}"
        )
        for number in range(0, VEHICLES, VEHICLES // (ROUNDS + 1))
    ]
    parts.close()
    return [f"{server.url}/o/{key}" for key in keys[: ROUNDS + 1]]


def _wait_until_idle(server: ReadingServer, link: str) -> None:
    """A server that starts works the whole fleet out; a reading in the midst of that waits for its turn to write."""
    for _ in range(60):
        form = dict(_HIDDEN.findall(httpx.get(link, timeout=60, trust_env=False).text))
        body = {**form, "odo": "84209", "unit": "mi"}
        if httpx.post(link, data=body, timeout=60, trust_env=False).status_code == 200:
            return
        time.sleep(5)
    raise AssertionError("the server did not come to rest")


def _times(server: ReadingServer, links: list[str]) -> None:
    took: dict[str, list[float]] = {"reading page": [], "saved": [], "empty form": []}
    value = Decimal(84_210)
    with httpx.Client(timeout=30, trust_env=False) as client:
        client.post(f"{server.url}/sign-in", data={"mail": ""})
        for link in links[1:]:
            page, taken = _timed(partial(client.get, link))
            took["reading page"].append(taken)
            form = dict(_HIDDEN.findall(page.text))
            body = {**form, "odo": str(value), "unit": "mi"}
            saved, taken = _timed(partial(client.post, link, data=body))
            assert saved.status_code == 200, (saved.status_code, saved.text)
            took["saved"].append(taken)
            empty, taken = _timed(partial(client.post, f"{server.url}/sign-in", data={"mail": ""}))
            assert empty.status_code == 422
            took["empty form"].append(taken)
    base = _p95(took["empty form"])
    for name, each in took.items():
        print(
            f"{name:13} p50 {statistics.median(each) * 1e3:6.2f} ms, p95 {_p95(each) * 1e3:6.2f} ms, "
            f"{_p95(each) / base:5.2f} times the empty form's p95"
        )


def _bytes(server: ReadingServer, link: str) -> None:
    """Bytes of bodies as they go over the line; headers come on top, some 350 an answer."""
    with httpx.Client(timeout=30, trust_env=False) as client:
        page = client.get(link)
        form = dict(_HIDDEN.findall(page.text))
        saved = client.post(link, data={**form, "odo": "84210", "unit": "mi"})
        pages = page.num_bytes_downloaded + saved.num_bytes_downloaded
        kept = FIRST_NEEDED.findall(page.text)
        first = pages + sum(client.get(server.url + each).num_bytes_downloaded for each in kept)
    print(f"first time {first} bytes in {2 + len(kept)} requests; after that {pages} bytes in 2")


def _timed(work: Callable[[], httpx.Response]) -> tuple[httpx.Response, float]:
    began = time.perf_counter()
    answer = work()
    return answer, time.perf_counter() - began


def _p95(values: list[float]) -> float:
    return statistics.quantiles(values, n=20)[-1]


if __name__ == "__main__":
    main()
