"""The program as it is served, in a process of its own, over a home with the demo garage: started, killed, started."""

from __future__ import annotations

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

    @property
    def url(self) -> str:
        """Base address."""
        return f"http://127.0.0.1:{self.port}"

    def start(self, *before: str) -> float:
        """Starts it, with a command before it if one is given; returns seconds until it answered."""
        environment = {
            **os.environ,
            "FLEETCARE_WEB_PORT": str(self.port),
            "FLEETCARE_WEB_SENDS_A_MINUTE_ADDRESS": "0",
            "FLEETCARE_WEB_SENDS_A_MINUTE_KEY": "0",
            "FLEETCARE_LETTERS_ENABLED": "false",
        }
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
        while time.monotonic() - began < START_WITHIN_S:
            try:
                if httpx.get(f"{self.url}/healthz", timeout=2, trust_env=False).status_code == 200:
                    return time.monotonic() - began
            except httpx.HTTPError:
                time.sleep(0.02)
        raise AssertionError(f"the server did not answer within {START_WITHIN_S} s")

    def kill(self) -> None:
        """Ends it as a power cut would, as far as a process can tell."""
        if self.process is not None:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait(timeout=30)
            self.process = None

    def stop(self) -> None:
        """Ends it as an operator would."""
        if self.process is not None:
            self.process.terminate()
            self.process.wait(timeout=30)
            self.process = None

    def readings(self) -> tuple[Reading, ...]:
        """Every reading that counts or is held, read while no server runs or beside it."""
        parts = assemble(self.home, {})
        with parts.store.read() as view:
            found = view.readings()
        parts.close()
        return tuple(r for r in found if r.state in (ReadingState.USED, ReadingState.HELD))


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
