"""Homes for tests of the whole chain: opened on a clock that stands still, served over real HTTP."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from threading import Event, Thread

import httpx

from fleetcare.assemble import Parts, assemble
from fleetcare.chance import KeyMaker
from fleetcare.clock import Clock
from fleetcare.settings.new_home import write_new_home
from fleetcare.web.app import create_app
from fleetcare.web.server import open_socket, start_server
from tests.stand_ins import NumberedKeys

BASE_URL = "https://garage.example"


def open_home(
    home: Path,
    clock: Clock,
    *,
    keys: KeyMaker | None = None,
    database: str = "",
    settings: Mapping[str, str] | None = None,
) -> Parts:
    """The parts of a home, made if it is not there; SQLite in the home unless a database is named."""
    if not (home / "settings.toml").exists():
        write_new_home(home)
    given = {"FLEETCARE_WEB_BASE_URL": BASE_URL, **(settings or {})}
    if database:
        given["FLEETCARE_DATABASE"] = database
    return assemble(home, {}, clock=clock, keys=keys or NumberedKeys(), overrides=given)


@contextmanager
def answering(parts: Parts) -> Iterator[httpx.Client]:
    """A client of that home's own server, on a free port, until the block ends."""
    sock = open_socket("127.0.0.1", 0)
    ready = Event()
    server = start_server(create_app(parts), ready.set)
    thread = Thread(target=lambda: server.run(sockets=[sock]), daemon=True)
    thread.start()
    try:
        assert ready.wait(20), "the server did not answer in time"
        where = f"http://127.0.0.1:{sock.getsockname()[1]}"
        with httpx.Client(base_url=where, follow_redirects=False, timeout=20, trust_env=False) as client:
            yield client
    finally:
        server.should_exit = True
        thread.join(20)
        sock.close()


def path_of(address: str) -> str:
    """The path of an address that begins with the base address of these homes."""
    assert address.startswith(BASE_URL), address
    return address.removeprefix(BASE_URL)
