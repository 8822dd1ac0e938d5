"""Keys for links: what each opens, for how long, and under which address."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum


class Purpose(StrEnum):
    """What a key opens."""

    FEED = "feed"
    ODOMETER = "odometer"
    SIGN_IN = "sign-in"
    SESSION = "session"
    API = "api"
    STOP_LETTERS = "stop letters"


@dataclass(frozen=True, slots=True)
class AccessKey:
    """A key as stored: only its hash. `person` and `mark` say whose it is and for which vehicle (empty: none)."""

    hash: str
    purpose: Purpose
    person: str
    mark: str
    made_at: datetime
    expires_at: datetime | None = None
    revoked_at: datetime | None = None

    def opens(self, purpose: Purpose, now: datetime) -> bool:
        """True if it is for that purpose, not revoked and not out of time."""
        return (
            self.purpose is purpose and self.revoked_at is None and (self.expires_at is None or now < self.expires_at)
        )


SIGN_IN_TIME = timedelta(minutes=30)
PRINTED_SIGN_IN_TIME = timedelta(days=1)
SESSION_TIME = timedelta(days=90)
LETTER_LINK_TIME = timedelta(days=35)
"""A month until the next request, and some days to find it."""
STOP_TIME = timedelta(days=400)
"""A letter that is found again after a year can still be stopped."""

_PATHS = {
    Purpose.FEED: "/feeds/{key}.ics",
    Purpose.ODOMETER: "/o/{key}",
    Purpose.SIGN_IN: "/sign-in/{key}",
    Purpose.STOP_LETTERS: "/letters/stop/{key}",
}


def link_address(base_url: str, purpose: Purpose, key: str) -> str:
    """The whole address of a link; for a key that is sent along with calls, the key itself."""
    path = _PATHS.get(purpose)
    return key if path is None else base_url + path.format(key=key)
