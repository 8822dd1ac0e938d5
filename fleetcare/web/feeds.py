"""The feed address, answered in front of everything else: one look into the store, no layer in between.

A feed is polled by machines for years; it must be cheap, always answer alike, and say nothing to a wrong key.
"""

from __future__ import annotations

import gzip
import logging
from collections.abc import Callable
from datetime import UTC, datetime
from email.utils import format_datetime, parsedate_to_datetime

from starlette.types import ASGIApp, Receive, Scope, Send

from fleetcare.actions.ports import Store
from fleetcare.calendar_feed.values import FeedBody
from fleetcare.chance import key_hash
from fleetcare.clock import Clock
from fleetcare.errors import StoreTrouble

PREFIX = "/feeds/"
SUFFIX = ".ics"
NOT_FOUND = b"There is no such feed.\n"
AWAY = b"The garage's machine cannot be read just now.\n"
NOT_ALLOWED = b"A feed can only be read.\n"
LONGEST_KEY = 200

log = logging.getLogger(__name__)

Headers = list[tuple[bytes, bytes]]

_ALWAYS: Headers = [
    (b"referrer-policy", b"no-referrer"),
    (b"x-content-type-options", b"nosniff"),
    (b"x-robots-tag", b"noindex"),
]


class FeedDoor:
    """ASGI callable: answers `/feeds/{key}.ics` itself and hands everything else on."""

    def __init__(self, app: ASGIApp, store: Store, clock: Clock) -> None:
        self._app = app
        self._store = store
        self._clock = clock

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or not scope["path"].startswith(PREFIX):
            await self._app(scope, receive, send)
            return
        try:
            status, headers, body = self.answer(scope["method"], scope["path"], Fields(scope["headers"]))
        except StoreTrouble:
            # A reader keeps the entries it has and comes again; an empty or a missing feed would take them away.
            status, headers, body = _plain(503, AWAY, [(b"retry-after", b"300")])
        except Exception:
            log.exception("a feed could not be answered")
            status, headers, body = _plain(500, AWAY, [(b"retry-after", b"300")])
        await send({"type": "http.response.start", "status": status, "headers": headers})
        await send({"type": "http.response.body", "body": b"" if scope["method"] == "HEAD" else body})

    def answer(self, method: str, path: str, fields: Fields) -> tuple[int, Headers, bytes]:
        """Status, headers and body for one request. HEAD has the headers of GET; the caller drops its body."""
        if method not in ("GET", "HEAD"):
            return _plain(405, NOT_ALLOWED, [(b"allow", b"GET, HEAD")])
        feed = self._feed(path)
        if feed is None:
            return _plain(404, NOT_FOUND, [])
        known = [*_ALWAYS, *_validators(feed, self._clock.now())]
        if _is_unchanged(feed, fields):
            return 304, known, b""
        body, coding = _coded(feed.body, fields.get(b"accept-encoding"))
        headers = [
            *_ALWAYS,
            *_validators(feed, self._clock.now()),
            (b"content-type", b"text/calendar; charset=utf-8"),
            *coding,
        ]
        headers.append((b"content-length", str(len(body)).encode()))
        return 200, headers, body

    def _feed(self, path: str) -> FeedBody | None:
        key = path[len(PREFIX) : -len(SUFFIX)]
        if not path.endswith(SUFFIX) or not 0 < len(key) <= LONGEST_KEY or "/" in key:
            return None
        # Looked up by hash: how long it takes says nothing about how much of a key was right.
        return self._store.feed_by_key(key_hash(key), self._clock.now())


class Fields:
    """Request header fields; a field given several times reads as one list."""

    def __init__(self, raw: list[tuple[bytes, bytes]]) -> None:
        self._raw = raw

    def get(self, name: bytes) -> str | None:
        """The value of one field, or None if it is not there."""
        values = [value.decode("latin-1") for given, value in self._raw if given.lower() == name]
        return ", ".join(values) if values else None


def _plain(status: int, text: bytes, more: Headers) -> tuple[int, Headers, bytes]:
    headers = [
        *_ALWAYS,
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"cache-control", b"no-store"),
        (b"content-length", str(len(text)).encode()),
        *more,
    ]
    return status, headers, text


def _validators(feed: FeedBody, now: datetime) -> Headers:
    # Never later than the answer itself, be the clock set back or not (RFC 9110 8.8.2.1).
    changed = min(feed.modified_at, now).astimezone(UTC)
    return [
        (b"etag", f'W/"{feed.etag}"'.encode()),
        (b"last-modified", format_datetime(changed, usegmt=True).encode()),
        (b"cache-control", b"private, no-cache"),
        (b"vary", b"Accept-Encoding"),
    ]


def _is_unchanged(feed: FeedBody, fields: Fields) -> bool:
    """Whether the reader has these bytes already. If-None-Match wins over the date (RFC 9110 13.2.2)."""
    tags = fields.get(b"if-none-match")
    if tags is not None:
        return any(_opaque(tag) in ("*", f'"{feed.etag}"') for tag in tags.split(","))
    since = fields.get(b"if-modified-since")
    if since is None:
        return False
    moment = _http_date(since)
    return moment is not None and feed.modified_at.replace(microsecond=0) <= moment


def _opaque(tag: str) -> str:
    """An entity tag without its weak mark: If-None-Match compares weakly (RFC 9110 13.1.2)."""
    return tag.strip().removeprefix("W/")


def _http_date(text: str) -> datetime | None:
    """A date of HTTP; None for anything malformed, which is then ignored (RFC 9110 13.1.3)."""
    attempt: Callable[[str], datetime] = parsedate_to_datetime
    try:
        moment = attempt(text)
    except (TypeError, ValueError, IndexError, OverflowError):
        return None
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment


def _coded(body: bytes, accepted: str | None) -> tuple[bytes, Headers]:
    """The body, compressed if it is asked for; one weak tag serves both codings (RFC 9110 8.8.3.3)."""
    if accepted is None or not _takes_gzip(accepted):
        return body, []
    # mtime=0: the same body gives the same bytes whenever it is compressed.
    return gzip.compress(body, compresslevel=6, mtime=0), [(b"content-encoding", b"gzip")]


def _takes_gzip(accepted: str) -> bool:
    weights: dict[str, float] = {}
    for part in accepted.split(","):
        name, _, parameters = part.partition(";")
        weight = parameters.strip().lower().removeprefix("q=")
        try:
            weights[name.strip().lower()] = float(weight) if parameters else 1.0
        except ValueError:
            weights[name.strip().lower()] = 0.0
    return weights.get("gzip", weights.get("*", 0.0)) > 0
