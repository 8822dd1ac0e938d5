"""Spells in which a vehicle stood and nobody said so: told from the readings, once it is driven again.

A spell of rest says nothing of how a vehicle runs when it runs. While it lasts, nobody can know whether it will be
driven again, and its readings count like any others; once it was driven again, the spell is passed over by the pace
filter. Measured on two simulated worlds of cars and on real aircraft: `python -m tests.worlds.ideas`.
"""

from __future__ import annotations

from collections.abc import Sequence

STOOD_BELOW = 0.05
"""It stood in a span that shows less than this share of its own mean pace."""
LEAST_DAYS = 25.0
"""Days of a spell at the least: a weekend, or a week away, belongs to how a vehicle runs."""
MOST_ELSEWHERE = 0.4
"""If it stood for more than this share of the rest of its time too, standing is how it is used. A winter of four months
each year is a third."""


def spells_passed_over(gained: Sequence[float], days: Sequence[float]) -> frozenset[int]:
    """The spans (their indices) in which it stood, in spells that are over and are not its usual way.

    gained: km or hours of each span, oldest first; days: its days on which the vehicle was not laid up, whatever the
    season, so that what is passed over does not hang on numbers that a garage learns. Judgement of the three figures
    above; the gain they bring is measured.
    """
    total = sum(days)
    if len(gained) < 3 or total <= 0.0:
        return frozenset()
    least = STOOD_BELOW * sum(gained) / total
    stood = [km < least * span or km <= 0.0 for km, span in zip(gained, days, strict=True)]
    if not any(stood):
        return frozenset()
    stood_days = sum(span for span, still in zip(days, stood, strict=True) if still)
    found: set[int] = set()
    first = 0
    while first < len(stood):
        end = first
        while end < len(stood) and stood[end]:
            end += 1
        spell = sum(days[first:end])
        rest = total - spell
        if spell >= LEAST_DAYS and end < len(stood) and stood_days - spell <= MOST_ELSEWHERE * rest:
            found.update(range(first, end))
        first = end + 1
    return frozenset(found)
