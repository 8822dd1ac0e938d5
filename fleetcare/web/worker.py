"""The small worker that keeps a reading on the phone while there is no signal. Pages are complete without it."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from fleetcare.page.render import static_folder

WORKER = "reading-worker.js"
POLICY = "default-src 'none'; connect-src 'self'"
"""It fetches from this garage, and does nothing else."""


def routes() -> APIRouter:
    """`/reading-worker.js`: it has to lie above the pages it works for, so not with the other files."""
    router = APIRouter(include_in_schema=False)
    script = (static_folder() / WORKER).read_bytes()

    @router.get(f"/{WORKER}")
    def worker() -> Response:
        headers = {"Content-Security-Policy": POLICY, "Cache-Control": "no-cache"}
        return Response(script, media_type="text/javascript", headers=headers)

    return router
