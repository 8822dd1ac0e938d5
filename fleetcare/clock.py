"""The only place that asks the machine for the time."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from typing import Protocol


class Clock(Protocol):
    """Says what time it is. Actions take one, ask once and hand the answer down."""

    def now(self) -> datetime:
        """This instant, timezone-aware, in UTC."""
        ...


class MachineClock:
    """The time of the machine this runs on."""

    def now(self) -> datetime:
        """This instant in UTC."""
        return datetime.now(UTC)


def monotonic_s() -> float:
    """Seconds that only run forward, for measuring how long something took."""
    return time.monotonic()
