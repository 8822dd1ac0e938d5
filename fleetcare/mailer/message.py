"""A letter put into its envelope: the bytes of one message to one person, the same every time."""

from __future__ import annotations

import base64
import binascii
import hashlib
import re
from datetime import UTC, datetime
from email.utils import format_datetime

from fleetcare.digest.values import Letter, LetterKind
from fleetcare.errors import BadInput, shown
from fleetcare.language import saying

LINE_LIMIT = 998
"""Octets in a line, without its CRLF. Source: RFC 5322, 2.1.1."""
_FOLD_AT = 76
_WORD_OCTETS = 39
"""Octets of text in one encoded word: with base64, its frame and `Subject: ` a line of 73, below 76 (RFC 2047, 2)."""

# RFC 5322, 3.4.1 and RFC 5321, 4.5.3.1, less quoted local parts and comments, which no person here needs.
# Letters outside ASCII are let through: whether the server takes them (RFC 6531) is found out when sending.
_ATOM = r"[^\s\x00-\x20\x7f-\x9f()<>\[\]:;@\\,.\"]+"
_ADDRESS = re.compile(rf"(?P<local>{_ATOM}(?:\.{_ATOM})*)@(?P<domain>{_ATOM}(?:\.{_ATOM})*|\[[0-9A-Fa-f:.]+\])")
_MESSAGE_ID = re.compile(r"<[A-Za-z0-9.!#$%&'*+/=?^_`{|}~-]+@[A-Za-z0-9.-]+>")
_KEY = re.compile(r"[A-Za-z0-9._:/-]{1,200}")
_URL = re.compile(r"https?://[!#-;=?-\[\]_a-z~%]+")
_DOMAIN = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9.-]{0,251}[A-Za-z0-9])?")
_PLAIN_WORDS = re.compile(r"[ -~]*")
_BARE_PHRASE = re.compile(r"[A-Za-z0-9!#$%&'*+/=?^_`{|}~ -]+")
_HEADER = re.compile(rb"([!-9;-~]+): [ -~\x80-\xff]*(?:\r\n[ \t][ -~\x80-\xff]*)*\r\n")
_CONTROL = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029]+")
_SURROGATE = re.compile("[\ud800-\udfff]")


def idempotency_key_for(person: str, kind: LetterKind, period: str, garage_id: str) -> str:
    """The key under which one letter is one and the same however often it is sent: 40 hexadecimal digits.

    Derived from whose it is (key of the person), its kind, its period and the garage, never random.
    """
    told_apart = "".join(f"{len(part)}:{part}," for part in (garage_id, person, kind.value, period))
    return hashlib.sha256(told_apart.encode("utf-8", "surrogatepass")).hexdigest()[:40]


def message_id_for(person: str, kind: LetterKind, period: str, garage_id: str, domain: str) -> str:
    """The Message-ID of one letter, angle brackets included; derived from the same facts as its key.

    domain: right of the @, plain ASCII; usually that of the sender's address. Raises BadInput.
    """
    if not _DOMAIN.fullmatch(domain):
        raise BadInput(
            saying("{domain} is not a domain name.", domain=shown(domain)), remedy="Give one such as garage.example."
        )
    return f"<{idempotency_key_for(person, kind, period, garage_id)}@{domain}>"


def checked_address(mail: str, *, field: str = "mail") -> str:
    """The mail address as given. Raises BadInput if it cannot be one, or could be read as more than one."""
    match = _ADDRESS.fullmatch(mail)
    if match is None or _SURROGATE.search(mail) or len(mail.encode()) > 254 or len(match["local"].encode()) > 64:
        raise BadInput(
            saying("{mail} is not a mail address.", mail=shown(mail)),
            remedy="Give one such as ines@garage.example.",
            field=field,
        )
    return mail


def domain_of(mail: str) -> str:
    """The part right of the @. Raises BadInput."""
    return checked_address(mail).rpartition("@")[2]


class Envelopes:
    """Puts the letters of one garage into envelopes, always with the same sender."""

    def __init__(self, *, from_name: str, from_address: str) -> None:
        """Raises BadInput if the address cannot be one."""
        self._from_name = from_name
        self._from_address = checked_address(from_address, field="from_address")
        # An id is plain ASCII even where the address is not (RFC 5322, 3.6.4).
        domain = domain_of(from_address)
        self._domain = domain if _DOMAIN.fullmatch(domain) else "fleetcare.invalid"

    def message_id(self, person: str, kind: LetterKind, period: str, garage_id: str) -> str:
        """The Message-ID of that letter, always the same for the same letter. person: key."""
        return message_id_for(person, kind, period, garage_id, self._domain)

    def raw(self, letter: Letter, *, message_id: str, date: datetime) -> bytes:
        """The whole message; its key is the part of `message_id` left of the @. Raises BadInput."""
        return build_message(
            letter,
            from_name=self._from_name,
            from_address=self._from_address,
            message_id=message_id,
            date=date,
            key=message_id.strip("<>").partition("@")[0],
        )


