"""Where an entry stands in time, as the published ledger remembers it: one line that sorts by first day and uid."""

from __future__ import annotations

from datetime import date

from fleetcare.due.outlook import Cause, DueWindow
from fleetcare.quantities import DateSpan


def place_key(uid: str, days: DateSpan, window: DueWindow | None) -> str:
    """First day, uid, end, and the three dates if there are any; sorts by first day, then uid."""
    parts = [days.first.isoformat(), uid, days.end.isoformat()]
    if window is not None:
        parts += [day.isoformat() for day in (window.early, window.likely, window.late)]
    return " ".join(parts)


def place_days(key: str) -> DateSpan:
    """The days of the entry. Raises ValueError if `place_key` did not make this."""
    parts = key.split(" ")
    if len(parts) < 3:
        raise ValueError(f"not the place of an entry: {key!r}")
    return DateSpan(date.fromisoformat(parts[0]), date.fromisoformat(parts[2]))


def place_window(key: str, cause: Cause) -> DueWindow | None:
    """The three dates it was published with, None if it had none; which cause counts is not remembered but given."""
    parts = key.split(" ")
    if len(parts) < 6:
        return None
    early, likely, late = (date.fromisoformat(part) for part in parts[3:6])
    return DueWindow(early, likely, late, cause)
