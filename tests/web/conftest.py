"""A demo garage served over real HTTP on a free port."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from threading import Event, Thread

import httpx
import pytest

from fleetcare.assemble import Parts, assemble
from fleetcare.cli.serving import Addresses, load_demo
from fleetcare.settings.new_home import write_new_home
from fleetcare.web.app import create_app
from fleetcare.web.server import open_socket, port_of, start_server
from tests.stand_ins import FixedClock, NumberedKeys

TUESDAY = datetime(2026, 4, 14, 15, 0, tzinfo=UTC)
"""Nine in the morning at Karst Ridge, on the day the demo files stand at."""


@dataclass(frozen=True)
class Served:
    """A running server with its parts and the demo's addresses."""

    parts: Parts
    clock: FixedClock
    addresses: Addresses

    @property
    def url(self) -> str:
        """Base address."""
        return self.parts.base_url

    def feed(self, person: str) -> str:
        """The feed address of one person."""
        return self.addresses["feeds"][person]

    def odometer(self, mark: str) -> str:
        """The odometer page of one vehicle."""
        return self.addresses["readings"][mark]


@contextmanager
def serving(home: Path, *, open_house: bool = True, now: datetime = TUESDAY) -> Iterator[Served]:
    """The demo garage, served until the block ends."""
    write_new_home(home)
    sock = open_socket("127.0.0.1", 0)
    clock = FixedClock(now)
    overrides = {"FLEETCARE_WEB_PORT": str(port_of(sock)), "FLEETCARE_WEB_OPEN_HOUSE": str(open_house).lower()}
    parts = assemble(home, {}, clock=clock, keys=NumberedKeys(), overrides=overrides)
    parts, addresses = load_demo(parts)
    ready = Event()
    server = start_server(create_app(parts), ready.set)
    thread = Thread(target=lambda: server.run(sockets=[sock]), daemon=True)
    thread.start()
    try:
        assert ready.wait(20), "the server did not answer in time"
        yield Served(parts, clock, addresses)
    finally:
        server.should_exit = True
        thread.join(20)
        parts.close()
        sock.close()


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    """The demo garage, open house, on Tuesday 14 April 2026."""
    with serving(tmp_path / "home") as running:
        yield running


@pytest.fixture
def client() -> Iterator[httpx.Client]:
    """A plain HTTP client that follows nothing by itself."""
    with httpx.Client(follow_redirects=False, timeout=20, trust_env=False) as one:
        yield one
