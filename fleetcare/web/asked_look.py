"""Units and light of a browser whose reader is not known: by a cookie that its page of choices has set."""

from __future__ import annotations

from fastapi import Response
from starlette.datastructures import Headers
from starlette.requests import cookie_parser
from starlette.types import ASGIApp, Receive, Scope, Send

from fleetcare.fleet.people import Light
from fleetcare.language.measure import measuring
from fleetcare.page.light import shining
from fleetcare.quantities import DistanceUnit

COOKIE = "fleetcare-look"
KEPT_S = 365 * 24 * 3600
_LONGEST = 20


class AskedLook:
    """ASGI layer around the routes. Who came in is then shown pages as they chose themselves."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["path"].startswith("/api/"):
            await self._app(scope, receive, send)
            return
        unit, light = look_in(cookie_parser(Headers(scope=scope).get("cookie", "")).get(COOKIE, ""))
        with measuring(unit), shining(light):
            await self._app(scope, receive, send)


def look_in(cookie: str) -> tuple[DistanceUnit | None, Light]:
    """What the cookie says; whatever cannot be read is as if nothing had been chosen."""
    unit, _, light = cookie[:_LONGEST].partition(".")
    return (
        DistanceUnit(unit) if unit in {each.value for each in DistanceUnit} else None,
        Light(light) if light in {each.value for each in Light} else Light.DEVICE,
    )


def keep_look(response: Response, unit: DistanceUnit | None, light: Light, *, secure: bool) -> None:
    """Puts the choice into a cookie that tells nothing of who made it."""
    response.set_cookie(
        COOKIE,
        f"{unit.value if unit else ''}.{light.value}",
        max_age=KEPT_S,
        httponly=True,
        samesite="lax",
        secure=secure,
        path="/",
    )
