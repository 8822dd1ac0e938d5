"""One SMTP connection on which every wait has an end: per command, and for the letter as a whole."""

from __future__ import annotations

import re
import smtplib
import socket
import ssl
from collections.abc import Callable
from typing import Any

from fleetcare.clock import monotonic_s

_REPLY_LIMIT = 64 * 1024
"""Octets of one reply; a server that talks on without end is not listened to. RFC 5321, 4.5.3.1.5 has 512 a line."""
_SEND_PIECE = 16 * 1024


class TimeLimit:
    """How long one letter may take in all, and one command of it."""

    def __init__(self, command_s: float, total_s: float) -> None:
        self._command_s = command_s
        self._total_s = total_s
        self._ends_at = monotonic_s() + total_s

    def start_letter(self) -> None:
        """From now on the whole time is there again."""
        self._ends_at = monotonic_s() + self._total_s

    def left_s(self) -> float:
        """Seconds left for the letter as a whole. Raises TimeoutError if there are none."""
        left = self._ends_at - monotonic_s()
        if left <= 0:
            raise TimeoutError("the letter took too long in all")
        return left

    def command_left_s(self) -> float:
        """Seconds one command may take now. Raises TimeoutError if the letter has none left."""
        return min(self._command_s, self.left_s())


class _ReplyReader:
    """Reads lines of a reply until a moment in time, however the bytes trickle in.

    A time-out on the socket alone starts anew with each byte, so a server that sends one byte now and then would hold
    the connection for ever.
    """

    def __init__(self, sock: socket.socket, left_s: Callable[[], float]) -> None:
        self._sock = sock
        self._left_s = left_s
        self._buffer = b""
        self._taken = 0

    def start_reply(self) -> None:
        self._taken = 0

    def readline(self, limit: int) -> bytes:
        while b"\n" not in self._buffer and len(self._buffer) < limit:
            self._sock.settimeout(self._left_s())
            piece = self._sock.recv(4096)
            if not piece:
                break
            self._buffer += piece
        cut = self._buffer.find(b"\n") + 1 or len(self._buffer)
        cut = min(cut, limit)
        line, self._buffer = self._buffer[:cut], self._buffer[cut:]
        self._taken += len(line)
        if self._taken > _REPLY_LIMIT:
            raise OSError("the server's answer does not end")
        return line

    def close(self) -> None:
        self._buffer = b""


class Dialogue(smtplib.SMTP):
    """`smtplib.SMTP` with waits that end. It connects when it is made."""

    file: Any = None
    sock: socket.socket | None = None

    def __init__(self, limit: TimeLimit, **arguments: Any) -> None:
        self.limit = limit
        self.last_word_given = False
        super().__init__(timeout=limit.command_left_s(), **arguments)

    def getreply(self) -> tuple[int, bytes]:
        """The next reply. After the final dot it may take all the time the letter has left (RFC 5321, 4.5.3.2.6)."""
        if self.sock is not None:
            if not isinstance(self.file, _ReplyReader):
                # Also after STARTTLS: what came in before encryption is forgotten (RFC 3207, 6).
                self.file = _ReplyReader(self.sock, self._reply_left_s)
            self.file.start_reply()
            self._reply_by = monotonic_s() + (
                self.limit.left_s() if self.last_word_given else self.limit.command_left_s()
            )
        return super().getreply()

    def send(self, s: Any) -> None:
        """Sends octets or ASCII in pieces, so that a server that reads slowly is noticed. Raises OSError."""
        octets = memoryview(s.encode(self.command_encoding) if isinstance(s, str) else s)
        for start in range(0, len(octets), _SEND_PIECE):
            if self.sock is not None:
                # Commands are small and each waits for its answer; held back to be joined, a piece costs 40 ms.
                self.sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
                self.sock.settimeout(self.limit.command_left_s())
            super().send(bytes(octets[start : start + _SEND_PIECE]))

    def letter_text(self, raw: bytes, *, ahead: bytes = b"") -> tuple[int, bytes]:
        """Sends a whole message after DATA was granted and waits for the last answer. Raises OSError.

        ahead: commands that follow it without waiting; their answers are still to be read (RFC 2920, 3.1).
        """
        try:
            self.send(_as_data(raw) + ahead)
            self.last_word_given = True
            return self.getreply()
        finally:
            self.last_word_given = False

    def _reply_left_s(self) -> float:
        left = self._reply_by - monotonic_s()
        if left <= 0:
            raise TimeoutError("no answer in time")
        return left


def _as_data(raw: bytes) -> bytes:
    """A message as it follows DATA, its final dot included.

    Leading dots are doubled (RFC 5321, 4.5.2). A line end that is not CRLF is made one: servers differ on what a bare
    one means, and a letter must not be able to end itself early.
    """
    if not raw.count(b"\r\n") == raw.count(b"\r") == raw.count(b"\n"):
        raw = re.sub(rb"\r\n|\r|\n", b"\r\n", raw)
    if raw.startswith(b".") or b"\n." in raw:
        raw = re.sub(rb"(?m)^\.", b"..", raw)
    return raw + (b".\r\n" if raw.endswith(b"\r\n") else b"\r\n.\r\n")


class _TlsDialogue(Dialogue, smtplib.SMTP_SSL):
    """The same over TLS from the first byte (RFC 8314)."""


def open_dialogue(*, host: str, port: int, helo: str, limit: TimeLimit, tls: ssl.SSLContext | None) -> Dialogue:
    """A connection whose greeting was 220. tls: a context makes it TLS from the first byte.

    Raises OSError (smtplib's errors among them).
    """
    if tls is not None:
        return _TlsDialogue(limit, host=host, port=port, local_hostname=helo, context=tls)
    return Dialogue(limit, host=host, port=port, local_hostname=helo)
