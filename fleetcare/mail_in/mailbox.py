"""A mailbox over IMAP (RFC 3501): mails to our reply addresses that nobody has looked at, and marking them as read."""

from __future__ import annotations

import contextlib
import imaplib
import re
import socket
import ssl
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta, timezone
from email.parser import BytesHeaderParser
from pathlib import Path
from threading import Timer
from typing import Any

from fleetcare.actions.ports import PostedMail
from fleetcare.errors import BadSettings, MailboxTrouble
from fleetcare.fleet.reply_address import ReplyAddresses
from fleetcare.language import saying
from fleetcare.mail_in.answer import ADDRESSED_IN, key_of

MOST_OCTETS = 256 * 1024
"""Of one mail so much is fetched: an answer stands at its beginning, whatever hangs on it."""
MOST_MAILS = 100
"""Answers of one round; the rest comes with the next."""
_MOST_LITERAL = 2 * MOST_OCTETS
_ARRIVED = re.compile(rb'INTERNALDATE " ?([0-9]{1,2})-([A-Za-z]{3})-([0-9]{4}) ([0-9:]{8}) ([+-])([0-9]{2})([0-9]{2})"')
_MONTHS = (b"Jan", b"Feb", b"Mar", b"Apr", b"May", b"Jun", b"Jul", b"Aug", b"Sep", b"Oct", b"Nov", b"Dec")


class ImapMailbox:
    """One folder of one account. Mails that are not addressed to us are neither fetched whole nor marked.

    security: `starttls`, `tls` (from the first byte) or `none`. timeout_s: for one answer of the server.
    total_timeout_s: for one round in all, whatever the server does. Not safe to use from two threads at once.
    """

    def __init__(
        self,
        host: str,
        port: int,
        security: str,
        user: str,
        password: str,
        *,
        folder: str,
        addresses: ReplyAddresses,
        timeout_s: float = 30.0,
        total_timeout_s: float = 300.0,
        ca_file: Path | None = None,
    ) -> None:
        """Connects to nothing yet. Raises BadSettings for a name or password outside ASCII."""
        if not (user + password + folder).isascii():
            raise BadSettings(
                "Name, password or folder of the mailbox have letters outside ASCII.", remedy="Use plain ones."
            )
        self._host, self._port, self._security = host, port, security
        self._user, self._password, self._folder = user, password, folder
        self._addresses = addresses
        self._timeout_s, self._total_timeout_s = timeout_s, total_timeout_s
        self._ca_file = ca_file
        self._others: set[tuple[bytes, bytes]] = set()
        """Mails that are not for us, by the folder's UIDVALIDITY and their UID: not asked about again."""

    @contextmanager
    def opened(self) -> Iterator[OpenMailbox]:
        """The mailbox while it is open. Raises MailboxTrouble, also from what is done inside."""
        lines: list[imaplib.IMAP4] = []
        ended = Timer(self._total_timeout_s, lambda: _hang_up(lines))
        ended.daemon = True
        ended.start()
        try:
            line = self._connected(lines)
            line.login(self._user, self._password)
            name = self._folder.replace("\\", "\\\\").replace('"', '\\"')
            _fine(line.select(f'"{name}"'))
            validity = line.response("UIDVALIDITY")[1][0] or b""
            yield OpenMailbox(line, self._addresses, self._others, validity)
        except ssl.SSLCertVerificationError as trouble:
            raise MailboxTrouble(self._not_vouched_for(trouble)) from trouble
        except (imaplib.IMAP4.error, OSError) as trouble:
            raise MailboxTrouble(
                saying(
                    "The mailbox at {host} could not be read: {why}.",
                    host=self._host,
                    why=_printable(trouble),
                )
            ) from trouble
        finally:
            ended.cancel()
            for line in lines:
                with contextlib.suppress(imaplib.IMAP4.error, OSError):
                    line.logout()
            _hang_up(lines)

    def _connected(self, lines: list[imaplib.IMAP4]) -> imaplib.IMAP4:
        """The line, which is among `lines` from the moment its socket is open: the greeting may never come."""
        if self._security == "tls":
            return _TlsLine(lines, self._host, self._port, ssl_context=self._context(), timeout=self._timeout_s)
        line = _Line(lines, self._host, self._port, timeout=self._timeout_s)
        if self._security == "starttls":
            # Raises if the server does not offer it: the password never goes out in the open.
            line.starttls(self._context())
        return line

    def _not_vouched_for(self, trouble: ssl.SSLCertVerificationError) -> str:
        """What is wrong with the server's certificate, and what to do; nothing was sent to it."""
        why = trouble.verify_message.rstrip(".") or "it could not be checked"
        return (
            f"The certificate of the mailbox's server {self._host}, port {self._port}, is not trusted ({why}), so the "
            "password was not sent. Write as host the name that stands in the certificate; if it is one of your own, "
            "name the file of who issued it as ca_file under [replies]."
        )

    def _context(self) -> ssl.SSLContext:
        return ssl.create_default_context(cafile=None if self._ca_file is None else str(self._ca_file))


