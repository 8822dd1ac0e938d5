"""Which kind of program fetches a calendar, told coarsely by how it names itself."""

from __future__ import annotations

from fleetcare.language import later

_KINDS = (
    ("dataaccessd", later("an Apple phone or tablet")),
    ("calendaragent", later("an Apple computer")),
    ("google-calendar", "Google Calendar"),
    ("googlebot", "Google Calendar"),
    ("outlook", "Outlook"),
    ("microsoft", "Outlook"),
    ("exchange", "Outlook"),
    ("thunderbird", "Thunderbird"),
    ("icsx5", later("an Android phone")),
    ("davx5", later("an Android phone")),
    ("nextcloud", "Nextcloud"),
    ("home assistant", "Home Assistant"),
    ("homeassistant", "Home Assistant"),
    ("vdirsyncer", "vdirsyncer"),
    ("ios/", later("an Apple phone or tablet")),
    ("macos", later("an Apple computer")),
    ("mac os x", later("an Apple computer")),
    ("mozilla/", later("a browser")),
)
"""Part of a name in lower case, and what its owner would call it. `dataaccessd` was read in a public report; the others
are from memory, so what is not known is called a program."""
UNKNOWN = later("a program")


def reader_kind(user_agent: str | None) -> str:
    """What fetches, in a few words that say nothing of versions, machines or people; `tr` says them in a language."""
    said = (user_agent or "").casefold()
    return next((kind for part, kind in _KINDS if part in said), UNKNOWN)
