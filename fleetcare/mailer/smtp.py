"""Letters over SMTP: one connection for a batch, every wait with an end, and each answer read for what it means."""

from __future__ import annotations

import contextlib
import ipaddress
import smtplib
import ssl
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from fleetcare.errors import BadInput, BadSettings, DeliveryFailed
from fleetcare.language import saying
from fleetcare.mailer.dialogue import Dialogue, TimeLimit, open_dialogue
from fleetcare.mailer.message import checked_address, domain_of

LETTERS_PER_CONNECTION = 100
_OURS_TO_MEND = frozenset({421, 503, 530, 534, 535, 538})
"""Refusals that are about this connection or its sign-in, not about a letter. Source: RFC 5321, 4.2.2; RFC 4954, 6."""


class Security(StrEnum):
    """How the connection is protected. It is never weaker than asked for."""

    NONE = "none"
    STARTTLS = "starttls"
    TLS = "tls"


@dataclass(frozen=True, slots=True)
class _Answer:
    code: int
    text: str

    @property
    def is_yes(self) -> bool:
        return 200 <= self.code < 300

    def __str__(self) -> str:
        return f"{self.code} {self.text}".strip()


_WANTED = (250, 250, 354)
"""The yes to each of MAIL, RCPT and DATA, before a letter is handed over. Source: RFC 5321, 4.3.2."""
_ANSWERS_LOST_AHEAD = 2
"""So many lost answers in a row to letters that were followed by commands ahead, and the server is given none any more:
it may be one that cannot bear them, although it says it can."""


class _LineGone(Exception):
    """The connection was lost before any of the letter was handed over; `answer` says how."""

    def __init__(self, answer: str) -> None:
        self.answer = answer
        super().__init__(answer)