class OpenMailbox:
    """A mailbox that is open."""

    def __init__(
        self, line: imaplib.IMAP4, addresses: ReplyAddresses, others: set[tuple[bytes, bytes]], validity: bytes
    ) -> None:
        self._line = line
        self._addresses = addresses
        self._others = others
        self._validity = validity

    def waiting(self) -> Iterator[PostedMail]:
        """Mails to one of our addresses that are not marked as read, oldest first, at most `MOST_MAILS`."""
        _, found = self._line.uid("SEARCH", "UNSEEN")
        unseen = (found[0] or b"").split()
        self._others &= {(self._validity, each) for each in unseen}
        taken = 0
        for number in unseen:
            if (self._validity, number) in self._others:
                continue
            if not self._is_ours(number):
                self._others.add((self._validity, number))
                continue
            head, raw = self._fetched(number, f"(INTERNALDATE BODY.PEEK[]<0.{MOST_OCTETS}>)")
            yield PostedMail(number.decode("ascii"), _arrived_at(head), raw)
            taken += 1
            if taken >= MOST_MAILS:
                return

    def mark_seen(self, mail: PostedMail) -> None:
        """From now on it does not wait any more."""
        _fine(self._line.uid("STORE", mail.number, "+FLAGS.SILENT", "(\\Seen)"))

    def _is_ours(self, number: bytes) -> bool:
        fields = " ".join(ADDRESSED_IN).upper()
        _, head = self._fetched(number, f"(BODY.PEEK[HEADER.FIELDS ({fields})]<0.{MOST_OCTETS}>)")
        return bool(key_of(BytesHeaderParser().parsebytes(head), self._addresses))

    def _fetched(self, number: bytes, what: str) -> tuple[bytes, bytes]:
        """What the server says of a mail before the octets asked for, and these."""
        found = _fine(self._line.uid("FETCH", number.decode("ascii"), what))
        pair = next((each for each in found if isinstance(each, tuple)), (b"", b""))
        # The date may stand behind the octets as well.
        rest = b" ".join(each for each in found if isinstance(each, bytes))
        return pair[0] + b" " + rest, pair[1]


class _Line(imaplib.IMAP4):
    """An IMAP connection that takes no more octets at a time than were asked for, and can be hung up early on."""

    def __init__(self, lines: list[imaplib.IMAP4], host: str, port: int, **more: Any) -> None:
        self._lines = lines
        super().__init__(host, port, **more)

    def open(self, *where: Any, **more: Any) -> None:
        """Connects."""
        super().open(*where, **more)
        self._lines.append(self)

    def read(self, size: int) -> bytes:
        """So many octets. Raises imaplib's abort for more than was asked for."""
        if size > _MOST_LITERAL:
            raise self.abort("the server sends more than was asked for")
        return super().read(size)


class _TlsLine(_Line, imaplib.IMAP4_SSL):
    """The same over TLS from the first octet."""


def _fine(answer: tuple[str, list[Any]]) -> list[Any]:
    status, said = answer
    if status != "OK":
        raise imaplib.IMAP4.error(said[0] if said else status)
    return said


def _hang_up(lines: list[imaplib.IMAP4]) -> None:
    for line in lines:
        with contextlib.suppress(OSError):
            line.sock.shutdown(socket.SHUT_RDWR)
        with contextlib.suppress(OSError):
            line.shutdown()


def _arrived_at(head: bytes) -> datetime | None:
    found = _ARRIVED.search(head)
    if found is None or found[2].title() not in _MONTHS:
        return None
    try:
        hours, minutes = int(found[6]), int(found[7])
        zone = timezone((1 if found[5] == b"+" else -1) * timedelta(hours=hours, minutes=minutes))
        hour, minute, second = (int(each) for each in found[4].split(b":"))
        day = (int(found[3]), _MONTHS.index(found[2].title()) + 1, int(found[1]))
        return datetime(*day, hour, minute, second, tzinfo=zone).astimezone(UTC)
    except (ValueError, OverflowError):
        return None


def _printable(trouble: Exception) -> str:
    said = trouble.args[0] if trouble.args and isinstance(trouble.args[0], (bytes, str)) else str(trouble)
    text = said.decode("utf-8", "replace") if isinstance(said, bytes) else said
    if isinstance(trouble, OSError) and trouble.strerror:
        text = trouble.strerror
    return " ".join("".join(ch if ch.isprintable() else " " for ch in text).split())[:300].rstrip(".")
