"""The findings that wait, over HTTP, and the form by which one is settled, put off or looked at again."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.answer_finding import Reply, answer_finding
from fleetcare.actions.look_at_findings import findings_waiting
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput, Clash, NotAllowed, NotFound
from fleetcare.fleet.naming import may_enter, may_plan
from fleetcare.fleet.people import Person
from fleetcare.intake.dates import parse_day
from fleetcare.intake.sheet_words import share_in
from fleetcare.intake.text import clean_text
from fleetcare.page.cards.findings import BY_FIELD, NOTE_FIELD, SHARE_FIELD, SHOWN_FIELD, TriedAnswer, findings_card
from fleetcare.page.cards.frame import COME_IN_URL, FINDINGS_URL
from fleetcare.web.changed import back_to, changed_at
from fleetcare.web.form_seal import seal_of, sender_of
from fleetcare.web.reading_form import count_of, text_of
from fleetcare.web.safety import status_of
from fleetcare.web.who import reader_of

NOT_IN = "Findings are settled by people who came in. Come in, then send it again."
NOT_YOURS = "What follows from a finding is said by the keeper of its vehicle or a mechanic. They can let you in."
_LONGEST = 300
_REPLIES = {each.value: each for each in Reply}


def routes(parts: Parts) -> APIRouter:
    """`/findings` and `/findings/{finding}`."""
    router = APIRouter(include_in_schema=False)

    @router.get(FINDINGS_URL)
    def page(request: Request, start: str = "") -> Response:
        reader = reader_of(request, parts)
        if reader is None and not parts.settings.web.open_house:
            return RedirectResponse(COME_IN_URL, status_code=303)
        return _page(parts, request, reader, start=count_of(start))

    @router.post(f"{FINDINGS_URL}/{{finding}}")
    async def answer(request: Request, finding: str) -> Response:
        async with request.form() as form:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: _answer(parts, request, form, finding))

    return router


def _page(
    parts: Parts,
    request: Request,
    reader: Person | None,
    *,
    start: int = 0,
    tried: TriedAnswer | None = None,
    status: int = 200,
) -> HTMLResponse:
    waiting = findings_waiting(parts.store, parts.rules, now=parts.clock.now(), kept=parts.kept_outlooks)
    garage, vehicles = waiting.garage, waiting.vehicles
    card = findings_card(
        garage=garage,
        reader=reader,
        today=waiting.today,
        findings=waiting.findings,
        outlooks=waiting.outlooks,
        cuts=waiting.cuts,
        names={person.key: person.first_name for person in waiting.people},
        may_answer={v.mark for v in vehicles if reader is not None and may_plan(reader, v, garage)},
        can_enter=reader is not None and any(v.meters and may_enter(reader, v, garage) for v in vehicles),
        done=changed_at(parts, request, reader, waiting.today),
        tried=tried,
        start=start,
    )
    return HTMLResponse(parts.pages.findings(card, seal_of(request)), status_code=status)


def _answer(parts: Parts, request: Request, form: FormData, key: str) -> Response:
    person = sender_of(parts, request, form, not_in=NOT_IN)
    now = parts.clock.now()
    waiting = findings_waiting(parts.store, parts.rules, now=now, kept=parts.kept_outlooks)
    every = (*waiting.findings, *(cut.finding for cut in waiting.cuts))
    mark = next((each.line.mark for each in every if each.key == key), "")
    answered_for = [v.mark for v in waiting.vehicles if may_plan(person, v, waiting.garage)]
    if not answered_for or (mark and mark not in answered_for):
        raise NotAllowed(NOT_YOURS)
    note, by, share, reply = (text_of(form, field) for field in (NOTE_FIELD, BY_FIELD, SHARE_FIELD, "reply"))
    try:
        if reply not in _REPLIES:
            raise BadInput("Nothing was said of the finding.", remedy="Press one of the buttons.", field="reply")
        answer_finding(
            parts.store,
            parts.rules,
            key,
            _REPLIES[reply],
            note=clean_text(note, field=NOTE_FIELD, limit=_LONGEST) if note.strip() else "",
            by_day=parse_day(by, field=BY_FIELD) if by.strip() else None,
            share=share_in(share, SHARE_FIELD) if reply == Reply.CUT and share.strip() else None,
            shown=text_of(form, SHOWN_FIELD) or None,
            now=now,
            who=person.key,
            base_url=parts.base_url,
        )
    except (BadInput, Clash, NotFound) as trouble:
        tried = TriedAnswer(key, trouble.words(), note[:_LONGEST], by[:10], share[:10])
        return _page(parts, request, person, tried=tried, status=status_of(trouble))
    return back_to(FINDINGS_URL, now)
