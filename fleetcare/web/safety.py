"""What every answer carries, how large a request may be, and how errors become pages or data."""

from __future__ import annotations

import logging
import re
from typing import Protocol

from fastapi import FastAPI, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse, Response
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from fleetcare.actions.links import LINK_OVER
from fleetcare.assemble import Parts
from fleetcare.chance import key_hash
from fleetcare.errors import Clash, FleetcareError, NotAllowed, NotFound, StoreFull, StoreTrouble, shown
from fleetcare.language import saying
from fleetcare.page.scripts import entry_script_hash
from fleetcare.web.messages import trouble_page

LARGEST_BODY = 1_000_000
LARGEST_WITH_PHOTOS = 64_000_000
"""Of a job sheet that is handed in; only who came in gets that far."""
WITH_PHOTOS = re.compile(r"/work/[0-9]{1,8}/hand-in")
CONTENT_POLICY = (
    f"default-src 'none'; style-src 'self'; font-src 'self' data:; script-src 'self' '{entry_script_hash()}'; "
    "img-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
"""The pages ask nothing of another host. Inline they hold one script, to the byte, and a style sheet holds one font."""
HEADERS = {
    "Content-Security-Policy": CONTENT_POLICY,
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Robots-Tag": "noindex",
    "Cache-Control": "no-store",
}

log = logging.getLogger(__name__)


class Answer(Protocol):
    """Makes a page for people or data for programs out of an error."""

    def __call__(self, request: Request, status: int, sentence: str, field: str = "", mark: str = "") -> Response:
        """The whole answer."""
        ...


class Guard:
    """ASGI layer: security headers on every answer, and an end to bodies that are too large."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        taken = 0
        has_photos = WITH_PHOTOS.fullmatch(scope["path"]) is not None
        most = LARGEST_WITH_PHOTOS if has_photos else LARGEST_BODY

        async def counted() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > most:
                too_much = saying("That is too much for one request; a megabyte is the most.")
                if has_photos:
                    most_mb = most // 1_000_000
                    too_much = saying("That is too much for one request; {most} megabytes are the most.", most=most_mb)
                raise HTTPException(413, too_much)
            return message

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                present = {name.lower() for name, _ in message["headers"]}
                message["headers"] = [
                    *message["headers"],
                    *(
                        (name.lower().encode(), value.encode())
                        for name, value in HEADERS.items()
                        if name.lower().encode() not in present
                    ),
                ]
            await send(message)

        await self._app(scope, counted, with_headers)


def status_of(error: FleetcareError) -> int:
    """The HTTP status an error of ours answers with."""
    if isinstance(error, NotFound):
        return 404
    if isinstance(error, NotAllowed):
        # A key that opens nothing looks like an address that is not there.
        return 404 if str(error) == LINK_OVER else 403
    if isinstance(error, StoreTrouble):
        return 507 if isinstance(error, StoreFull) else 503
    return 409 if isinstance(error, Clash) else 422


def _malformed(error: RequestValidationError) -> tuple[str, str]:
    """One sentence about the first thing that is wrong, and its field; little of what was sent is given back."""
    first = error.errors()[0]
    place = [part for part in first["loc"] if part not in ("body", "query", "path")]
    field = place[0] if place and isinstance(place[0], str) else ""
    match first["type"]:
        case "json_invalid":
            return "That is not JSON; see /api/openapi.json for what is taken.", ""
        case "extra_forbidden":
            return f"There is no field called {shown(field, 40)}.", "".join(c for c in field[:40] if c.isprintable())
        case "missing":
            return f"{field or 'The body'} is missing; see /api/openapi.json for what is taken.", field
        case _:
            return f"{field or 'The body'}: {str(first['msg'])[:120].rstrip('.')}.", field


def add_error_answers(app: FastAPI, parts: Parts) -> Answer:
    """Errors become a page for people and data for programs; nothing of the inside shows. Returns what makes them."""

    def answer(request: Request, status: int, sentence: str, field: str = "", mark: str = "") -> Response:
        more = {"Retry-After": "5"} if status in (503, 507) else None
        if request.url.path.startswith("/api/"):
            body = {"error": sentence, **({"field": field} if field else {})}
            return JSONResponse(body, status_code=status, headers=more)
        page = trouble_page(parts, status, sentence, mark=mark, posted=request.method == "POST")
        return HTMLResponse(page, status_code=status, headers=more)

    @app.exception_handler(FleetcareError)
    def ours(request: Request, error: Exception) -> Response:
        assert isinstance(error, FleetcareError)
        return answer(request, status_of(error), error.said, getattr(error, "field", ""))

    @app.exception_handler(RequestValidationError)
    def malformed(request: Request, error: Exception) -> Response:
        assert isinstance(error, RequestValidationError)
        sentence, field = _malformed(error)
        return answer(request, 422, sentence, field)

    @app.exception_handler(HTTPException)
    def framework(request: Request, error: Exception) -> Response:
        assert isinstance(error, HTTPException)
        is_api = request.url.path.startswith("/api/")
        form = saying("That form cannot be read. Send it again from its page.")
        sentences = {
            400: "That body cannot be read." if is_api else form,
            404: "There is no such address." if is_api else "",
            405: saying("That cannot be done with this address."),
        }
        return answer(request, error.status_code, sentences.get(error.status_code, error.detail))

    app.add_middleware(LastResort, parts=parts, answer=answer)
    return answer


class LastResort:
    """ASGI layer around the routes: whatever nobody foresaw is logged under a short mark, and the mark is answered."""

    def __init__(self, app: ASGIApp, parts: Parts, answer: Answer) -> None:
        self._app = app
        self._parts = parts
        self._answer = answer

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        has_begun = False

        async def noted(message: Message) -> None:
            nonlocal has_begun
            has_begun = has_begun or message["type"] == "http.response.start"
            await send(message)

        try:
            await self._app(scope, receive, noted)
        except Exception as trouble:
            mark = key_hash(f"{self._parts.clock.now().isoformat()}{trouble!r}")[:6].upper()
            log.exception("trouble %s", mark)
            if scope["type"] != "http" or has_begun:
                raise
            sentence = saying("The garage’s machine stumbled; nothing was saved. Tell its keeper: {mark}.", mark=mark)
            response = await run_in_threadpool(self._answer, Request(scope), 500, sentence, mark=mark)
            await response(scope, receive, send)
