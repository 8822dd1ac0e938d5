"""Two mail servers for tests: a real one (aiosmtpd), and one that misbehaves by script."""

from __future__ import annotations

import asyncio
import contextlib
import select
import socket
import ssl
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from aiosmtpd.smtp import SMTP, AuthResult, LoginPassword


@dataclass
class Kept:
    """One letter as a server took it."""

    sender: str
    recipients: list[str]
    content: bytes
    was_encrypted: bool
    connection: int


@dataclass
class _Handler:
    answers: dict[str, str]
    kept: list[Kept] = field(default_factory=list)
    connections: list[int] = field(default_factory=list)
    options: list[list[str]] = field(default_factory=list)
    extensions: tuple[str, ...] = ()

    async def handle_EHLO(  # noqa: N802
        self, server: Any, session: Any, envelope: Any, hostname: str, responses: list[str]
    ) -> list[str]:
        session.host_name = hostname
        return [responses[0], *(f"250-{each}" for each in self.extensions), *responses[1:]]

    async def handle_MAIL(  # noqa: N802
        self, server: Any, session: Any, envelope: Any, address: str, options: list[str]
    ) -> str:
        envelope.mail_from = address
        self.options.append(options)
        return self.answers.get(address, "250 2.1.0 Ok")

    async def handle_RCPT(  # noqa: N802
        self, server: Any, session: Any, envelope: Any, address: str, options: list[str]
    ) -> str:
        answer = self.answers.get(address, "250 2.1.5 Ok")
        if answer.startswith("2"):
            envelope.rcpt_tos.append(address)
        return answer

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:  # noqa: N802
        answer = self.answers.get("DATA", "250 2.0.0 Ok: queued as 4T9W")
        if answer.startswith("2"):
            peer = session.peer[1]
            if peer not in self.connections:
                self.connections.append(peer)
            self.kept.append(
                Kept(
                    envelope.mail_from,
                    list(envelope.rcpt_tos),
                    envelope.original_content,
                    session.ssl is not None,
                    self.connections.index(peer),
                )
            )
        return answer


class RealServer:
    """aiosmtpd on a free port of 127.0.0.1, in a thread of its own. `answers`: address (or DATA) to reply."""

    def __init__(
        self,
        *,
        certificate: tuple[Path, Path] | None = None,
        user: str = "",
        password: str = "",
        from_the_first_byte: bool = False,
        smtputf8: bool = False,
        extensions: tuple[str, ...] = (),
    ) -> None:
        """extensions: what it says it can do beside what aiosmtpd says; it takes commands in groups in any case."""
        self.answers: dict[str, str] = {}
        self.handler = _Handler(self.answers, extensions=extensions)
        self._arguments: dict[str, Any] = {"hostname": "mail.test", "enable_SMTPUTF8": smtputf8, "ident": "test"}
        self._outer: ssl.SSLContext | None = None
        if certificate is not None:
            context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
            context.load_cert_chain(*certificate)
            if from_the_first_byte:
                self._outer = context
            else:
                self._arguments |= {"tls_context": context, "require_starttls": True}
        if user:
            wanted = LoginPassword(user.encode(), password.encode())
            self._arguments |= {
                "auth_required": True,
                "auth_require_tls": not from_the_first_byte,
                "authenticator": lambda *given: AuthResult(success=given[-1] == wanted, handled=False),
            }
        self.port = 0

    @property
    def kept(self) -> list[Kept]:
        """Letters taken, in order."""
        return self.handler.kept

    def __enter__(self) -> Self:
        self._loop = asyncio.new_event_loop()
        self._loop.set_exception_handler(lambda _loop, _context: None)  # clients that vanish are part of the tests
        self._listener = self._loop.run_until_complete(
            self._loop.create_server(
                lambda: SMTP(self.handler, loop=self._loop, **self._arguments), "127.0.0.1", 0, ssl=self._outer
            )
        )
        self.port = self._listener.sockets[0].getsockname()[1]
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        asyncio.run_coroutine_threadsafe(self._stop(), self._loop).result(10)
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(10)
        self._loop.run_until_complete(self._loop.shutdown_asyncgens())
        self._loop.close()

    async def _stop(self) -> None:
        self._listener.close()
        others = [task for task in asyncio.all_tasks() if task is not asyncio.current_task()]
        for task in others:
            task.cancel()
        await asyncio.gather(*others, return_exceptions=True)
        await asyncio.sleep(0.01)  # lets transports close


