"""A demo garage served over real HTTP on a free port."""

from __future__ import annotations

import hmac
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from shutil import copytree
from threading import Event, Thread

import httpx
import pytest
from starlette.types import ASGIApp

from fleetcare.actions.links import make_key
from fleetcare.assemble import Parts, assemble
from fleetcare.cli.serving import Addresses, load_demo
from fleetcare.fleet.access import Purpose
from fleetcare.page.cards.frame import SEAL_FIELD
from fleetcare.settings.new_home import write_new_home
from fleetcare.web.app import create_app
from fleetcare.web.server import open_socket, port_of, start_server
from fleetcare.web.who import COOKIE
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

    def key(self, purpose: Purpose, *, lasts: timedelta | None = None, person: str = "", mark: str = "") -> str:
        """A new key."""
        return make_key(
            self.parts.store,
            self.parts.keys,
            now=self.clock.now(),
            who="test",
            purpose=purpose,
            person=person,
            mark=mark,
            lasts=lasts,
        )

    def session(self, person: str) -> dict[str, str]:
        """Headers of a browser in which that person came in."""
        return {"Cookie": f"{COOKIE}={self.key(Purpose.SESSION, person=person)}"}

    def sealed(self, headers: dict[str, str]) -> dict[str, str]:
        """What a form of that browser carries: its seal."""
        session = headers["Cookie"].removeprefix(f"{COOKIE}=")
        return {SEAL_FIELD: hmac.new(session.encode(), b"form", "sha256").hexdigest()}

    def bearer(self, person: str) -> dict[str, str]:
        """Headers of a program with an API key of that person."""
        return {"Authorization": f"Bearer {self.key(Purpose.API, person=person)}"}


@dataclass(frozen=True)
class Prepared:
    """A home with the demo in it, to be copied, and the port that its addresses name."""

    home: Path
    port: int
    addresses: Addresses
    keys_made: int


@contextmanager
def serving(
    home: Path, *, open_house: bool = True, prepared: Prepared | None = None, sends_a_minute: int = 0
) -> Iterator[Served]:
    """The demo garage on Tuesday, served until the block ends; a copy of a prepared one is quicker to have."""
    if prepared is None:
        write_new_home(home)
    else:
        copytree(prepared.home, home)
    sock = open_socket("127.0.0.1", prepared.port if prepared else 0)
    clock, keys = FixedClock(TUESDAY), NumberedKeys()
    overrides = {
        "FLEETCARE_WEB_PORT": str(port_of(sock)),
        "FLEETCARE_WEB_OPEN_HOUSE": str(open_house).lower(),
        # The clock of these tests stands still, so that what was sent would never be forgotten.
        "FLEETCARE_WEB_SENDS_A_MINUTE_ADDRESS": str(sends_a_minute),
        "FLEETCARE_WEB_SENDS_A_MINUTE_KEY": str(sends_a_minute),
    }
    parts = assemble(home, {}, clock=clock, keys=keys, overrides=overrides)
    if prepared is None:
        parts, addresses = load_demo(parts)
    else:
        addresses, keys.made = prepared.addresses, prepared.keys_made
    try:
        with answering(create_app(parts), sock):
            yield Served(parts, clock, addresses)
    finally:
        parts.close()


@contextmanager
def answering(app: ASGIApp, sock: socket.socket) -> Iterator[None]:
    """An application on a socket, until the block ends."""
    ready = Event()
    server = start_server(app, ready.set)
    thread = Thread(target=lambda: server.run(sockets=[sock]), daemon=True)
    thread.start()
    try:
        assert ready.wait(20), "the server did not answer in time"
        yield
    finally:
        server.should_exit = True
        thread.join(20)
        sock.close()


@pytest.fixture(scope="session")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Prepared:
    """The demo garage, brought in once."""
    home = tmp_path_factory.mktemp("prepared") / "home"
    with serving(home) as running:
        keys = running.parts.keys
        assert isinstance(keys, NumberedKeys)
        port = int(running.url.rpartition(":")[2])
    return Prepared(home, port, running.addresses, keys.made)


@pytest.fixture
def served(prepared: Prepared, tmp_path: Path) -> Iterator[Served]:
    """A demo garage of one's own, open house, on Tuesday 14 April 2026."""
    with serving(tmp_path / "home", prepared=prepared) as running:
        yield running


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """One demo garage for all tests of a module that must leave it as it is."""
    with serving(tmp_path_factory.mktemp("shared") / "home") as running:
        yield running


@pytest.fixture
def client() -> Iterator[httpx.Client]:
    """A plain HTTP client that follows nothing by itself."""
    with httpx.Client(follow_redirects=False, timeout=20, trust_env=False) as one:
        yield one
