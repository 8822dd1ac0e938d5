"""How much of anything one calendar may take."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Limits:
    """Bytes, seconds and counts for reading one calendar once."""

    octets: int = 10_000_000
    """Of the answer's body, as sent."""
    total_s: float = 30.0
    """From the first look-up to the last byte, redirects included."""
    connect_s: float = 5.0
    read_s: float = 10.0
    """Between two pieces of an answer."""
    redirects: int = 3
    lines: int = 400_000
    events: int = 5000
    """That may matter on the days looked at."""
    entries: int = 2000
    """Single times of events on those days, repeats counted one by one."""
    entries_of_one: int = 1000
    """Of one event that repeats."""
    rule_count: int = 10_000
    """Greatest COUNT of a repeat rule."""
    cpu_s: int = 5
    """Processor time of the child process that reads it."""
    series_s: float = 0.5
    """Processor time for one event that repeats."""
    memory_octets: int = 256 * 1024 * 1024
    """Address space of the child."""
    child_s: float = 20.0
    """Time on the wall of the child: more than `cpu_s`, because a busy machine makes it wait."""
    result_octets: int = 8 * 1024 * 1024
    """What the child may write."""