class Line:
    """The server's end of one connection, for scripts."""

    def __init__(self, sock: socket.socket) -> None:
        self._sock = sock
        self._file = sock.makefile("rb")
        self.heard: list[str] = []

    def say(self, text: str) -> None:
        """Sends one line."""
        self._sock.sendall(text.encode() + b"\r\n")

    def has_more(self, within_s: float) -> bool:
        """True if anything more comes in that time, the end of the connection included."""
        self._sock.setblocking(False)
        is_there = bool(self._file.peek(1))
        self._sock.setblocking(True)
        return is_there or bool(select.select([self._sock], [], [], within_s)[0])

    def say_raw(self, octets: bytes) -> None:
        """Sends octets as they are."""
        self._sock.sendall(octets)

    def hear(self) -> str:
        """The next command, in capitals up to its first space; empty at the end."""
        line = self._file.readline().decode("utf-8", "replace").rstrip("\r\n")
        self.heard.append(line)
        return line.split(" ")[0].upper()

    def hear_letter(self) -> bytes:
        """A message up to its final dot."""
        lines = []
        while (line := self._file.readline()) not in (b".\r\n", b""):
            lines.append(line)
        return b"".join(lines)

    def greet_and_grant(self) -> None:
        """Does what a server does, up to and with 354."""
        self.say("220 scripted")
        self.grant()

    def grant(self, *, until: str = "DATA") -> str:
        """Answers commands as a server does, up to and with that one; the next command if the client leaves before."""
        while command := self.hear():
            if command == "DATA":
                self.say("354 go on")
            elif command == "QUIT":
                self.say("221 bye")
                return command
            else:
                self.say("250 ok")
            if command == until:
                return command
        return ""

    def close(self) -> None:
        """Ends the connection at once."""
        with contextlib.suppress(OSError):
            self._sock.shutdown(socket.SHUT_RDWR)
        self._file.close()
        self._sock.close()


Script = Callable[[Line], None]


class ScriptedServer:
    """Runs one script for each connection, the last one again and again. Connections end with their script."""

    def __init__(self) -> None:
        self.scripts: list[Script] = []
        self.lines: list[Line] = []
        self.letters: list[bytes] = []
        self.is_over = threading.Event()
        """Set when the test ends; for scripts that wait and do nothing."""
        self.port = 0

    def run(self, *scripts: Script) -> None:
        """What to do with the connections to come."""
        self.scripts = list(scripts)

    def __enter__(self) -> Self:
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = self._listener.getsockname()[1]
        self._threads: list[threading.Thread] = []
        self._acceptor = threading.Thread(target=self._accept, daemon=True)
        self._acceptor.start()
        return self

    def _accept(self) -> None:
        while True:
            try:
                sock, _ = self._listener.accept()
            except OSError:
                return
            line = Line(sock)
            script = self.scripts[min(len(self.lines), len(self.scripts) - 1)]
            self.lines.append(line)
            thread = threading.Thread(target=self._serve, args=(script, line), daemon=True)
            self._threads.append(thread)
            thread.start()

    def _serve(self, script: Script, line: Line) -> None:
        with contextlib.suppress(OSError, ValueError):
            script(line)
        line.close()

    def __exit__(
        self, kind: type[BaseException] | None, trouble: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.is_over.set()
        with contextlib.suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        self._acceptor.join(5)
        for thread in self._threads:
            thread.join(5)


def drip(line: Line, text: str, every_s: float = 0.05) -> None:
    """Sends a text one octet at a time, for ever again and again."""
    while True:
        for octet in text.encode():
            line.say_raw(bytes([octet]))
            time.sleep(every_s)
