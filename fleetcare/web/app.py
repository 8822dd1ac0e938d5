"""The application: feeds in front, then pages, the API and health behind a guard."""

from __future__ import annotations

from collections.abc import Callable
from importlib import resources

from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles
from starlette.responses import Response
from starlette.types import ASGIApp, Scope

from fleetcare import __version__
from fleetcare.assemble import Parts
from fleetcare.page.style import SHEETS
from fleetcare.planner import Planner
from fleetcare.web import (
    api,
    api_plan,
    api_readings,
    away,
    bay_days,
    edit_vehicle,
    find,
    findings,
    fit_part,
    handbook,
    health,
    held_readings,
    history,
    lay_up,
    letter_choice,
    letters,
    look,
    move_part,
    new_vehicle,
    odometer,
    pages,
    people,
    proposals,
    service_changes,
    shared_calendars,
    sheets,
    shopping,
    sign_in,
    stickers,
    tags,
    work,
    worker,
    workshop,
    your_calendar,
)
from fleetcare.web.asked_language import AskedLanguage
from fleetcare.web.asked_look import AskedLook
from fleetcare.web.feed_copies import FOLDER, FeedCopies
from fleetcare.web.feeds import FeedDoor
from fleetcare.web.safety import Guard, add_error_answers
from fleetcare.web.small_answers import SmallAnswers
from fleetcare.web.turnstile import Turnstile

STATIC_LIFE_S = 30 * 24 * 3600
KEEP = f"public, max-age={STATIC_LIFE_S}"


class LongLived(StaticFiles):
    """Fonts, scripts and the style sheet; their addresses change with their content, so they may be kept for long."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """A style sheet, which is put together from its parts, or the file of that name."""
        if path in SHEETS and scope["method"] in ("GET", "HEAD"):
            return Response(SHEETS[path](), media_type="text/css", headers={"Cache-Control": KEEP})
        return await super().get_response(path, scope)

    def file_response(self, *args, **kwargs):  # type: ignore[no-untyped-def]
        """The file, with leave to keep it."""
        response = super().file_response(*args, **kwargs)
        response.headers["Cache-Control"] = KEEP
        return response


def create_app(
    parts: Parts, *, troubles: Callable[[], tuple[str, ...]] = tuple, planner: Planner | None = None
) -> ASGIApp:
    """The whole application as one ASGI callable.

    troubles: what keeps the timetable from its work, for /readyz. planner: works bay days out; one of its own if none
    is given.
    """
    app = FastAPI(
        title="fleetcare",
        version=__version__,
        openapi_url="/api/openapi.json",
        # The usual documentation pages fetch scripts from elsewhere; nothing here leaves the garage's own host.
        docs_url=None,
        redoc_url=None,
        redirect_slashes=False,
    )
    answer = add_error_answers(app, parts)
    app.add_middleware(Turnstile, parts=parts, answer=answer)
    app.add_middleware(SmallAnswers)
    app.add_middleware(AskedLook)
    app.add_middleware(AskedLanguage, tongues=parts.tongues)
    of_vehicles = (pages, find, handbook, workshop, odometer, held_readings, stickers, lay_up, history)
    of_one_vehicle = (new_vehicle, edit_vehicle, fit_part, move_part, service_changes)
    of_the_bay = (work, sheets, shopping, findings, away, tags)
    plans = planner or Planner(parts)
    app.include_router(proposals.routes(parts, plans))
    app.include_router(bay_days.routes(parts, plans))
    app.include_router(api_plan.routes(parts, plans))
    for room in (
        *of_vehicles,
        *of_one_vehicle,
        *of_the_bay,
        your_calendar,
        shared_calendars,
        letter_choice,
        look,
        people,
        sign_in,
        letters,
        api_readings,
        api,
    ):
        app.include_router(room.routes(parts))
    app.include_router(worker.routes(parts.tongues))
    # The feeds stand in front of the application, and /readyz, which is in it, tells of them.
    copies = FeedCopies(parts.home / FOLDER)
    door = FeedDoor(Guard(app), parts.store, parts.clock, copies, parts.bring_feeds_up)
    app.include_router(health.routes(parts, lambda: (*troubles(), *door.troubles())))
    static = resources.files("fleetcare.page") / "static"
    app.mount("/static", LongLived(directory=str(static)), name="static")
    return door
