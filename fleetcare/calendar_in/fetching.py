"""One calendar is asked for over HTTP: each step judged, counted and timed; no cookies, no proxies, no passwords."""

from __future__ import annotations

import logging
import ssl
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import httpcore
import httpx

from fleetcare.calendar_in.connecting import Deadline, JudgeAddress, JudgingTransport
from fleetcare.calendar_in.limits import Limits
from fleetcare.errors import CalendarTrouble
from fleetcare.language import saying

_REDIRECTS = frozenset({301, 302, 303, 307, 308})
_TYPES = frozenset(
    {"", "text/calendar", "text/plain", "application/octet-stream", "application/ics", "text/x-vcalendar"}
)
"""What calendars are sent as. Many servers know no better than octet-stream; a page, a picture or JSON is none."""
_CHARSETS = {
    **dict.fromkeys(("", "utf-8", "utf8", "us-ascii", "ascii"), "utf-8"),
    **dict.fromkeys(("iso-8859-1", "latin1", "latin-1", "windows-1252", "cp1252"), "cp1252"),
    "iso-8859-15": "iso-8859-15",
}
_LONGEST_MARK = 400
"""Characters of an ETag or a date that are kept and sent back."""
AGAIN = "It is tried again; what was read before stays."

JudgeHop = Callable[[str, int], JudgeAddress]
"""For the host and port of one URL: what judges its addresses."""


@dataclass(frozen=True, slots=True)
class Fetched:
    """An answer. `body` is None: it did not change."""

    body: bytes | None
    charset: str
    etag: str
    last_modified: str


def keep_addresses_out_of_logs() -> None:
    """The libraries write URLs and the headers of redirects to their logs; here such an URL is a key."""
    for name in ("httpx", "httpcore"):
        logging.getLogger(name).setLevel(logging.WARNING)


def fetch(
    url: str,
    *,
    etag: str = "",
    last_modified: str = "",
    judge: JudgeHop,
    limits: Limits,
    tls: ssl.SSLContext,
) -> Fetched:
    """Asks for a calendar, with the marks of the copy that is kept (empty: none), and follows redirects one by one.

    Raises CalendarTrouble in words that name the host and nothing more of the URL.
    """
    deadline = Deadline(limits.total_s)
    here = _parsed(url)
    for _ in range(limits.redirects + 1):
        marks = {"If-None-Match": etag} if etag else {"If-Modified-Since": last_modified} if last_modified else {}
        answer = _asked(here, marks, judge=judge, limits=limits, tls=tls, deadline=deadline)
        if isinstance(answer, Fetched):
            return answer
        if here.scheme == "https" and answer.scheme != "https":
            raise CalendarTrouble(
                saying("{host} sends on to an address without encryption.", host=here.host), remedy=AGAIN
            )
        here = answer
    raise CalendarTrouble(
        saying("{host} is the end of more than {redirects} redirects.", host=here.host, redirects=limits.redirects),
        remedy=AGAIN,
    )


def _asked(
    url: httpx.URL,
    marks: Mapping[str, str],
    *,
    judge: JudgeHop,
    limits: Limits,
    tls: ssl.SSLContext,
    deadline: Deadline,
) -> Fetched | httpx.URL:
    """What one address answers: a calendar, or where to ask instead."""
    host, port = _host_and_port(url)
    request = httpx.Request(
        "GET",
        url,
        headers={
            "Accept": "text/calendar, text/plain;q=0.5, */*;q=0.1",
            # Compressed, half a megabyte can become five hundred; so it is not asked for, and not taken.
            "Accept-Encoding": "identity",
            "Connection": "close",
            "User-Agent": "fleetcare",
            **marks,
        },
    )
    transport = JudgingTransport(
        may_call=judge(host, port), deadline=deadline, connect_s=limits.connect_s, read_s=limits.read_s, tls=tls
    )
    try:
        answer = transport.handle_request(request)
        try:
            return _taken(answer, url, bool(marks), limits)
        finally:
            answer.close()
    except httpcore.TimeoutException:
        raise CalendarTrouble(saying("{host} did not answer in time.", host=host), remedy=AGAIN) from None
    except (httpcore.NetworkError, ssl.SSLError) as trouble:
        why = saying(" safely: its certificate is not in order") if "CERTIFICATE" in str(trouble) else ""
        raise CalendarTrouble(saying("{host} cannot be reached{why}.", host=host, why=why), remedy=AGAIN) from None
    except (httpcore.ProtocolError, httpcore.UnsupportedProtocol, httpx.InvalidURL):
        raise CalendarTrouble(
            saying("{host} broke off, or does not keep to the form of HTTP.", host=host), remedy=AGAIN
        ) from None
    finally:
        transport.close()


