"""How often one address and one key may send something in a minute, and how often an address may try wrong keys.

Keys of 256 bits cannot be guessed; this keeps a program that runs wild from keeping everybody else waiting.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator
from datetime import datetime

from fastapi import Request
from fastapi.concurrency import run_in_threadpool
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from fleetcare.assemble import Parts
from fleetcare.chance import key_hash
from fleetcare.language import later
from fleetcare.web.safety import Answer

MISSES_A_MINUTE = 120
SIGN_INS_A_MINUTE = 10
NAMES_KEPT = 10_000
"""Addresses and keys remembered; the one that was not heard of for longest is forgotten first."""
KEY_DOORS = ("/o/", "/sign-in/", "/letters/stop/", "/calendar/add/")
TOO_OFTEN = later("That was more than one can do in a minute. Nothing was changed; wait a minute, then send it again.")
WAIT_S = 60


class Buckets:
    """Leaky buckets by name: each holds a minute's worth and fills up again evenly."""

    def __init__(self, a_minute: int) -> None:
        self._most = float(a_minute)
        self._left: OrderedDict[str, tuple[float, datetime]] = OrderedDict()

    def is_empty(self, name: str, now: datetime) -> bool:
        """True if nothing is left for that name."""
        return self._most > 0 and self._now(name, now) < 1.0

    def take(self, name: str, now: datetime) -> None:
        """One less for that name."""
        if self._most <= 0:
            return
        self._left[name] = (max(0.0, self._now(name, now) - 1.0), now)
        self._left.move_to_end(name)
        while len(self._left) > NAMES_KEPT:
            self._left.popitem(last=False)

    def _now(self, name: str, now: datetime) -> float:
        left, at = self._left.get(name, (self._most, now))
        # A clock that is set back fills nothing and takes nothing away.
        return min(self._most, left + max(0.0, (now - at).total_seconds()) * self._most / 60.0)


class Turnstile:
    """ASGI layer: refuses with 429 what comes too often, before anything is read or looked up."""

    def __init__(self, app: ASGIApp, parts: Parts, answer: Answer) -> None:
        web = parts.settings.web
        self._app, self._parts, self._answer = app, parts, answer
        self._sent_from = Buckets(web.sends_a_minute_address)
        self._sent_with = Buckets(web.sends_a_minute_key)
        self._missed = Buckets(MISSES_A_MINUTE if web.sends_a_minute_address else 0)
        self._asked_in = Buckets(SIGN_INS_A_MINUTE if web.sends_a_minute_address else 0)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        request, now = Request(scope), self._parts.clock.now()
        counted = list(self._counted(request))
        if any(bucket.is_empty(name, now) for bucket, name in counted) or self._tries_keys(request, now):
            response = await run_in_threadpool(self._answer, request, 429, TOO_OFTEN)
            response.headers["Retry-After"] = str(WAIT_S)
            await response(scope, receive, send)
            return
        for bucket, name in counted:
            bucket.take(name, now)

        async def noted(message: Message) -> None:
            if message["type"] == "http.response.start" and message["status"] in (401, 404) and _key_in(request):
                self._missed.take(_address(request), now)
            await send(message)

        await self._app(scope, receive, noted)

    def _counted(self, request: Request) -> Iterator[tuple[Buckets, str]]:
        if request.method in ("GET", "HEAD", "OPTIONS"):
            return
        yield self._sent_from, _address(request)
        if request.url.path == "/sign-in":
            yield self._asked_in, _address(request)
        if key := _key_in(request):
            yield self._sent_with, key

    def _tries_keys(self, request: Request, now: datetime) -> bool:
        return bool(_key_in(request)) and self._missed.is_empty(_address(request), now)


def _address(request: Request) -> str:
    return request.client.host if request.client else ""


def _key_in(request: Request) -> str:
    """The key a request comes with, as a hash; empty if it comes with none."""
    scheme, _, bearer = request.headers.get("authorization", "").partition(" ")
    if scheme.lower() == "bearer":
        return key_hash(bearer)
    for door in KEY_DOORS:
        if request.url.path.startswith(door):
            return key_hash(request.url.path.removeprefix(door).partition("/")[0])
    return ""
