"""In which language a browser is answered while nobody is known: by its Accept-Language, else the garage's own."""

from __future__ import annotations

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

from fleetcare.language import Tongues, speaking


class AskedLanguage:
    """ASGI layer around the routes. A person who comes in and has chosen a language is then answered in theirs."""

    def __init__(self, app: ASGIApp, tongues: Tongues) -> None:
        self._app = app
        self._tongues = tongues

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["path"].startswith("/api/"):
            await self._app(scope, receive, send)
            return
        asked = Headers(scope=scope).get("accept-language", "")
        with speaking(self._tongues.asked_by(asked)):
            await self._app(scope, receive, send)
