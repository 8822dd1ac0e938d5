"""Connections that are judged when they are made, and that end in time however the other side trickles."""

from __future__ import annotations

import socket
import ssl
import threading
import typing
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import httpcore
import httpx

from fleetcare.clock import monotonic_s
from fleetcare.errors import CalendarTrouble
from fleetcare.language import saying

MOST_ADDRESSES = 8
"""Addresses of one name that are tried."""

JudgeAddress = Callable[[str, int], bool]
"""Numeric address and port: may they be connected to?"""


class Deadline:
    """The moment by which everything about one calendar has to be over."""

    def __init__(self, total_s: float) -> None:
        self._ends_at = monotonic_s() + total_s

    def left_s(self, most_s: float | None = None) -> float:
        """Seconds left, at most `most_s`. Raises httpcore.ReadTimeout if there are none."""
        left = self._ends_at - monotonic_s()
        if left <= 0:
            raise httpcore.ReadTimeout("took too long in all")
        return left if most_s is None else min(left, most_s)


@dataclass
class _TimedStream(httpcore.NetworkStream):
    """A stream whose every wait also ends with the deadline.

    A time-out on the socket alone starts anew with each byte, so a server that sends one byte now and then, in the head
    of its answer or in the body, would hold the connection for ever.
    """

    inner: httpcore.NetworkStream
    deadline: Deadline

    def read(self, max_bytes: int, timeout: float | None = None) -> bytes:
        return self.inner.read(max_bytes, self.deadline.left_s(timeout))

    def write(self, buffer: bytes, timeout: float | None = None) -> None:
        self.inner.write(buffer, self.deadline.left_s(timeout))

    def close(self) -> None:
        self.inner.close()

    def start_tls(
        self, ssl_context: ssl.SSLContext, server_hostname: str | None = None, timeout: float | None = None
    ) -> httpcore.NetworkStream:
        inner = self.inner.start_tls(ssl_context, server_hostname, self.deadline.left_s(timeout))
        return _TimedStream(inner, self.deadline)

    def get_extra_info(self, info: str) -> typing.Any:
        return self.inner.get_extra_info(info)


@dataclass
class _JudgingBackend(httpcore.NetworkBackend):
    """Looks a name up once, judges every address, and connects to one that it judged: never to the name."""

    may_call: JudgeAddress
    deadline: Deadline
    connect_s: float

    def connect_tcp(
        self,
        host: str,
        port: int,
        timeout: float | None = None,
        local_address: str | None = None,
        socket_options: Iterable[typing.Any] | None = None,
    ) -> httpcore.NetworkStream:
        addresses = _looked_up(host, port, self.deadline.left_s(self.connect_s))
        open_ones = [address for address in addresses if self.may_call(address, port)]
        if not open_ones:
            raise CalendarTrouble(
                saying("{host} leads to an address or port that may not be called from here.", host=host),
                remedy="If it is meant, open it in settings.toml under [calendars], or add it with --private.",
            )
        last: Exception = httpcore.ConnectError("no address")
        for address in open_ones:
            try:
                stream = httpcore.SyncBackend().connect_tcp(
                    address, port, self.deadline.left_s(self.connect_s), local_address, socket_options
                )
            except (httpcore.ConnectError, httpcore.ConnectTimeout) as trouble:
                last = trouble
                continue
            return _TimedStream(stream, self.deadline)
        raise last

    def connect_unix_socket(
        self, path: str, timeout: float | None = None, socket_options: Iterable[typing.Any] | None = None
    ) -> httpcore.NetworkStream:
        raise httpcore.ConnectError("no socket files")


class JudgingTransport(httpx.BaseTransport):
    """One request over one connection that `may_call` agreed to. Nothing is taken from the environment (no proxies).

    connect_s, read_s: for connecting and for each read. Raises httpcore's errors and CalendarTrouble.
    """

    def __init__(
        self,
        *,
        may_call: JudgeAddress,
        deadline: Deadline,
        connect_s: float,
        read_s: float,
        tls: ssl.SSLContext,
    ) -> None:
        """Connects to nothing yet."""
        self._timeouts = {"connect": connect_s, "read": read_s, "write": read_s, "pool": connect_s}
        self._pool = httpcore.ConnectionPool(
            ssl_context=tls,
            max_connections=1,
            http1=True,
            http2=False,
            network_backend=_JudgingBackend(may_call, deadline, connect_s),
        )

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        """The answer, its body not yet read."""
        answer = self._pool.handle_request(
            httpcore.Request(
                method=request.method,
                url=httpcore.URL(
                    scheme=request.url.raw_scheme,
                    host=request.url.raw_host,
                    port=request.url.port,
                    target=request.url.raw_path,
                ),
                headers=request.headers.raw,
                content=request.stream,
                extensions={"timeout": self._timeouts},
            )
        )
        assert isinstance(answer.stream, typing.Iterable)  # it is a sync pool
        return httpx.Response(answer.status, headers=answer.headers, stream=_Body(answer.stream))

    def close(self) -> None:
        """Ends the connection."""
        self._pool.close()


class _Body(httpx.SyncByteStream):
    def __init__(self, pieces: Iterable[bytes]) -> None:
        self._pieces = pieces

    def __iter__(self) -> Iterator[bytes]:
        yield from self._pieces

    def close(self) -> None:
        close = getattr(self._pieces, "close", None)
        if close is not None:
            close()


def _looked_up(host: str, port: int, timeout_s: float) -> list[str]:
    """The numeric addresses of a name, in the resolver's order. Raises httpcore.ConnectError, ConnectTimeout.

    In a thread of its own, because a resolver has no time-out that could be set; one that hangs is left behind.
    """
    found: list[str] = []
    trouble: list[Exception] = []

    def ask() -> None:
        try:
            infos = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
        except (OSError, UnicodeError) as error:
            trouble.append(error)
            return
        found.extend(dict.fromkeys(str(info[4][0]) for info in infos))

    thread = threading.Thread(target=ask, daemon=True, name="looking up a calendar")
    thread.start()
    thread.join(timeout_s)
    if thread.is_alive():
        raise httpcore.ConnectTimeout("the name was not looked up in time")
    if trouble or not found:
        raise httpcore.ConnectError("there is no such name")
    return found[:MOST_ADDRESSES]