class SmtpMailer:
    """Hands letters to a mail server, one at a time, over one connection until `finish`.

    Where the server can do it (PIPELINING, RFC 2920), the three commands before a letter go out together, and those for
    the next letter right behind the one before: a letter then waits for the server once. None of the next letter
    itself goes out before it is handed over by `send`.

    security: `none`, `starttls` or `tls` (from the first byte). If STARTTLS is asked for and not to be had, nothing is
    sent. The server's certificate is checked against the machine's authorities, or those of `ca_file`.
    timeout_s: for connecting and for each command. total_timeout_s: for one letter in all; after the final dot the
    server may take what is left of it.
    Not safe to use from two threads at once.
    """

    def __init__(
        self,
        host: str,
        port: int,
        security: str = Security.STARTTLS,
        user: str = "",
        password: str = "",
        *,
        from_address: str,
        timeout_s: float = 60.0,
        total_timeout_s: float = 300.0,
        verify_certificate: bool = True,
        ca_file: Path | None = None,
        letters_per_connection: int = LETTERS_PER_CONNECTION,
    ) -> None:
        """Connects to nothing yet. Raises BadSettings if the settings cannot work together."""
        if security not in set(Security):
            raise BadSettings(
                saying("“{security}” is no way to secure mail.", security=security),
                remedy="Give none, starttls or tls.",
            )
        if not host or not 0 < port < 65536:
            raise BadSettings("The mail server has no host or port.", remedy="Give both, for example port 587.")
        if timeout_s <= 0 or total_timeout_s <= 0:
            raise BadSettings("A time limit for mail is more than nothing.", remedy="Give it in seconds.")
        if user and security == Security.NONE and not _is_this_machine(host):
            raise BadSettings(
                "A mail password is only sent over an encrypted connection.", remedy="Set security to starttls or tls."
            )
        if not (user + password).isascii():
            raise BadSettings(
                "Name and password for the mail server have letters outside ASCII.", remedy="Use plain ones."
            )
        try:
            self._from = checked_address(from_address, field="from_address")
        except BadInput as bad:
            raise BadSettings(bad.what, remedy=bad.remedy, field=bad.field) from bad
        self._host, self._port = host, port
        self._security = Security(security)
        self._user, self._password = user, password
        self._verify_certificate, self._ca_file = verify_certificate, ca_file
        self._letters_per_connection = letters_per_connection
        self._limit = TimeLimit(timeout_s, total_timeout_s)
        self._line: Dialogue | None = None
        self._letters_on_line = 0
        self._asked_for: str | None = None
        """For whom the server was asked ahead; its three answers are still to be read."""
        self._answers_lost_ahead = 0

    def send(self, raw: bytes, to_mail: str, *, next_to_mail: str | None = None) -> str:
        """Hands one message over and returns the server's last answer.

        next_to_mail: for whom the next letter probably is; the server may be asked for it ahead. If another one
        follows, that costs a connection and nothing else.

        Raises DeliveryFailed: permanent if the server answered 5xx to this sender, recipient or letter; not permanent
        for 4xx, for a connection that fails or takes too long, and for sign-in or encryption that is refused, which is
        no fault of the letter (`server_away`). A connection kept from the letter before that turns out to be gone is
        opened anew, once, and only if nothing of this letter was handed over yet.
        """
        try:
            recipient = checked_address(to_mail)
        except BadInput as bad:
            raise DeliveryFailed(str(bad), permanent=True) from bad
        self._limit.start_letter()
        line = self._line_granted_for(recipient, len(raw))
        ahead = self._commands_ahead(line, next_to_mail)
        try:
            answer = _answer(*line.letter_text(raw, ahead=ahead))
        except OSError as trouble:
            self._answers_lost_ahead += bool(ahead)
            self._drop()
            raise DeliveryFailed(
                f"The connection ended before the server answered ({_said(trouble)}); the letter may have arrived.",
                permanent=False,
            ) from trouble
        if ahead:
            self._answers_lost_ahead, self._asked_for = 0, next_to_mail
        if not answer.is_yes:
            raise self._refused(answer)
        self._letters_on_line += 1
        if self._letters_on_line >= self._letters_per_connection:
            self.finish()
        return str(answer)

    def finish(self) -> None:
        """Takes leave of the server and closes the connection; what goes wrong here no longer matters."""
        # A server that was asked ahead may be waiting for a letter: it would take QUIT for the first line of it.
        if self._line is not None and self._asked_for is None:
            with contextlib.suppress(OSError):
                self._limit.start_letter()
                self._line.docmd("QUIT")
        self._drop()

    def _line_granted_for(self, recipient: str, size: int) -> Dialogue:
        """A connection on which the server has said 354 to DATA for this recipient."""
        if self._asked_for is not None and self._asked_for != recipient:
            self._drop()  # DATA cannot be taken back
        if self._line is not None:
            try:
                return self._granted(self._line, recipient, size)
            except _LineGone:
                self._drop()
        self._line = self._connected()
        try:
            return self._granted(self._line, recipient, size)
        except _LineGone as gone:
            self._drop()
            raise DeliveryFailed(
                f"The mail server ended the connection: {gone.answer}.", permanent=False, server_away=True
            ) from gone

    def _granted(self, line: Dialogue, recipient: str, size: int) -> Dialogue:
        """The same on this connection. Raises _LineGone, and DeliveryFailed with the refusal."""
        try:
            if self._asked_for is not None:
                self._asked_for = None
                refusal = self._answers(line)
            elif line.has_extn("pipelining"):
                line.send(self._commands(line, recipient, size))
                refusal = self._answers(line)
            else:
                refusal = _asked_one_by_one(line, self._commands(line, recipient, size))
        except OSError as trouble:
            raise _LineGone(_said(trouble)) from trouble
        if refusal is not None:
            failure = self._refused(refusal)
            self._forget_transaction()
            raise failure
        return line

    def _answers(self, line: Dialogue) -> _Answer | None:
        """Reads what was answered to three commands that went out together: None if all is granted, or the refusal.

        Raises OSError and _LineGone.
        """
        answers = [_heard(line) for _ in _WANTED]
        refusals = [answer for answer, wanted in zip(answers, _WANTED, strict=True) if not _fits(answer, wanted)]
        if refusals and answers[-1].code == 354:
            # It waits for a letter to nobody, and is given an empty one to refuse. Source: RFC 2920, 3.1.
            line.send(b".\r\n")
            _heard(line)
        return refusals[0] if refusals else None

    def _commands(self, line: Dialogue, recipient: str, size: int | None = None) -> bytes:
        """The commands before a letter. Raises DeliveryFailed if this server cannot take that address.

        size: of the letter in octets, told where the server wants to know (RFC 1870).
        """
        options = f" SIZE={size}" if size is not None and line.has_extn("size") else ""
        if not (self._from + recipient).isascii():
            if not line.has_extn("smtputf8"):
                raise DeliveryFailed("The mail server takes only addresses in plain letters.", permanent=True)
            options += " BODY=8BITMIME SMTPUTF8"
        return f"MAIL FROM:<{self._from}>{options}\r\nRCPT TO:<{recipient}>\r\nDATA\r\n".encode()

    def _commands_ahead(self, line: Dialogue, next_to_mail: str | None) -> bytes:
        """Commands for the next letter, or nothing if it is none for this connection."""
        if (
            next_to_mail is None
            or not line.has_extn("pipelining")
            or self._letters_on_line + 1 >= self._letters_per_connection
            or self._answers_lost_ahead >= _ANSWERS_LOST_AHEAD
        ):
            return b""
        try:
            return self._commands(line, checked_address(next_to_mail))
        except (BadInput, DeliveryFailed):
            return b""  # that is said when its turn comes

    def _connected(self) -> Dialogue:
        self._letters_on_line = 0
        try:
            context = None if self._security is Security.NONE else self._tls_context()
            line = open_dialogue(
                host=self._host,
                port=self._port,
                helo=domain_of(self._from).encode("idna").decode("ascii"),
                limit=self._limit,
                tls=context if self._security is Security.TLS else None,
            )
        except (OSError, UnicodeError) as trouble:
            raise DeliveryFailed(
                f"The mail server {self._host}, port {self._port}, cannot be reached: {_said(trouble)}.",
                permanent=False,
                server_away=True,
            ) from trouble
        try:
            line.ehlo_or_helo_if_needed()
            if self._security is Security.STARTTLS:
                # Raises if the server does not offer it or refuses: the letter waits, it never goes out in the open.
                line.starttls(context=context)
                line.ehlo_or_helo_if_needed()
            if self._user:
                line.login(self._user, self._password)
        except OSError as trouble:
            line.close()
            raise DeliveryFailed(
                f"The mail server {self._host} did not let us in: {_said(trouble)}.", permanent=False, server_away=True
            ) from trouble
        return line

    def _tls_context(self) -> ssl.SSLContext:
        context = ssl.create_default_context(cafile=None if self._ca_file is None else str(self._ca_file))
        if not self._verify_certificate:
            context.check_hostname = False
            context.verify_mode = ssl.CERT_NONE
        return context

    def _refused(self, answer: _Answer) -> DeliveryFailed:
        if answer.code == 421 or not 400 <= answer.code < 600:
            self._drop()  # it is closing, or not talking SMTP
        return DeliveryFailed(
            str(answer) or "no answer",
            permanent=500 <= answer.code < 600 and answer.code not in _OURS_TO_MEND,
            server_away=answer.code in _OURS_TO_MEND,
        )

    def _forget_transaction(self) -> None:
        if self._line is None:
            return
        try:
            answer = _answer(*self._line.docmd("RSET"))
        except OSError:
            self._drop()
            return
        if not answer.is_yes:
            self._drop()

    def _drop(self) -> None:
        if self._line is not None:
            self._line.close()
        self._line, self._asked_for = None, None