def _taken(answer: httpx.Response, url: httpx.URL, asked_with_marks: bool, limits: Limits) -> Fetched | httpx.URL:
    host, code = url.host, answer.status_code
    if code in _REDIRECTS:
        return _next(url, answer.headers.get("location", ""))
    if code == 304:
        if not asked_with_marks:
            raise CalendarTrouble(
                saying("{host} says that nothing changed, but has sent nothing yet.", host=host), remedy=AGAIN
            )
        return Fetched(None, "", _mark(answer, "etag"), _mark(answer, "last-modified"))
    if code in (401, 403):
        raise CalendarTrouble(
            saying("{host} does not let us in ({code}).", host=host, code=code),
            remedy="Give the secret address of the calendar.",
        )
    if code in (404, 410):
        raise CalendarTrouble(
            saying("{host} has no such calendar ({code}).", host=host, code=code), remedy="Give its address anew."
        )
    if code != 200:
        raise CalendarTrouble(
            saying("{host} answered {code} instead of a calendar.", host=host, code=code), remedy=AGAIN
        )
    if answer.headers.get("content-encoding", "identity").strip().casefold() not in ("", "identity"):
        raise CalendarTrouble(
            saying("{host} sent the calendar compressed, which was not asked for.", host=host), remedy=AGAIN
        )
    kind, _, more = answer.headers.get("content-type", "").partition(";")
    if kind.strip().casefold() not in _TYPES:
        raise CalendarTrouble(
            saying("{host} sent something that is no calendar.", host=host),
            remedy="Give the address that ends in .ics, not that of a page.",
        )
    charset = _CHARSETS.get(_charset_in(more))
    if charset is None:
        raise CalendarTrouble(
            saying("{host} sent the calendar in letters that are not known here.", host=host), remedy=AGAIN
        )
    return Fetched(_body(answer, host, limits), charset, _mark(answer, "etag"), _mark(answer, "last-modified"))


def _body(answer: httpx.Response, host: str, limits: Limits) -> bytes:
    too_large = CalendarTrouble(
        saying("{host} sent more than {megabytes} MB.", host=host, megabytes=limits.octets // 1_000_000 or 1),
        remedy="Offer a calendar with less in it.",
    )
    announced = answer.headers.get("content-length", "0")
    if announced.isascii() and announced.isdigit() and int(announced[:15]) > limits.octets:
        raise too_large
    body = bytearray()
    for piece in answer.iter_raw():
        body += piece
        if len(body) > limits.octets:
            raise too_large
    return bytes(body)


def _next(url: httpx.URL, location: str) -> httpx.URL:
    """Where a redirect leads. What stands after # and any name and password are not taken along."""
    nowhere = CalendarTrouble(saying("{host} sends on to nowhere.", host=url.host), remedy=AGAIN)
    if not location or len(location) > 4000:
        raise nowhere
    try:
        there = url.join(location).copy_with(fragment=None)
    except (httpx.InvalidURL, ValueError, UnicodeError):
        raise nowhere from None
    if there.scheme not in ("http", "https") or not there.host or there.userinfo:
        raise nowhere
    return there


def host_and_port(url: str) -> tuple[str, int]:
    """The host of an address in lower case, and its port. Raises CalendarTrouble."""
    return _host_and_port(_parsed(url))


def _host_and_port(url: httpx.URL) -> tuple[str, int]:
    return url.host, url.port or (443 if url.scheme == "https" else 80)


def _parsed(url: str) -> httpx.URL:
    try:
        return httpx.URL(url)
    except (httpx.InvalidURL, ValueError, UnicodeError):
        raise CalendarTrouble("The address of the calendar cannot be read.", remedy="Give it anew.") from None


def _mark(answer: httpx.Response, name: str) -> str:
    given = answer.headers.get(name, "")
    return given if len(given) <= _LONGEST_MARK and given.isascii() and given.isprintable() else ""


def _charset_in(parameters: str) -> str:
    for part in parameters.split(";"):
        name, _, value = part.partition("=")
        if name.strip().casefold() == "charset":
            return value.strip().strip("\"'").casefold()
    return ""
