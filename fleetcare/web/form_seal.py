"""The seal of a form: made of the session, which no other site knows; every form of a person who came in carries it."""

from __future__ import annotations

import hmac

from fastapi import Request
from starlette.datastructures import FormData

from fleetcare.errors import NotAllowed
from fleetcare.page.cards.frame import SEAL_FIELD
from fleetcare.web.who import COOKIE, refuse_other_sites

NOT_FROM_HERE = "That form did not come from this garage’s pages, or you came in anew since. Open the page again."


def seal_of(request: Request) -> str:
    """What the forms of this session carry; it tells nothing of the session. Without a session no page shows it."""
    return hmac.new(request.cookies.get(COOKIE, "").encode("utf-8", "surrogatepass"), b"form", "sha256").hexdigest()


def refuse_unsealed(request: Request, form: FormData) -> None:
    """A form that another site sends, or that was not shown to this session, is refused. Raises NotAllowed."""
    refuse_other_sites(request)
    given = form.get(SEAL_FIELD)
    carried = given.encode("utf-8", "surrogatepass") if isinstance(given, str) else b""
    if not hmac.compare_digest(carried, seal_of(request).encode()):
        raise NotAllowed(NOT_FROM_HERE)
