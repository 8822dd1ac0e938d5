"""The feed address, answered in front of everything else: one look into the store, no layer in between.

A feed is polled by machines for years; it must be cheap, always answer alike, and say nothing to a wrong key.
"""

from __future__ import annotations

import gzip
import logging
import threading
from collections.abc import Callable
from datetime import UTC, datetime
from email.utils import format_datetime, parsedate_to_datetime
from functools import lru_cache

from starlette.concurrency import run_in_threadpool
from starlette.types import ASGIApp, Receive, Scope, Send

from fleetcare.actions.ports import Store
from fleetcare.calendar_feed.values import FeedBody, FeedStamp
from fleetcare.chance import key_hash
from fleetcare.clock import Clock
from fleetcare.errors import StoreTrouble
from fleetcare.fleet.access import FETCH_NOTED_EVERY, Fetch
from fleetcare.web.feed_copies import FeedCopies
from fleetcare.web.feed_readers import reader_kind

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


Answer = tuple[int, Headers, bytes]
BringUp = Callable[[], object]


class FeedDoor:
    """ASGI callable: answers `/feeds/{key}.ics` itself and hands everything else on.

    copies: the last good bytes of feeds that were fetched; they are served while the store cannot be read.
    bring_up: brings calendars up to date that are owed a change; called before a poll is answered that would miss it.
    """

    def __init__(self, app: ASGIApp, store: Store, clock: Clock, copies: FeedCopies, bring_up: BringUp = tuple) -> None:
        self._app = app
        self._store = store
        self._clock = clock
        self._copies = copies
        self._bring_up = bring_up
        self._bringing_up = threading.Lock()
        self._trouble_since: datetime | None = None
        self._noted: dict[str, datetime] = {}
        """The hour of the last fetch this process noted, by key hash."""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or not scope["path"].startswith(PREFIX):
            await self._app(scope, receive, send)
            return
        fields = Fields(scope["headers"])
        found = self.answer(scope["method"], scope["path"], fields)
        if found is None:
            # Beside the loop, so that nobody else waits for it.
            await run_in_threadpool(self._give_what_is_owed)
            found = self.answer(scope["method"], scope["path"], fields, as_it_is=True)
        assert found is not None  # as it is, there always is an answer
        (status, headers, body), fetched = found
        await send({"type": "http.response.start", "status": status, "headers": headers})
        await send({"type": "http.response.body", "body": b"" if scope["method"] == "HEAD" else body})
        if fetched is not None:
            # After the answer and beside the loop: a reader never waits for a writer.
            kind = reader_kind(fields.get(b"user-agent"))
            await run_in_threadpool(self._note, fetched, kind)

    def troubles(self) -> tuple[str, ...]:
        """What the operator should know, for /readyz; empty if feeds are answered from the store."""
        if self._trouble_since is None:
            return ()
        return (f"feeds are answered from their last good copies since {self._trouble_since:%Y-%m-%d %H:%M} UTC",)

    def answer(
        self, method: str, path: str, fields: Fields, *, as_it_is: bool = False
    ) -> tuple[Answer, str | None] | None:
        """The answer to one request, and the hash of its key if the fetch is to be noted.

        None if calendars are owed a change, which this answer might miss; `as_it_is` answers all the same.
        HEAD has the headers of GET; the caller drops its body.
        """
        if method not in ("GET", "HEAD"):
            return _plain(405, NOT_ALLOWED, [(b"allow", b"GET, HEAD")]), None
        key = path[len(PREFIX) : -len(SUFFIX)]
        if not path.endswith(SUFFIX) or not 0 < len(key) <= LONGEST_KEY or "/" in key:
            return _plain(404, NOT_FOUND, []), None
        # Looked up by hash: how long it takes says nothing about how much of a key was right.
        hashed = key_hash(key)
        try:
            found = self._from_store(hashed, fields, as_it_is)
        except Exception as trouble:
            return self._from_copies(hashed, fields, trouble), None
        self._trouble_since = None
        if found is None:
            return None
        answer, is_due = found
        return answer, hashed if is_due else None

    def _give_what_is_owed(self) -> None:
        """Of several polls at one moment one does the work; the others wait for it and find it done."""
        with self._bringing_up:
            try:
                self._bring_up()
            except StoreTrouble as trouble:
                # The reader gets what was published last, and the rest at its next poll.
                log.warning("calendars could not be brought up to date: %s", type(trouble).__name__)
            except Exception:
                # A fault of ours; an old calendar is better than none.
                log.exception("calendars could not be brought up to date")

    def _from_store(self, hashed: str, fields: Fields, as_it_is: bool) -> tuple[Answer, bool] | None:
        now = self._clock.now()
        stamp = self._store.feed_stamp(hashed, now)
        if stamp is None:
            self._copies.forget(hashed)
            self._noted.pop(hashed, None)
            return _plain(404, NOT_FOUND, []), False
        if stamp.is_owed and not as_it_is:
            return None
        noted = self._noted.get(hashed)
        is_due = noted is None or now - noted >= FETCH_NOTED_EVERY
        if is_due:
            self._noted[hashed] = now.replace(minute=0, second=0, microsecond=0)
        is_kept = self._copies.has(hashed, stamp)
        if is_kept and _is_unchanged(stamp, fields):
            return (304, _unchanged(stamp, now), b""), is_due
        body = self._store.feed_by_key(hashed, now)
        if body is None:  # its key ended a moment ago
            return _plain(404, NOT_FOUND, []), False
        if not is_kept:
            self._copies.keep(hashed, body)
        return _answer(body, fields, now), is_due

    def _from_copies(self, hashed: str, fields: Fields, trouble: Exception) -> Answer:
        """A reader keeps the entries it has and comes again; an error would make some switch the calendar off."""
        now = self._clock.now()
        if self._trouble_since is None:
            self._trouble_since = now
            log.error("feeds cannot be read from the store", exc_info=trouble)
        body = self._copies.get(hashed)
        if body is not None:
            return _answer(body, fields, now)
        return _plain(503 if isinstance(trouble, StoreTrouble) else 500, AWAY, [(b"retry-after", b"300")])

    def _note(self, hashed: str, kind: str) -> None:
        now = self._clock.now()
        try:
            self._store.note_fetch(hashed, Fetch(now.replace(minute=0, second=0, microsecond=0), kind))
        except StoreTrouble as trouble:
            log.info("a fetch was not noted: %s", type(trouble).__name__)
        except Exception:
            # The reader has its answer; what went wrong with a note is nothing it should hear of.
            log.exception("a fetch was not noted")


