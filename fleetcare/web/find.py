"""The page that finds things by words, from any page."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from fleetcare.actions.look_for import look_for
from fleetcare.assemble import Parts
from fleetcare.fleet.people import Role
from fleetcare.page.cards.find import LONGEST_TYPED, find_card
from fleetcare.page.cards.frame import COME_IN_URL, FIND_URL
from fleetcare.web.who import reader_of


def routes(parts: Parts) -> APIRouter:
    """`/find`."""
    router = APIRouter(include_in_schema=False)

    @router.get(FIND_URL)
    def find(request: Request, words: str = "") -> Response:
        reader = reader_of(request, parts)
        if reader is None and not parts.settings.web.open_house:
            return RedirectResponse(COME_IN_URL, status_code=303)
        typed = words[:LONGEST_TYPED]
        found = look_for(
            parts.store, parts.rules.book, typed, with_people=reader is not None, now=parts.clock.now()
        )  # fmt: skip
        # Which vehicles these are is not looked up here; the list behind the button knows.
        can_enter = reader is not None and Role.ONLOOKER not in reader.roles
        return HTMLResponse(parts.pages.find(find_card(found, typed=typed, reader=reader, can_enter=can_enter)))

    return router
