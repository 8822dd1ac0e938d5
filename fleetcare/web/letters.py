"""Stopping the garage letter: by one POST from a mail program (RFC 8058), or by a form. A GET changes nothing."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import HTMLResponse

from fleetcare.actions.links import LINK_OVER, open_key
from fleetcare.actions.write_letters import stop_letters
from fleetcare.assemble import Parts
from fleetcare.errors import NotAllowed
from fleetcare.fleet.access import Purpose
from fleetcare.language import later
from fleetcare.page.cards.stop_letters import stop_letters_card
from fleetcare.web.messages import here, told_page

STOPPED = later(
    "The garage letter, the reading requests and word of what is past late or was found do not come any more. "
    "Who keeps the list can start them again."
)


def routes(parts: Parts) -> APIRouter:
    """`/letters/stop/{key}`."""
    router = APIRouter(include_in_schema=False)

    @router.get("/letters/stop/{key}")
    def ask(key: str) -> HTMLResponse:
        opened = open_key(parts.store, key, Purpose.STOP_LETTERS, now=parts.clock.now())
        name = opened.person.first_name if opened.person else ""
        garage, today = here(parts)
        card = stop_letters_card(garage=garage, today=today, action_url=f"/letters/stop/{key}", person_name=name)
        return HTMLResponse(parts.pages.stop_letters(card))

    @router.post("/letters/stop/{key}")
    def stop(key: str) -> HTMLResponse:
        # No cookie and no origin are looked at: mail programs send this by themselves, with nothing but the key.
        if not stop_letters(parts.store, key, now=parts.clock.now()):
            raise NotAllowed(LINK_OVER)
        return HTMLResponse(told_page(parts, later("No more letters"), STOPPED))

    return router
