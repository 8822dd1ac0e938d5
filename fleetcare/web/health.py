"""Whether the process lives and whether it can do its work, without saying anything that is nobody's business."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from fastapi import APIRouter
from fastapi.responses import JSONResponse, PlainTextResponse, Response

from fleetcare.actions.letters_seen import letters_seen
from fleetcare.assemble import Parts
from fleetcare.digest.values import DeliveryState
from fleetcare.errors import StoreTrouble
from fleetcare.fleet.calendar_trouble import troubled

ROBOTS = "User-agent: *\nDisallow: /o/\nDisallow: /sign-in\nAllow: /feeds/\n"


def routes(parts: Parts, troubles: Callable[[], tuple[str, ...]]) -> APIRouter:
    """/healthz, /readyz, robots.txt, which lets calendar fetchers in, and no icon."""
    router = APIRouter(include_in_schema=False)

    @router.api_route("/healthz", methods=["GET", "HEAD"])
    def alive() -> PlainTextResponse:
        return PlainTextResponse("alive\n")

    @router.api_route("/readyz", methods=["GET", "HEAD"])
    def ready() -> JSONResponse:
        seen, letters = _seen(parts)
        found = [*troubles(), *seen]
        # A letter that came back and a calendar that could not be read are told and are no trouble of the program.
        calendars = letters.pop("calendars_not_read", None)
        told = {
            "ready": not found,
            "troubles": found,
            **({"letters": letters} if letters else {}),
            **({"calendars_not_read": calendars} if calendars is not None else {}),
        }
        return JSONResponse(told, status_code=503 if found else 200)

    @router.get("/favicon.ico")
    def no_icon() -> Response:
        # Browsers ask for one by themselves; the answer is kept, so that they ask once.
        return Response(status_code=204, headers={"Cache-Control": "public, max-age=2592000"})

    @router.get("/robots.txt")
    def robots() -> PlainTextResponse:
        return PlainTextResponse(ROBOTS)

    return router


def _seen(parts: Parts) -> tuple[list[str], dict[str, int]]:
    """What keeps the store or the letters from their work, and how many letters wait or did not arrive."""
    now = parts.clock.now()
    try:
        with parts.store.read() as view:
            garage = view.garage()
            unread = len(troubled(view.calendars()))
        seen = letters_seen(parts.store, now=now)
    except StoreTrouble as trouble:
        return [str(trouble)], {}
    troubles = [] if garage is not None else ["there is no garage here yet"]
    if late := len(seen.late):
        troubles.append(f"{late} letters wait for more than a quarter of an hour")
    oldest = max((now - each.decided_at for each in seen.late), default=timedelta(0))
    came_back = sum(each.state is DeliveryState.FAILED for each in seen.lost)
    return troubles, {
        "waiting": seen.waiting,
        "oldest_waits_minutes": oldest // timedelta(minutes=1),
        "came_back": came_back,
        "ran_out_of_time": len(seen.lost) - came_back,
        "calendars_not_read": unread,
    }
