"""The program as it is served, in a process of its own, over a home with the demo garage: started, killed, started."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import httpx

from fleetcare.actions.links import make_key
from fleetcare.assemble import assemble
from fleetcare.chance import RandomKeys
from fleetcare.cli.serving import load_demo
from fleetcare.clock import MachineClock
from fleetcare.fleet.access import Purpose
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.settings.new_home import write_new_home
from fleetcare.settings.settings import DATABASE_FILE
from fleetcare.store.sql_store import open_store
from tests.house.tree import ROOT

START_WITHIN_S = 60.0
MAIN = "from fleetcare.cli import main; main()"


@dataclass
class ReadingServer:
    """One home, its port, an API key of who keeps the list, and the process while there is one."""

    home: Path
    port: int
    key: str
    process: subprocess.Popen[bytes] | None = None
    forker: subprocess.Popen[str] | None = None
    """Loads the program once for many quick starts; None until the first of them."""
    forked: int = 0
    """The process id of such a start, while it runs."""

    @property
    def url(self) -> str:
        """Base address."""
        return f"http://127.0.0.1:{self.port}"

    def start(self, *before: str) -> float:
        """Starts it, with a command before it if one is given; returns seconds until it answered."""
        environment = {**os.environ, **self._settings()}
        # As where it is installed: its modules are compiled once, and not at each start.
        environment.pop("PYTHONDONTWRITEBYTECODE", None)
        began = time.monotonic()
        self.process = subprocess.Popen(
            [*before, sys.executable, "-c", MAIN, "serve", "--home", str(self.home)],
            cwd=ROOT,
            env=environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            # A group of its own, so that what was started under strace ends with it.
            start_new_session=True,
        )
        return self._answers_after(began)

    def start_quickly(self) -> float:
        """The same as a child of a process that has everything loaded: for many kills in a short time."""
        if self.forker is None:
            words = [sys.executable, "-m", "tests.faults.forked_servers"]
            self.forker = subprocess.Popen(words, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
            assert self.forker.stdout is not None
            assert self.forker.stdout.readline() == "loaded\n"
        assert self.forker.stdin is not None
        assert self.forker.stdout is not None
        began = time.monotonic()
        print(json.dumps([["serve", "--home", str(self.home)], self._settings()]), file=self.forker.stdin, flush=True)
        self.forked = int(self.forker.stdout.readline())
        return self._answers_after(began)

    def _settings(self) -> dict[str, str]:
        return {
            "FLEETCARE_WEB_PORT": str(self.port),
            "FLEETCARE_WEB_SENDS_A_MINUTE_ADDRESS": "0",
            "FLEETCARE_WEB_SENDS_A_MINUTE_KEY": "0",
            "FLEETCARE_LETTERS_ENABLED": "false",
        }

    def _answers_after(self, began: float) -> float:
        while time.monotonic() - began < START_WITHIN_S:
            try:
                if httpx.get(f"{self.url}/healthz", timeout=2, trust_env=False).status_code == 200:
                    return time.monotonic() - began
            except httpx.HTTPError:
                time.sleep(0.02)
        raise AssertionError(f"the server did not answer within {START_WITHIN_S} s")

    def kill(self) -> None:
        """Ends it as a power cut would, as far as a process can tell."""
        if self.forked:
            os.killpg(self.forked, signal.SIGKILL)
            _wait_until_gone(self.forked)
            self.forked = 0
        if self.process is not None:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait(timeout=30)
            self.process = None

    def close(self) -> None:
        """Kills it, and ends what quick starts come from."""
        self.kill()
        if self.forker is not None:
            self.forker.communicate()
            self.forker = None

    def stop(self) -> None:
        """Ends it as an operator would."""
        if self.process is not None:
            self.process.terminate()
            self.process.wait(timeout=30)
            self.process = None

    def readings(self) -> tuple[Reading, ...]:
        """Every reading that counts or is held, read while no server runs or beside it."""
        store = open_store(f"sqlite:///{self.home / DATABASE_FILE}")
        with store.read() as view:
            found = view.readings()
        store.close()
        return tuple(r for r in found if r.state in (ReadingState.USED, ReadingState.HELD))


def _wait_until_gone(number: int) -> None:
    while True:
        try:
            os.kill(number, 0)
        except ProcessLookupError:
            return
        time.sleep(0.001)


def demo_server(home: Path) -> ReadingServer:
    """The demo garage in a new home, not started yet."""
    write_new_home(home)
    parts = assemble(home, {}, clock=MachineClock(), keys=RandomKeys())
    parts, _ = load_demo(parts)
    with parts.store.read() as view:
        garage = view.garage()
    assert garage is not None
    key = make_key(
        parts.store, parts.keys, now=parts.clock.now(), who="test", purpose=Purpose.API, person=garage.list_keeper
    )
    parts.close()
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = int(free.getsockname()[1])
    return ReadingServer(home, port, key)
