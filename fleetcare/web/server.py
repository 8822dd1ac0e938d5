"""Runs the application on a socket until it is told to stop."""

from __future__ import annotations

import contextlib
import socket
from collections.abc import Callable

import uvicorn
from starlette.types import ASGIApp

from fleetcare.errors import BadSettings


def open_socket(host: str, port: int) -> socket.socket:
    """A listening socket; port 0 picks a free one. Raises BadSettings if the address is taken or not ours."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    sock = socket.socket(family, socket.SOCK_STREAM)
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        sock.bind((host, port))
    except (OSError, OverflowError) as trouble:
        sock.close()
        raise BadSettings(
            f"Cannot listen on {host}, port {port}: {trouble}.",
            remedy="Choose another with --port; 0 picks a free one.",
        ) from trouble
    return sock


def port_of(sock: socket.socket) -> int:
    """The port a socket listens on."""
    return int(sock.getsockname()[1])


def run_server(app: ASGIApp, sock: socket.socket, on_ready: Callable[[], None]) -> None:
    """Serves until SIGINT or SIGTERM; requests under way are finished first. `on_ready` runs once it answers."""
    # A second interrupt while the first is being obeyed is no error worth a traceback.
    with contextlib.suppress(KeyboardInterrupt):
        start_server(app, on_ready).run(sockets=[sock])


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
