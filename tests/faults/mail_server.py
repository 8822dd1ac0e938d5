"""A mail server on this machine that fails in every way a mail server can, by plan, and remembers what it took."""

from __future__ import annotations

import contextlib
import email
import hashlib
import socket
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from types import TracebackType
from typing import Self


class Mode(StrEnum):
    """How one attempt to deliver goes."""

    OK = "ok"
    FINAL_4XX = "final-4xx"
    """The letter is read and then refused for now."""
    RCPT_4XX = "rcpt-4xx"
    RCPT_5XX = "rcpt-5xx"
    ACCEPT_THEN_DROP = "accept-then-drop"
    """The letter is taken, and the line is cut before the answer."""
    DROP_MID_DATA = "drop-mid-data"
    SLOW_DRIP = "slow-drip"
    """The answer to RCPT comes one octet at a time and never ends."""
    HANG = "hang"
    """No answer to RCPT."""
    FINAL_HANG = "final-hang"
    """The letter is taken, and no answer ever comes."""
    GREET_SLOW = "greet-slow"
    ACCEPT_LATE = "accept-late"
    NO_EXTENSIONS = "no-extensions"
    """The server knows HELO alone."""
    AWAY = "away"
    """Nobody listens."""


UNANSWERED = (Mode.ACCEPT_THEN_DROP, Mode.FINAL_HANG)
Plan = Callable[[str, int], Mode]
"""What to do at a recipient's n-th attempt, counted from 0."""


@dataclass(frozen=True)
class Taken:
    """One copy of a letter that the server took. answered: its yes was handed to the network."""

    recipient: str
    message_id: str
    key: str
    digest: str
    at_s: float
    answered: bool


class FailingServer:
    """Serves each connection in a thread. at_once: the most connections there were at a moment."""

    def __init__(self, plan: Plan, *, slow_s: float = 0.3) -> None:
        self.plan = plan
        self.slow_s = slow_s
        self.taken: list[Taken] = []
        self.attempts: Counter[str] = Counter()
        self.at_once = 0
        self.port = 0
        self.is_over = threading.Event()
        self._open = 0
        self._guard = threading.Lock()
        self._listener: socket.socket | None = None
        self._threads: list[threading.Thread] = []

    def __enter__(self) -> Self:
        self.come_back()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, trouble: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.is_over.set()
        self.go_away()
        for thread in self._threads:
            thread.join(10)

    def come_back(self) -> None:
        """Listens, on the same port as before."""
        self._listener = socket.create_server(("127.0.0.1", self.port), backlog=64)
        self.port = self._listener.getsockname()[1]
        thread = threading.Thread(target=self._accept, args=(self._listener,), daemon=True)
        self._threads.append(thread)
        thread.start()

    def go_away(self) -> None:
        """Listens no more; connections that are open end as they end."""
        if self._listener is not None:
            with contextlib.suppress(OSError):
                self._listener.shutdown(socket.SHUT_RDWR)
            self._listener.close()
            self._listener = None

    def _accept(self, listener: socket.socket) -> None:
        while True:
            try:
                sock, _ = listener.accept()
            except OSError:
                return
            thread = threading.Thread(target=self._serve, args=(sock,), daemon=True)
            self._threads.append(thread)
            thread.start()

    def _serve(self, sock: socket.socket) -> None:
        with self._guard:
            self._open += 1
            self.at_once = max(self.at_once, self._open)
        try:
            with contextlib.suppress(OSError, ValueError):
                self._talk(sock)
        finally:
            with contextlib.suppress(OSError):
                sock.shutdown(socket.SHUT_RDWR)
            sock.close()
            with self._guard:
                self._open -= 1

    def _talk(self, sock: socket.socket) -> None:
        sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        lines = sock.makefile("rb")
        if self.plan("", 0) is Mode.GREET_SLOW:
            time.sleep(self.slow_s)
        sock.sendall(b"220 failing.example\r\n")
        mode, recipient = Mode.OK, ""
        while True:
            command = lines.readline().decode("utf-8", "replace").strip()
            word = command.split(" ")[0].upper()
            if not word:
                return
            if word == "EHLO" and self.plan("", 0) is Mode.NO_EXTENSIONS:
                sock.sendall(b"502 5.5.1 HELO alone\r\n")
            elif word == "EHLO":
                sock.sendall(b"250-failing.example\r\n250-PIPELINING\r\n250 SIZE 1000000\r\n")
            elif word == "RCPT":
                recipient = command.partition("<")[2].partition(">")[0]
                with self._guard:
                    mode = self.plan(recipient, self.attempts[recipient])
                    self.attempts[recipient] += 1
                if not self._recipient(sock, mode):
                    return
            elif word == "DATA" and mode is Mode.RCPT_5XX:
                sock.sendall(b"503 5.5.1 for whom?\r\n")
            elif word == "DATA":
                # Also for nobody: RFC 2920, 3.1 lets a server say so, and refuse what it is given then.
                sock.sendall(b"354 go on\r\n")
                if not self._letter(sock, lines, mode, recipient):
                    return
            elif word == "QUIT":
                sock.sendall(b"221 bye\r\n")
                return
            else:
                sock.sendall(b"250 ok\r\n")

    def _recipient(self, sock: socket.socket, mode: Mode) -> bool:
        """Answers RCPT; False if the connection is over."""
        if mode is Mode.HANG:
            self._hang(sock)
            return False
        if mode is Mode.SLOW_DRIP:
            while not self.is_over.wait(0.05):
                sock.sendall(b"2")
            return False
        answers = {Mode.RCPT_4XX: b"450 4.2.1 busy\r\n", Mode.RCPT_5XX: b"550 5.1.1 no such mailbox\r\n"}
        sock.sendall(answers.get(mode, b"250 ok\r\n"))
        return True

    def _letter(self, sock: socket.socket, lines: object, mode: Mode, recipient: str) -> bool:
        """Reads the letter and answers; False if the connection is over."""
        octets = b""
        while True:
            line: bytes = lines.readline()  # type: ignore[attr-defined]
            if not line or (mode is Mode.DROP_MID_DATA and len(octets) > 300):
                return False
            if line == b".\r\n":
                break
            octets += line[1:] if line.startswith(b".") else line
        if mode is Mode.RCPT_4XX:
            sock.sendall(b"554 5.5.1 for nobody\r\n" if not octets else b"250 2.0.0 a letter to nobody\r\n")
            return True
        if mode is Mode.FINAL_4XX:
            sock.sendall(b"451 4.3.0 try again later\r\n")
            return True
        if mode in UNANSWERED:
            self._take(octets, recipient, answered=False)
            if mode is Mode.FINAL_HANG:
                self._hang(sock)
            return False
        if mode is Mode.ACCEPT_LATE:
            time.sleep(self.slow_s)
        self._take(octets, recipient, answered=True)
        sock.sendall(b"250 2.0.0 taken\r\n")
        return True

    def _hang(self, sock: socket.socket) -> None:
        """Says nothing until the other side leaves or the test ends."""
        sock.settimeout(0.05)
        while not self.is_over.is_set():
            with contextlib.suppress(TimeoutError):
                if not sock.recv(1000):
                    return

    def _take(self, octets: bytes, recipient: str, *, answered: bool) -> None:
        head = email.message_from_bytes(octets)
        taken = Taken(
            recipient=recipient,
            message_id=str(head["Message-ID"]),
            key=str(head["X-Idempotency-Key"]),
            digest=hashlib.sha256(octets).hexdigest(),
            at_s=time.time(),
            answered=answered,
        )
        with self._guard:
            self.taken.append(taken)
