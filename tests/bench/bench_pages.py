"""First byte and size of every page, with 40 and 2,000 vehicles: `python -m tests.bench.bench_pages [VEHICLES ...]`.

Over HTTP, the server in a process of its own on SQLite, a reader who keeps the list. Beside each page, in the same
round, an empty form that the same server refuses without a look at any vehicle: the ratio of the two is what counts.
The vehicles are those of the invented garage, over and over, each with its readings and its work. The first look at
a page after a start works out what is kept from then on; it is told by itself and is not among the others.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import httpx

from fleetcare.actions.links import make_key
from fleetcare.actions.ports import Change
from fleetcare.actions.refresh import refresh
from fleetcare.assemble import assemble
from fleetcare.chance import RandomKeys
from fleetcare.clock import MachineClock
from fleetcare.fleet.access import Purpose
from fleetcare.web.who import COOKIE
from tests.faults.reading_server import ReadingServer, demo_server

SIZES = (40, 2000)
LONGEST_S = 20.0
"""So long each page is asked for again, at most `ROUNDS` times."""
ROUNDS = 60
PAGES = (
    *("/", "/?start=24", "/vehicles", "/vehicles/AN", "/vehicles/AN/history", "/plan", "/findings", "/handbook"),
    *("/shopping", "/readings", "/readings/held", "/calendar", "/find?words=anvil", "/vehicles/AN/reading"),
    *("/handbook/rear-axle-fluid", "/vehicles/AN/away", "/people", "/people/teo", "/stickers", "/letters"),
    *("/?of=teo", "/vehicles/RA/edit", "/vehicles/AN/move", "/vehicles/AN/tags", "/vehicles/AN/work"),
    *("/calendar/shared", "/new-vehicle", "/look", "/trust"),
)


class Found(NamedTuple):
    """One page in one garage. first_ms: of the first look after a start. times: its p50 as a multiple of an empty
    form's, in the same rounds."""

    first_ms: float
    p50_ms: float
    p95_ms: float
    times: float
    octets: int

    def __str__(self) -> str:
        return f"{self.first_ms:8.0f} {self.p50_ms:8.1f} {self.p95_ms:8.1f} {self.times:7.1f} {self.octets / 1000:7.1f}"


def main() -> None:
    """Prints p50, p95, the ratio to the empty form and the size of each page, all garages side by side."""
    sizes = [int(each) for each in sys.argv[1:]] or SIZES
    found: dict[int, dict[str, Found]] = {}
    for vehicles in sizes:
        with tempfile.TemporaryDirectory() as folder:
            server = demo_server(Path(folder) / "home")
            session = many_vehicles(server, vehicles)
            server.start()
            try:
                found[vehicles] = _measured(server, session)
            finally:
                server.stop()
    print(f"{'':26}" + "".join(f"{f'{vehicles} vehicles':>42} " for vehicles in sizes))
    print(f"{'':26}" + f"{'first ms':>8} {'p50 ms':>8} {'p95 ms':>8} {'x empty':>7} {'kB':>7}   " * len(sizes))
    for page in PAGES:
        print(f"{page:26}" + "   ".join(str(found[vehicles][page]) for vehicles in sizes))


def many_vehicles(server: ReadingServer, vehicles: int) -> str:
    """So many vehicles; returns the session of who keeps the list."""
    parts = assemble(server.home, {}, clock=MachineClock(), keys=RandomKeys())
    now = parts.clock.now()
    with parts.store.write(Change("bench", "many vehicles", now)) as unit:
        there = unit.vehicles()
        readings = {each.mark: unit.readings((each.mark,)) for each in there}
        work = {each.mark: unit.work((each.mark,)) for each in there}
        garage = unit.garage()
        assert garage is not None
        for number in range(vehicles - len(there)):
            like = there[number % len(there)]
            mark = f"V{number}"
            unit.put_vehicle(replace(like, mark=mark, name=f"{like.name} {number}", towed_by=()))
            unit.add_readings([replace(each, mark=mark, id=None) for each in readings[like.mark]])
            unit.add_work([replace(each, line=each.line._replace(mark=mark), id=None) for each in work[like.mark]])
    refresh(parts.store, parts.rules, now=now, base_url=server.url, why="many vehicles")
    session = make_key(
        parts.store, parts.keys, now=now, who="bench", purpose=Purpose.SESSION, person=garage.list_keeper
    )
    parts.close()
    return session


def _measured(server: ReadingServer, session: str) -> dict[str, Found]:
    found = {}
    with httpx.Client(base_url=server.url, timeout=120, trust_env=False, cookies={COOKIE: session}) as client:
        _wait_until_idle(client)
        for page in PAGES:
            first = _first_byte_s(client, "GET", page, 200)
            took: list[float] = []
            empty: list[float] = []
            began = time.perf_counter()
            while len(took) < ROUNDS and (len(took) < 3 or time.perf_counter() - began < LONGEST_S):
                took.append(_first_byte_s(client, "GET", page, 200))
                empty.append(_first_byte_s(client, "POST", "/sign-in", 422))
            found[page] = Found(
                first * 1e3,
                statistics.median(took) * 1e3,
                _p95(took) * 1e3,
                statistics.median(took) / statistics.median(empty),
                len(client.get(page).content),
            )
    return found


def _first_byte_s(client: httpx.Client, method: str, page: str, wanted: int) -> float:
    began = time.perf_counter()
    with client.stream(method, page, data={"mail": ""} if method == "POST" else None) as answer:
        next(answer.iter_raw(), b"")
        took = time.perf_counter() - began
    assert answer.status_code == wanted, (page, answer.status_code)
    return took


def _wait_until_idle(client: httpx.Client) -> None:
    """A server that starts works the whole fleet out; twice as quick as before is at rest."""
    before = float("inf")
    for _ in range(60):
        took = _first_byte_s(client, "GET", "/handbook", 200)
        if took > before / 2 and took < 0.5:
            return
        before = took
        time.sleep(2)


def _p95(values: list[float]) -> float:
    return statistics.quantiles(values, n=20)[-1] if len(values) > 1 else values[0]


if __name__ == "__main__":
    main()
