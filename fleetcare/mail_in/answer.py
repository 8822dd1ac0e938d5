"""One mail taken apart: to which request it answers, what was written in it, and whether a person wrote it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from email.message import EmailMessage, Message
from email.parser import BytesParser
from email.policy import compat32

from fleetcare.fleet.reply_address import ReplyAddresses
from fleetcare.mail_in.said import lines_said, text_of_html

ADDRESSED_IN = ("To", "Cc", "Delivered-To", "X-Original-To", "Envelope-To", "Resent-To")
"""Where the address may stand that a mail was sent to."""
_BY_PROGRAMS = frozenset(("bulk", "junk", "list", "auto_reply"))
_MOST_TEXT = 64 * 1024
"""Characters of one part that are looked at; a figure stands far above them."""


@dataclass(frozen=True, slots=True)
class MailedAnswer:
    """key: from the address it came to, empty if it came to none of ours. name: the same for the same mail.

    said: what its writer typed, as one or two readings of the mail (its plain part, its HTML part), each a run of
    lines. is_automatic: a program sent it, and nobody has read the request.
    """

    key: str
    name: str
    said: tuple[tuple[str, ...], ...]
    is_automatic: bool


def read_answer(raw: bytes, addresses: ReplyAddresses) -> MailedAnswer:
    """The mail as an answer. Whatever the bytes are, there is one; what cannot be read is left out.

    raw: may be cut off at its end.
    """
    mail = BytesParser(policy=compat32).parsebytes(raw)
    message_id = " ".join(_header(mail, "Message-ID").split())
    return MailedAnswer(
        key=key_of(mail, addresses),
        name=message_id or hashlib.sha256(raw).hexdigest(),
        said=tuple(filter(None, _said(mail))),
        is_automatic=_is_automatic(mail),
    )


def key_of(mail: Message, addresses: ReplyAddresses) -> str:
    """The key in the address that a mail came to; empty if it came to none of ours."""
    where = (str(value) for name in ADDRESSED_IN for value in mail.get_all(name, []))
    return next(filter(None, (addresses.key_in(text) for text in where)), "")


def _is_automatic(mail: Message) -> bool:
    """Source: RFC 3834, 2 and 5 (Auto-Submitted, empty return path); RFC 3462 (reports); RFC 2919 (List-Id).

    Precedence and X-Autoreply are common practice, no source.
    """
    submitted = _header(mail, "Auto-Submitted").partition(";")[0].strip().lower()
    sender = _header(mail, "From").lower()
    return (
        submitted not in ("", "no")
        or mail.get_content_type() == "multipart/report"
        or (mail["Return-Path"] is not None and _header(mail, "Return-Path").replace(" ", "") == "<>")
        or _header(mail, "Precedence").strip().lower() in _BY_PROGRAMS
        or any(mail[name] is not None for name in ("List-Id", "X-Autoreply", "X-Autorespond"))
        or "mailer-daemon@" in sender
        or "postmaster@" in sender
    )


def _said(mail: Message) -> list[tuple[str, ...]]:
    texts: dict[str, str] = {}
    for part in mail.walk():
        kind = part.get_content_type()
        if part.is_multipart() or kind in texts or kind not in ("text/plain", "text/html"):
            continue
        if part.get_content_disposition() != "attachment":
            texts[kind] = _text(part)
    plain, html = texts.get("text/plain", ""), texts.get("text/html", "")
    return [lines_said(plain), lines_said(text_of_html(html))]


def _text(part: Message) -> str:
    octets = part.get_payload(decode=True)
    if not isinstance(octets, bytes):
        return ""
    try:
        return octets.decode(part.get_content_charset("utf-8"), "replace")[:_MOST_TEXT]
    except LookupError:  # a character set that nobody here knows
        return octets.decode("utf-8", "replace")[:_MOST_TEXT]


def _header(mail: Message | EmailMessage, name: str) -> str:
    return str(mail[name] or "")
