"""A browser is answered in the language it asks for, if the garage offers it; the API never is."""

from __future__ import annotations

import asyncio

import httpx
import pytest
from starlette.types import Receive, Scope, Send

from fleetcare.language import ENGLISH, Tongues, in_force
from fleetcare.settings.catalogues import LANGUAGES, tongue_of
from fleetcare.web.asked_language import AskedLanguage


async def says_its_language(scope: Scope, receive: Receive, send: Send) -> None:
    """An application that answers with the code of the language in force."""
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": in_force().code.encode()})


@pytest.mark.parametrize(
    ("offered", "path", "asked", "code"),
    [
        (LANGUAGES, "/", "de-AT,de;q=0.9,en;q=0.5", "de"),
        (LANGUAGES, "/", "en", "en"),
        (LANGUAGES, "/", "", "en"),
        (LANGUAGES, "/api/due", "de", "en"),
        (("en",), "/", "de", "en"),
    ],
)
def test_the_language_asked_for_is_in_force_for_one_answer(
    offered: tuple[str, ...], path: str, asked: str, code: str
) -> None:
    app = AskedLanguage(says_its_language, Tongues("en", offered, tongue_of))

    async def ask() -> str:
        transport = httpx.ASGITransport(app=app)
        async with httpx.AsyncClient(transport=transport, base_url="http://garage.example") as client:
            return (await client.get(path, headers={"Accept-Language": asked})).text

    assert asyncio.run(ask()) == code
    assert in_force() is ENGLISH
