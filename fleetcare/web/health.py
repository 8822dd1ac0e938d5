"""Whether the process lives and whether it can do its work, without saying anything that is nobody's business."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from fastapi import APIRouter
from fastapi.responses import JSONResponse, PlainTextResponse, Response

from fleetcare.assemble import Parts
from fleetcare.digest.values import DeliveryState
from fleetcare.errors import StoreTrouble

LETTER_LATE_AFTER = timedelta(minutes=15)

ROBOTS = "User-agent: *\nDisallow: /o/\nDisallow: /sign-in\nAllow: /feeds/\n"


def routes(parts: Parts, troubles: Callable[[], tuple[str, ...]]) -> APIRouter:
    """/healthz, /readyz, robots.txt, which lets calendar fetchers in, and no icon."""
    router = APIRouter(include_in_schema=False)

    @router.api_route("/healthz", methods=["GET", "HEAD"])
    def alive() -> PlainTextResponse:
        return PlainTextResponse("alive\n")

    @router.api_route("/readyz", methods=["GET", "HEAD"])
    def ready() -> JSONResponse:
        found = [*troubles(), *_store_troubles(parts)]
        return JSONResponse({"ready": not found, "troubles": found}, status_code=503 if found else 200)

    @router.get("/favicon.ico")
    def no_icon() -> Response:
        # Browsers ask for one by themselves; the answer is kept, so that they ask once.
        return Response(status_code=204, headers={"Cache-Control": "public, max-age=2592000"})

    @router.get("/robots.txt")
    def robots() -> PlainTextResponse:
        return PlainTextResponse(ROBOTS)

    return router


def _store_troubles(parts: Parts) -> list[str]:
    now = parts.clock.now()
    try:
        with parts.store.read() as view:
            garage = view.garage()
            waiting = view.deliveries(DeliveryState.DUE)
    except StoreTrouble as trouble:
        return [str(trouble)]
    troubles = [] if garage is not None else ["there is no garage here yet"]
    late = sum(1 for letter in waiting if now - letter.decided_at > LETTER_LATE_AFTER)
    if late:
        troubles.append(f"{late} letters wait for more than a quarter of an hour")
    return troubles
