"""What a phone fetches on a thin line goes out compressed: the style sheet, the scripts and the pages behind a link.

Pages of people who came in do not: they hold the seal of a session beside text that others may have written, and the
length of a compressed page tells about both (BREACH, https://www.breachattack.com). Who opens a page behind a link has
the key in its address, and who has not cannot ask for it.
"""

from __future__ import annotations

from starlette.middleware.gzip import GZipMiddleware
from starlette.types import ASGIApp, Receive, Scope, Send

LEAST_BYTES = 400
LEVEL = 6


class SmallAnswers:
    """ASGI layer: compresses answers of these addresses, for who can take them so."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app
        self._smaller = GZipMiddleware(app, minimum_size=LEAST_BYTES, compresslevel=LEVEL)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        is_meant = scope["type"] == "http" and _is_meant(scope["path"])
        await (self._smaller if is_meant else self._app)(scope, receive, send)


def _is_meant(path: str) -> bool:
    return path.startswith("/o/") or (path.startswith("/static/") and path.endswith((".css", ".js")))
