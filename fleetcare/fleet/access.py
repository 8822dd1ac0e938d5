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
    REPLY = "reply"
    """Stands in the address that answers to a reading request are sent to."""


class Scope(StrEnum):
    """What a program may do with an API key of a person, within what that person may do."""

    ALL = "all"
    LOOK = "look"
    """Reads due windows and vehicles, and enters nothing."""
    READINGS = "readings"
    """Enters readings, and reads nothing but what came of them."""


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
    name: str = ""
    """What its owner calls it: phone, laptop. Feed keys have one; alive, it is unique among the keys of one feed.

    Of a reply key: the key of the meter that was asked about.
    """
    replaced_at: datetime | None = None
    """Another key took its place then; until `expires_at` its address says so, and nothing else."""
    scope: Scope = Scope.ALL
    """Of an API key. Together with a mark it is for that vehicle alone."""

    def opens(self, purpose: Purpose, now: datetime) -> bool:
        """True if it is for that purpose, not revoked and not out of time."""
        return (
            self.purpose is purpose and self.revoked_at is None and (self.expires_at is None or now < self.expires_at)
        )


@dataclass(frozen=True, slots=True)
class Fetch:
    """When a feed was last fetched by a key, to the hour, and by what kind of reader."""

    at: datetime
    reader: str


FETCH_NOTED_EVERY = timedelta(hours=1)
"""A feed is polled all day; its last fetch is noted once an hour, so that polls do not write."""

SIGN_IN_TIME = timedelta(minutes=15)
PRINTED_SIGN_IN_TIME = timedelta(days=1)
SESSION_TIME = timedelta(days=90)
LETTER_LINK_TIME = timedelta(days=35)
"""A month until the next request, and some days to find it."""
STOP_TIME = timedelta(days=400)
"""A letter that is found again after a year can still be stopped."""

FAREWELL_TIME = timedelta(days=30)
"""So long a replaced address says that it was replaced. Common practice, no source: a month of polls and holidays."""
LONGEST_NAME = 40

BAY = "bay"
"""Stands where a mark does, for the calendar of the bay; no vehicle has a mark of three letters."""

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
