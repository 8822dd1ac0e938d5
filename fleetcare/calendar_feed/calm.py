"""Calm: a published date moves only when the news is worth a person's attention."""

from __future__ import annotations

from datetime import date

from fleetcare.due.outlook import DueWindow
from fleetcare.quantities import DateSpan

CALM_DAYS = 3
"""Moves of fewer days are not news. common practice, no source."""
CALM_SHARE = 0.1
"""Nor is a later date that adds less than this share of the time left. common practice, no source."""


def calm_day(published: date, reckoned: date, *, today: date) -> date:
    """The published day, or the reckoned one if it moved enough.

    Earlier by three days counts at once, so that a published day never lies three days after the reckoned one; later
    must also be worth a tenth of the time left.
    """
    moved = (reckoned - published).days
    later_enough = max(CALM_DAYS, CALM_SHARE * (published - today).days)
    return reckoned if moved <= -CALM_DAYS or moved >= later_enough else published


def calm_window(published: DueWindow, reckoned: DueWindow, *, today: date) -> DueWindow:
    """Each of the three dates by itself, kept in order around the likely one, with the cause as reckoned."""
    likely = calm_day(published.likely, reckoned.likely, today=today)
    early = calm_day(published.early, reckoned.early, today=today)
    late = calm_day(published.late, reckoned.late, today=today)
    return DueWindow(min(early, likely), likely, max(late, likely), reckoned.cause)


def calm_days(published: DateSpan, reckoned: DateSpan, *, today: date) -> DateSpan:
    """The days of an entry, each end moved only if it moved enough; a bar that must hold today never loses it."""
    first = calm_day(published.first, reckoned.first, today=today)
    if reckoned.days == 1:
        return DateSpan.of_days(first, first)
    end = published.end if abs((reckoned.end - published.end).days) < CALM_DAYS else reckoned.end
    if end <= first or (today in reckoned and not first <= today < end):
        return reckoned
    return DateSpan(first, end)
