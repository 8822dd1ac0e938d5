"""Pages while bay days are planned beside them: `python -m tests.bench.bench_planning [VEHICLES ...]`.

Twice the same garage and the same plan: searched in the serving process, as it once was, and in a process apart. For
each, first bytes of pages before the search and during it, a reader who keeps the list, over HTTP on SQLite. What
counts is the ratio of the two, and of the two ways to each other. The processor seconds of the serving process, pages
included, hardly hang on what else the machine does (Linux).
"""

from __future__ import annotations

import math
import os
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Self

import httpx

from fleetcare.assemble import assemble
from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.port import Answer, Limits, Progress
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.standing import NOTHING_STANDS, Standing
from fleetcare.planner import Planner
from fleetcare.solvers.apart import ApartSolver
from fleetcare.solvers.pick import solver_for
from fleetcare.web.app import create_app
from fleetcare.web.server import open_socket, run_server
from fleetcare.web.who import COOKIE
from tests.bench.bench_pages import _first_byte_s, many_vehicles
from tests.faults.reading_server import demo_server
from tests.house.tree import ROOT

SIZES = (60, 500)
PAGES = ("/", "/plan", "/vehicles/AN", "/handbook")
BEFORE_S = 10.0
DURING_S = 60.0
"""At most so long is measured while it plans; the rest of the search is stopped."""


class HereSolver(ApartSolver):
    """The same search in the serving process, to compare with."""

    def __enter__(self) -> Self:
        self._ended = threading.Event()
        return self

    def solve(
        self,
        problem: BayProblem,
        limits: Limits,
        *,
        tell: Callable[[Progress, BayPlan | None], None] | None = None,
        standing: Standing = NOTHING_STANDS,
    ) -> Answer:
        here = Limits(limits.steps, limits.seed, self._ended.is_set)
        return solver_for(problem).solve(problem, here, tell=tell, standing=standing)

    def stop(self) -> None:
        self._ended.set()


@dataclass(frozen=True, slots=True)
class Took:
    """First bytes in milliseconds."""

    p50: float
    p95: float
    longest: float
    many: int


def main() -> None:
    """Prints both ways side by side for each size."""
    for vehicles in [int(each) for each in sys.argv[1:]] or SIZES:
        print(f"{vehicles} vehicles: first byte in ms, p50 / p95 / longest")
        with tempfile.TemporaryDirectory() as folder:
            server = demo_server(Path(folder) / "home")
            session = many_vehicles(server, vehicles)
            for way in ("here", "apart"):
                words = [sys.executable, "-m", "tests.bench.bench_planning", "serve", str(server.home)]
                with subprocess.Popen([*words, str(server.port), way], cwd=ROOT, stdout=subprocess.DEVNULL) as running:
                    try:
                        _measured(server.url, session, server.key, way, running.pid)
                    finally:
                        running.terminate()


def _serve(home: Path, port: int, way: str) -> None:
    settings = {"FLEETCARE_WEB_PORT": str(port), "FLEETCARE_LETTERS_ENABLED": "false"}
    settings |= {"FLEETCARE_WEB_SENDS_A_MINUTE_ADDRESS": "0", "FLEETCARE_WEB_SENDS_A_MINUTE_KEY": "0"}
    parts = assemble(home, settings)
    planner = Planner(parts, apart=HereSolver if way == "here" else ApartSolver)
    run_server(create_app(parts, planner=planner), open_socket("127.0.0.1", port), lambda: None)
    planner.stop()
    parts.close()


def _measured(url: str, session: str, key: str, way: str, process: int) -> None:
    signed = {"Authorization": f"Bearer {key}"}
    with httpx.Client(base_url=url, timeout=120, trust_env=False, cookies={COOKIE: session}) as client:
        _wait_until_there(client)
        _rounds(client, lambda began: time.perf_counter() - began < BEFORE_S / 2)
        before = _rounds(client, lambda began: time.perf_counter() - began < BEFORE_S)
        client.post("/api/plan/propose", json={}, headers=signed).raise_for_status()
        began, used = time.perf_counter(), _processor_s(process)

        def goes_on(since: float) -> bool:
            is_working = client.get("/api/plan/proposal", headers=signed).json()["working"]
            return bool(is_working and time.perf_counter() - since < DURING_S)

        during = _rounds(client, goes_on)
        took_s = time.perf_counter() - began
        answer = client.get("/api/plan/proposal", headers=signed).json()
        told = "not there yet" if answer["working"] else f"{len(answer['visits'])} visits"
        used = _processor_s(process) - used
        print(f"  searched {way}: {took_s:.0f} s, {told}; the serving process used {used:.1f} s of processor time")
        for page in PAGES:
            one, other = before[page], during[page]
            print(
                f"    {page:14} {one.p50:6.1f} / {one.p95:6.1f} / {one.longest:6.1f} before, "
                f"{other.p50:6.1f} / {other.p95:6.1f} / {other.longest:6.1f} during: "
                f"p95 {other.p95 / one.p95:5.1f} times ({one.many} and {other.many} rounds)",
                flush=True,
            )


def _rounds(client: httpx.Client, goes_on: Callable[[float], bool]) -> dict[str, Took]:
    began = time.perf_counter()
    took: dict[str, list[float]] = {page: [] for page in PAGES}
    while goes_on(began) or len(took[PAGES[0]]) < 2:
        for page in PAGES:
            took[page].append(_first_byte_s(client, "GET", page, 200) * 1e3)
    return {
        page: Took(statistics.median(each), sorted(each)[math.ceil(0.95 * len(each)) - 1], max(each), len(each))
        for page, each in took.items()
    }


def _processor_s(process: int) -> float:
    """Processor seconds of a process so far, all its threads together."""
    words = Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    return (int(words[11]) + int(words[12])) / os.sysconf("SC_CLK_TCK")


def _wait_until_there(client: httpx.Client) -> None:
    for _ in range(600):
        try:
            if client.get("/plan").status_code == 200:
                return
        except httpx.TransportError:
            time.sleep(0.2)
    raise AssertionError("the server does not answer")


if __name__ == "__main__":
    if sys.argv[1:2] == ["serve"]:
        _serve(Path(sys.argv[2]), int(sys.argv[3]), sys.argv[4])
    else:
        main()
