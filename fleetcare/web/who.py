"""Who is asking: by the session cookie of a person who came in, or by an API key."""

from __future__ import annotations

from urllib.parse import urlsplit

from fastapi import Request, Response

from fleetcare.actions.links import open_key
from fleetcare.assemble import Parts
from fleetcare.errors import NotAllowed
from fleetcare.fleet.access import SESSION_TIME, Purpose
from fleetcare.fleet.people import Person

COOKIE = "fleetcare"


def reader_of(request: Request, parts: Parts) -> Person | None:
    """The person who came in, or None."""
    session = request.cookies.get(COOKIE)
    if not session:
        return None
    try:
        return open_key(parts.store, session, Purpose.SESSION, now=parts.clock.now()).person
    except NotAllowed:
        return None


def caller_of(request: Request, parts: Parts) -> Person | None:
    """The person behind an API call: by `Authorization: Bearer KEY`, else by session."""
    scheme, _, key = request.headers.get("authorization", "").partition(" ")
    if scheme.lower() != "bearer":
        return reader_of(request, parts)
    try:
        return open_key(parts.store, key.strip(), Purpose.API, now=parts.clock.now()).person
    except NotAllowed:
        return None


def keep_session(response: Response, session: str, *, secure: bool) -> None:
    """Puts the session into a cookie that scripts cannot read and other sites cannot send with a form."""
    response.set_cookie(
        COOKIE,
        session,
        max_age=int(SESSION_TIME.total_seconds()),
        httponly=True,
        samesite="lax",
        secure=secure,
        path="/",
    )


def refuse_other_sites(request: Request) -> None:
    """A form that another site sends is refused. Raises NotAllowed."""
    origin = request.headers.get("origin")
    if origin and origin != "null" and urlsplit(origin).netloc != request.headers.get("host"):
        raise NotAllowed("That form did not come from this garage’s pages.")
    if request.headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
        raise NotAllowed("That form did not come from this garage’s pages.")
