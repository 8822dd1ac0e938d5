"""Where an entry stands in time, as the published ledger remembers it: one line that sorts by first day and uid."""

from __future__ import annotations

from datetime import date

from fleetcare.quantities import DateSpan


def place_key(uid: str, days: DateSpan) -> str:
    """First day, uid, end; sorts by first day, then uid."""
    return f"{days.first.isoformat()} {uid} {days.end.isoformat()}"


def place_days(key: str) -> DateSpan:
    """The days of the entry. Raises ValueError if `place_key` did not make this."""
    parts = key.split(" ")
    if len(parts) < 3:
        raise ValueError(f"not the place of an entry: {key!r}")
    return DateSpan(date.fromisoformat(parts[0]), date.fromisoformat(parts[2]))
