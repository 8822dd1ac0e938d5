"""What all answers of the API have in common: how a refusal looks, and what is said to who did not come in."""

from __future__ import annotations

from typing import Any

from fastapi.responses import JSONResponse

from fleetcare.web.forms import Trouble


def refusals(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """For the description: each of these statuses is answered with one sentence."""
    return {status: {"model": Trouble} for status in statuses}


def come_in_first() -> JSONResponse:
    """The answer to a call without a key that opens anything; always alike."""
    return JSONResponse(
        {"error": "Send a key made with: fleetcare token PERSON, as Authorization: Bearer KEY."},
        status_code=401,
        headers={"WWW-Authenticate": "Bearer"},
    )