def _heard(line: Dialogue) -> _Answer:
    """The next answer. Raises OSError, and _LineGone if it says that the connection ends."""
    answer = _answer(*line.getreply())
    if answer.code == 421:
        raise _LineGone(str(answer))
    return answer


def _asked_one_by_one(line: Dialogue, commands: bytes) -> _Answer | None:
    """Each command sent when the one before was granted: None if all are, or the refusal. Raises as `_heard`."""
    for command, wanted in zip(commands.splitlines(keepends=True), _WANTED, strict=True):
        line.send(command)
        answer = _heard(line)
        if not _fits(answer, wanted):
            return answer
    return None


def _fits(answer: _Answer, wanted: int) -> bool:
    return answer.code == wanted or (wanted == 250 and answer.is_yes)


def _answer(code: int, text: bytes) -> _Answer:
    return _Answer(code, _printable(text.decode("utf-8", "replace")))


def _said(trouble: Exception) -> str:
    """What went wrong, in one line; for a refusal, the server's own words."""
    if isinstance(trouble, smtplib.SMTPResponseException):
        words = trouble.smtp_error
        text = words.decode("utf-8", "replace") if isinstance(words, bytes) else str(words)
        return _printable(f"{trouble.smtp_code} {text}")
    if isinstance(trouble, OSError) and trouble.strerror:
        return _printable(trouble.strerror)
    return _printable(str(trouble)).rstrip(".") or type(trouble).__name__


def _printable(text: str, limit: int = 400) -> str:
    if not text.isprintable():
        text = "".join(ch if ch.isprintable() else " " for ch in text)
    return " ".join(text.split())[:limit]


def _is_this_machine(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
