"""Who is asking: by the session cookie of a person who came in, or by an API key."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlsplit

from fastapi import Request, Response

from fleetcare.actions.links import open_key
from fleetcare.assemble import Parts
from fleetcare.errors import NotAllowed
from fleetcare.fleet.access import SESSION_TIME, Purpose, Scope
from fleetcare.fleet.naming import may_enter
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import speak
from fleetcare.language.measure import measure
from fleetcare.page.light import shine

COOKIE = "fleetcare"


def reader_of(request: Request, parts: Parts) -> Person | None:
    """The person who came in, or None."""
    session = request.cookies.get(COOKIE)
    if not session:
        return None
    try:
        person = open_key(parts.store, session, Purpose.SESSION, now=parts.clock.now()).person
    except NotAllowed:
        return None
    if not request.url.path.startswith("/api/"):
        speak_with(person, parts)
    return person


def speak_with(person: Person | None, parts: Parts) -> None:
    """From here on the answer is in this person's unit, light and language; without a choice, as the browser asked."""
    if person is not None:
        measure(person.unit)
        shine(person.light)
    if person is not None and person.language:
        speak(parts.tongues.to(person.language))


@dataclass(frozen=True, slots=True)
class Caller:
    """Who calls the API. scope: what the key may do. mark: the one vehicle it is for, empty for all."""

    person: Person
    scope: Scope = Scope.ALL
    mark: str = ""

    def may_look_at(self, mark: str) -> bool:
        """Whether dates and figures of that vehicle are told."""
        return self.scope is not Scope.READINGS and self.mark in ("", mark)

    def may_enter(self, vehicle: Vehicle, garage: Garage) -> bool:
        """Whether readings of that vehicle are taken."""
        return (
            self.scope is not Scope.LOOK and self.mark in ("", vehicle.mark) and may_enter(self.person, vehicle, garage)
        )


def caller_of(request: Request, parts: Parts) -> Caller | None:
    """Who is behind an API call: by `Authorization: Bearer KEY`, else by session."""
    scheme, _, key = request.headers.get("authorization", "").partition(" ")
    if scheme.lower() != "bearer":
        reader = reader_of(request, parts)
        return None if reader is None else Caller(reader)
    try:
        opened = open_key(parts.store, key.strip(), Purpose.API, now=parts.clock.now())
    except NotAllowed:
        return None
    return None if opened.person is None else Caller(opened.person, opened.key.scope, opened.key.mark)


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
