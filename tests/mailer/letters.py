"""Letters to put into envelopes."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from fleetcare.digest.values import Letter, LetterKind
from fleetcare.mailer.message import build_message

FROM = "garage@karstridge.example"
TO = "teo@garage.karstridge.example"
DECIDED_AT = datetime(2026, 4, 14, 5, 0, 0, 123456, tzinfo=UTC)
MESSAGE_ID = "<4t9w@karstridge.example>"
LETTER = Letter(
    LetterKind.GARAGE,
    "Teo Lindqvist",
    TO,
    "Garage letter, 14 April: one reading wanted",
    "Teo, Bellows wants its odometer read.\n.\n..\nFrom here on: 83\u2009365 mi = Bellows\u2019.\n",
    "<p>Teo, <b>Bellows</b> wants its odometer read: 83\u2009365\u00a0mi.</p>\n" + "<br>" * 400,
    stop_url="https://garage.karstridge.example/letters/stop/k3y",
)


def message(letter: Letter = LETTER, **changes: Any) -> bytes:
    """The message made from a letter, with these arguments changed."""
    given: dict[str, Any] = {
        "from_name": "Karst Ridge Motor Club",
        "from_address": FROM,
        "message_id": MESSAGE_ID,
        "date": DECIDED_AT,
        "key": "4t9w",
    }
    return build_message(letter, **(given | changes))
