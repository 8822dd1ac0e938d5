"""The seal of a form: made of the session, which no other site knows; every form of a person who came in carries it."""

from __future__ import annotations

import hmac

from fastapi import Request
from starlette.datastructures import FormData

from fleetcare.assemble import Parts
from fleetcare.errors import NotAllowed
from fleetcare.fleet.people import Person
from fleetcare.page.cards.frame import SEAL_FIELD
from fleetcare.web.who import COOKIE, reader_of, refuse_other_sites

NOT_FROM_HERE = "That form did not come from this garage’s pages, or you came in anew since. Open the page again."


def seal_of(request: Request) -> str:
    """What the forms of this session carry; it tells nothing of the session. Without a session no page shows it."""
    return hmac.new(request.cookies.get(COOKIE, "").encode("utf-8", "surrogatepass"), b"form", "sha256").hexdigest()


def sender_of(parts: Parts, request: Request, form: FormData, *, not_in: str) -> Person:
    """Who sends a form that was shown to them. not_in: said to who did not come in. Raises NotAllowed."""
    person = reader_of(request, parts)
    if person is None:
        raise NotAllowed(not_in)
    refuse_unsealed(request, form)
    return person


def refuse_unsealed(request: Request, form: FormData) -> None:
    """A form that another site sends, or that was not shown to this session, is refused. Raises NotAllowed."""
    refuse_other_sites(request)
    given = form.get(SEAL_FIELD)
    carried = given.encode("utf-8", "surrogatepass") if isinstance(given, str) else b""
    if not hmac.compare_digest(carried, seal_of(request).encode()):
        raise NotAllowed(NOT_FROM_HERE)
