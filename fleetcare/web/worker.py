"""The small worker that keeps a reading on the phone while there is no signal. Pages are complete without it."""

from __future__ import annotations

import html
import json

from fastapi import APIRouter
from fastapi.responses import Response

from fleetcare.language import Tongues, in_force, speaking, tr
from fleetcare.page.render import static_folder

WORKER = "reading-worker.js"
POLICY = "default-src 'none'; connect-src 'self'"
"""It fetches from this garage, and does nothing else."""


def routes(tongues: Tongues) -> APIRouter:
    """`/reading-worker.js`: it has to lie above the pages it works for, so not with the other files."""
    router = APIRouter(include_in_schema=False)
    script = (static_folder() / WORKER).read_text(encoding="utf-8")

    @router.get(f"/{WORKER}")
    def worker(lang: str = "") -> Response:
        headers = {"Content-Security-Policy": POLICY, "Cache-Control": "no-cache"}
        with speaking(tongues.to(lang)):
            said = _said()
        return Response(f"const SAID = {said};\n{script}", media_type="text/javascript", headers=headers)

    return router


def _said() -> str:
    """Its texts in the language in force, ready to stand in a page."""
    texts = {
        "lang": in_force().code,
        "title": tr("Kept on this phone"),
        "heading": tr("Kept on this phone: {digits}", digits="{digits}"),
        "told": tr(
            "The page did not get through. Your digits are kept here and go out when there is signal, at the latest"
            " when this page is opened again."
        ),
        "again": tr("Try now"),
    }
    return json.dumps({name: html.escape(text) for name, text in texts.items()})
