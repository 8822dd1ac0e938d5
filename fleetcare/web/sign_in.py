"""Coming in by a link that was mailed or printed; no passwords are kept."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.links import come_in, go_out, open_key
from fleetcare.actions.write_letters import write_come_in_letter
from fleetcare.assemble import Parts
from fleetcare.errors import NotAllowed
from fleetcare.fleet.access import Purpose
from fleetcare.language import tr
from fleetcare.page.cards.come_in import come_in_card, confirm_card, look_in_mail_card
from fleetcare.web.form_seal import refuse_unsealed
from fleetcare.web.messages import here, list_keeper_name
from fleetcare.web.who import COOKIE, keep_session, reader_of, refuse_other_sites

LONGEST_MAIL = 254
"""RFC 5321, 4.5.3.1.3: a path has at most 256 octets with its angle brackets."""


def routes(parts: Parts) -> APIRouter:
    """`/sign-in`, `/sign-in/{key}` and `/go-out`."""
    router = APIRouter(include_in_schema=False)

    @router.get("/sign-in")
    def ask() -> HTMLResponse:
        garage, today = here(parts)
        with parts.store.read() as view:
            nobody_is_here = view.garage() is None
        return HTMLResponse(
            parts.pages.come_in(come_in_card(garage=garage, today=today, nobody_is_here=nobody_is_here))
        )

    @router.post("/sign-in")
    def mail(request: Request, mail: Annotated[str, Form()] = "") -> HTMLResponse:
        refuse_other_sites(request)
        garage, today = here(parts)
        typed = mail.strip()[:LONGEST_MAIL]
        if "@" not in typed:
            card = come_in_card(garage=garage, today=today, typed=typed, problem=tr("Type your mail address."))
            return HTMLResponse(parts.pages.come_in(card), status_code=422)
        # The answer is the same whether somebody has that address or not.
        write_come_in_letter(parts.store, parts.desk, typed, now=parts.clock.now())
        keeper = list_keeper_name(parts)
        return HTMLResponse(
            parts.pages.look_in_mail(look_in_mail_card(garage=garage, today=today, list_keeper_name=keeper))
        )

    @router.get("/sign-in/{key}")
    def confirm(key: str) -> HTMLResponse:
        # Mail programs open links by themselves; only the button on the page uses the link up.
        garage, today = here(parts)
        try:
            opened = open_key(parts.store, key, Purpose.SIGN_IN, now=parts.clock.now())
        except NotAllowed:
            return _over(parts)
        name = opened.person.first_name if opened.person else ""
        card = confirm_card(garage=garage, today=today, action_url=f"/sign-in/{key}", person_name=name)
        return HTMLResponse(parts.pages.confirm(card))

    @router.post("/sign-in/{key}")
    def enter(request: Request, key: str) -> Response:
        refuse_other_sites(request)
        try:
            session, _ = come_in(parts.store, parts.keys, key, now=parts.clock.now())
        except NotAllowed:
            return _over(parts)
        answer = RedirectResponse("/", status_code=303)
        keep_session(answer, session, secure=parts.base_url.startswith("https:"))
        return answer

    @router.post("/go-out")
    async def leave(request: Request) -> Response:
        async with request.form() as form:
            return await run_in_threadpool(lambda: out(request, form))

    def out(request: Request, form: FormData) -> Response:
        refuse_other_sites(request)
        if reader_of(request, parts) is not None:
            refuse_unsealed(request, form)
        go_out(parts.store, request.cookies.get(COOKIE, ""), now=parts.clock.now())
        answer = RedirectResponse("/", status_code=303)
        answer.delete_cookie(COOKIE, path="/")
        return answer

    return router


def _over(parts: Parts) -> HTMLResponse:
    """A used or unknown link leads to the form for a new one."""
    garage, today = here(parts)
    return HTMLResponse(
        parts.pages.come_in(come_in_card(garage=garage, today=today, link_is_over=True)), status_code=404
    )
