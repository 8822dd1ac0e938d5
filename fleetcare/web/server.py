"""Runs the application on a socket until it is told to stop."""

from __future__ import annotations

import contextlib
import signal
import socket
from collections.abc import Callable, Iterator

import uvicorn
from starlette.types import ASGIApp

from fleetcare.errors import BadSettings
from fleetcare.language import saying


def open_socket(host: str, port: int) -> socket.socket:
    """A listening socket; port 0 picks a free one. Raises BadSettings if the address is taken or not ours."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # Named as TCP, for asyncio sends small pieces at once (TCP_NODELAY) only where a socket says that it is TCP; else
    # the body of an answer waits 40 ms for the reader's word that its head has come.
    sock = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        sock.bind((host, port))
    except (OSError, OverflowError) as trouble:
        sock.close()
        raise BadSettings(
            saying("Cannot listen on {host}, port {port}: {trouble}.", host=host, port=port, trouble=trouble),
            remedy="Choose another with --port; 0 picks a free one.",
        ) from trouble
    return sock


def port_of(sock: socket.socket) -> int:
    """The port a socket listens on."""
    return int(sock.getsockname()[1])


def run_server(app: ASGIApp, sock: socket.socket, on_ready: Callable[[], None]) -> None:
    """Serves until SIGINT or SIGTERM; requests under way are finished first. `on_ready` runs once it answers."""
    # uvicorn raises the signals it obeyed once more when it is done; a stop that was asked for is no failure, and
    # whatever the caller still has to close must not be cut short.
    with contextlib.suppress(KeyboardInterrupt), _ignored(signal.SIGTERM):
        start_server(app, on_ready).run(sockets=[sock])


@contextlib.contextmanager
def _ignored(number: signal.Signals) -> Iterator[None]:
    """While the server runs it has its own way with this signal; what it leaves over is ignored."""
    before = signal.signal(number, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(number, before)


def start_server(app: ASGIApp, on_ready: Callable[[], None]) -> uvicorn.Server:
    """A server that is ready to `run(sockets=[...])`; `should_exit` ends it."""
    config = uvicorn.Config(
        app,
        http="httptools",
        # The log of accesses would hold the keys that stand in addresses.
        access_log=False,
        log_level="warning",
        server_header=False,
        lifespan="off",
        timeout_graceful_shutdown=8,
    )
    return _Server(config, on_ready)


class _Server(uvicorn.Server):
    def __init__(self, config: uvicorn.Config, on_ready: Callable[[], None]) -> None:
        super().__init__(config)
        self._on_ready = on_ready

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            self._on_ready()
