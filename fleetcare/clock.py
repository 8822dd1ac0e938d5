"""The only place that asks the machine for the time."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
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


def machine_zone() -> str:
    """The IANA name of the time zone this machine is set to, `UTC` if it has none."""
    from tzlocal import get_localzone_name

    try:
        return get_localzone_name() or "UTC"
    except (ValueError, LookupError, OSError):  # set to something that is no zone
        return "UTC"


def monotonic_s() -> float:
    """Seconds that only run forward, for measuring how long something took."""
    return time.monotonic()


class StepWatch:
    """Notices when the clock of the machine was set while the program ran: it went on by another span than time did."""

    def __init__(self, clock: Clock, ticks_s: Callable[[], float] = monotonic_s) -> None:
        """ticks_s: seconds that only run forward, whatever is set."""
        self._clock = clock
        self._ticks_s = ticks_s
        self._last = (clock.now(), ticks_s())

    def step(self) -> timedelta:
        """By how much the clock was set since the last call: ahead if positive; nought, but for some noise, if not."""
        now, tick_s = self._clock.now(), self._ticks_s()
        was, was_tick_s = self._last
        self._last = (now, tick_s)
        return (now - was) - timedelta(seconds=tick_s - was_tick_s)