class Fields:
    """Request header fields; a field given several times reads as one list."""

    def __init__(self, raw: list[tuple[bytes, bytes]]) -> None:
        self._raw = raw

    def get(self, name: bytes) -> str | None:
        """The value of one field, given in lower case as ASGI has it; None if it is not there."""
        found = self.raw(name)
        return None if found is None else found.decode("latin-1")

    def raw(self, name: bytes) -> bytes | None:
        """The same as it was sent."""
        found = None
        for given, value in self._raw:
            if given == name:
                found = value if found is None else found + b", " + value
        return found


def _plain(status: int, text: bytes, more: Headers) -> tuple[int, Headers, bytes]:
    headers = [
        *_ALWAYS,
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"cache-control", b"no-store"),
        (b"content-length", str(len(text)).encode()),
        *more,
    ]
    return status, headers, text


def _answer(body: FeedBody, fields: Fields, now: datetime) -> Answer:
    """304 if the reader has these bytes, else all of them."""
    if _is_unchanged(body, fields):
        return 304, _unchanged(body, now), b""
    sent, coding = _coded(body.body, fields.get(b"accept-encoding"))
    length = (b"content-length", str(len(sent)).encode())
    kind = (b"content-type", b"text/calendar; charset=utf-8")
    return 200, [*_ALWAYS, *_unchanged(body, now), kind, *coding, length], sent


def _unchanged(feed: FeedBody | FeedStamp, now: datetime) -> Headers:
    """What a 304 and a 200 say alike (RFC 9110 15.4.5)."""
    # Never later than the answer itself, be the clock set back or not (RFC 9110 8.8.2.1).
    return _validators(feed.etag, feed.modified_at if feed.modified_at <= now else now)


@lru_cache(maxsize=4096)
def _validators(etag: str, changed_at: datetime) -> Headers:
    return [
        (b"etag", _tag(etag)),
        (b"last-modified", format_datetime(changed_at.astimezone(UTC).replace(microsecond=0), usegmt=True).encode()),
        (b"cache-control", b"private, no-cache"),
        (b"vary", b"Accept-Encoding"),
    ]


@lru_cache(maxsize=4096)
def _tag(etag: str) -> bytes:
    return f'W/"{etag}"'.encode()


def _is_unchanged(feed: FeedBody | FeedStamp, fields: Fields) -> bool:
    """Whether the reader has these bytes already. If-None-Match wins over the date (RFC 9110 13.2.2)."""
    tags = fields.raw(b"if-none-match")
    if tags is not None:
        # Nearly always a reader sends back what it was sent.
        return tags == _tag(feed.etag) or any(_opaque(tag) in ("*", f'"{feed.etag}"') for tag in _listed(tags))
    since = fields.get(b"if-modified-since")
    if since is None:
        return False
    moment = _http_date(since)
    return moment is not None and feed.modified_at.replace(microsecond=0) <= moment


def _listed(tags: bytes) -> list[str]:
    return tags.decode("latin-1").split(",")


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