def build_message(
    letter: Letter, *, from_name: str, from_address: str, message_id: str, date: datetime, key: str
) -> bytes:
    """The whole message as it goes over the wire: multipart/alternative, plain text first, CRLF, ASCII bodies.

    date: instant of the decision, timezone-aware. key: goes into X-Idempotency-Key.
    The same arguments give the same bytes. The one-click headers are there if the letter can be stopped; RFC 8058
    wants an https address for them, so a plain http address (a garage tried out at home) gets List-Unsubscribe alone.
    Raises BadInput if an address, an id or a link cannot stand in a header, or if the header names that came out are
    not exactly those that were meant.
    Source: RFC 5322, 2045, 2046 (5.1.4), 2047; RFC 3834 (5) for Auto-Submitted; RFC 2369 and 8058 for the last two.
    """
    if date.tzinfo is None:
        raise ValueError("the date of a message has a time zone")
    headers = [
        ("From", _mailbox(from_name, checked_address(from_address, field="from_address"))),
        ("To", _mailbox(letter.to_name, checked_address(letter.to_mail))),
        *([("Reply-To", checked_address(letter.reply_to, field="reply_to"))] if letter.reply_to else []),
        ("Subject", _text(letter.subject)),
        ("Date", format_datetime(date.astimezone(UTC).replace(microsecond=0))),
        ("Message-ID", _matching(_MESSAGE_ID, message_id, "message id")),
        ("X-Idempotency-Key", _matching(_KEY, key, "key of a letter")),
        ("Auto-Submitted", "auto-generated"),
    ]
    if letter.stop_url:
        headers.append(("List-Unsubscribe", f"<{_matching(_URL, letter.stop_url, 'link that stops letters')}>"))
        if letter.stop_url.startswith("https://"):
            headers.append(("List-Unsubscribe-Post", "List-Unsubscribe=One-Click"))
    # "=_" never comes out of quoted-printable, so no text can hold the boundary (RFC 2045, 6.7).
    boundary = f"=_{hashlib.sha256(message_id.encode()).hexdigest()[:32]}"
    headers += [
        ("MIME-Version", "1.0"),
        ("Content-Type", f'multipart/alternative;\r\n boundary="{boundary}"'),
    ]
    head = "".join(f"{name}: {value}\r\n" for name, value in headers).encode()
    raw = b"".join(
        (
            head,
            b"\r\n",
            _part(boundary, "plain", letter.plain),
            _part(boundary, "html", letter.html),
            f"--{boundary}--\r\n".encode(),
        )
    )
    _verify(raw, [name for name, _ in headers])
    return raw


def header_names(raw: bytes) -> list[str]:
    """Names of the header fields of a message, in order, as a server reads them. Raises BadInput if it is no header."""
    names, at = [], 0
    while raw[at : at + 2] != b"\r\n":
        match = _HEADER.match(raw, at)
        if match is None:
            raise BadInput("The head of a letter cannot be read.", remedy="It was not sent.")
        names.append(match[1].decode("ascii"))
        at = match.end()
    return names


def _verify(raw: bytes, planned: list[str]) -> None:
    """Last look before the message leaves: a name or subject must never have written a header of its own."""
    if header_names(raw) != planned:
        raise BadInput("A name in this letter would change its head.", remedy="It was not sent; change that name.")
    lines = raw.split(b"\r\n")
    run_together = b"".join(lines)
    if max(map(len, lines)) > LINE_LIMIT or any(octet in run_together for octet in (b"\r", b"\n", b"\0")):
        raise BadInput("A line of this letter cannot be sent as it is.", remedy="Shorten the names and links in it.")


def _matching(pattern: re.Pattern[str], value: str, what: str) -> str:
    if not pattern.fullmatch(value) or len(value) > LINE_LIMIT - 40:
        raise BadInput(
            saying("{value} cannot be the {what}.", value=shown(value), what=what), remedy="It was not sent."
        )
    return value


def _mailbox(name: str, address: str) -> str:
    """`name <address>`; the name quoted or encoded as it needs (RFC 5322, 3.4)."""
    clean = _one_line(name)
    if not clean:
        return address
    if _BARE_PHRASE.fullmatch(clean) and "=?" not in clean and len(clean) < _FOLD_AT - 10:
        return f"{clean}\r\n <{address}>" if len(clean) + len(address) > _FOLD_AT - 10 else f"{clean} <{address}>"
    return f"{_encoded(clean)}\r\n <{address}>"


def _text(value: str) -> str:
    """The value of an unstructured field.

    Text with "=?" in it is encoded even if it is plain ASCII: left as it is, a reader would take it for an encoded
    word, and the email package of Python before 3.11.10 writes what is hidden in it as header lines of its own.
    """
    clean = _one_line(value)
    if _PLAIN_WORDS.fullmatch(clean) and "=?" not in clean and len(clean) < _FOLD_AT - 10:
        return clean
    return _encoded(clean)


def _encoded(text: str) -> str:
    """The text as encoded words, one a line, each cut between two characters (RFC 2047, 5)."""
    words, piece = [], b""
    for character in text:
        octets = character.encode()
        if len(piece) + len(octets) > _WORD_OCTETS:
            words.append(piece)
            piece = b""
        piece += octets
    words.append(piece)
    return "\r\n ".join(f"=?utf-8?b?{base64.b64encode(word).decode('ascii')}?=" for word in words)


def _one_line(text: str) -> str:
    """Without control characters and line ends, which mean nothing in a name or a subject."""
    return _CONTROL.sub(" ", _SURROGATE.sub("\ufffd", text)).strip()


def _part(boundary: str, subtype: str, text: str) -> bytes:
    body = text.replace("\r\n", "\n").replace("\r", "\n").replace("\n", "\r\n")
    try:
        octets = body.encode()
    except UnicodeEncodeError:
        octets = _SURROGATE.sub("\ufffd", body).encode()
    head = (
        f"--{boundary}\r\n"
        f'Content-Type: text/{subtype}; charset="utf-8"\r\n'
        "Content-Transfer-Encoding: quoted-printable\r\n\r\n"
    )
    # The first line decides which line ends the encoder writes, so it gets one that is CRLF.
    encoded = binascii.b2a_qp(b"\r\n" + octets)[2:]
    return head.encode() + encoded + b"\r\n"  # this line end belongs to the boundary that follows (RFC 2046, 5.1.1)
