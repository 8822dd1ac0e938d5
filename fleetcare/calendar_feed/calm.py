"""Calm: a published date moves only when the news is worth a person's attention."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta

from fleetcare.calendar_feed.rules import FeedRules
from fleetcare.due.outlook import DueWindow, LineOutlook, VehicleOutlook
from fleetcare.fleet.component import LineKey

STEP_SHARE = 0.75
"""A figure told in steps moves on when it is further from the one told than this share of a step. Half a step would be
plain rounding, which wavers on the edge; judgement, no source."""


@dataclass(frozen=True, slots=True)
class Shown:
    """What calendars say of a line, kept apart from what is reckoned: its window and the figures of its text."""

    window: DueWindow
    worn: float | None = None
    pace_km_per_day: float | None = None


def shown_lines(
    before: Mapping[LineKey, Shown], outlooks: Iterable[VehicleOutlook], *, today: date, rules: FeedRules
) -> dict[LineKey, Shown]:
    """What calendars say from today on of every line of these vehicles that has a window, by line.

    before: what they said so far; a line that is not in it is shown as reckoned.
    """
    lines = ((line, outlook) for outlook in outlooks for line in outlook.lines)
    return {
        line.key: _shown(before.get(line.key), line, outlook.pace_km_per_day, today, rules)
        for line, outlook in lines
        if line.window is not None
    }


def _shown(before: Shown | None, line: LineOutlook, pace: float | None, today: date, rules: FeedRules) -> Shown:
    assert line.window is not None  # the caller has looked
    worn, step = _finite(line.q_read), rules.worn_step
    reckoned = Shown(line.window, worn if worn is None or not step else round(worn / step) * step, _finite(pace))
    if before is None:
        return reckoned
    window = calm_window(before.window, line.window, today=today, rules=rules)
    same_dates = (window.early, window.likely, window.late) == (
        before.window.early,
        before.window.likely,
        before.window.late,
    )
    if not same_dates or window.cause is not before.window.cause:
        return replace(reckoned, window=window)
    told = before.pace_km_per_day
    return Shown(
        window,
        # Told in steps, and the next step well after the middle between two, so that noise does not make it waver.
        _calm_figure(before.worn, worn, STEP_SHARE * step, told=reckoned.worn),
        _calm_figure(told, reckoned.pace_km_per_day, rules.pace_share * (told or 0.0), told=reckoned.pace_km_per_day),
    )


def _calm_figure(before: float | None, now: float | None, limit: float, *, told: float | None) -> float | None:
    return before if before is not None and now is not None and abs(now - before) < limit else told


def _finite(figure: float | None) -> float | None:
    return figure if figure is not None and math.isfinite(figure) else None


def calm_day(published: date, reckoned: date, *, today: date, rules: FeedRules) -> date:
    """The published day, or the reckoned one if it moved enough.

    Earlier by `calm_days` counts at once, so that a published day never lies so many days after the reckoned one; later
    must also be worth `calm_share` of the time left, unless the published day is near.
    """
    moved = (reckoned - published).days
    left = (published - today).days
    later_enough = rules.calm_days if left <= rules.near_days else max(rules.calm_days, rules.calm_share * left)
    return reckoned if moved <= -rules.calm_days or moved >= later_enough else published


def calm_window(published: DueWindow, reckoned: DueWindow, *, today: date, rules: FeedRules) -> DueWindow:
    """Each of the three dates by itself, kept in order around the likely one, with the cause as reckoned.

    A line that is past late by reckoning is shown so at once, whatever was published.
    """
    if reckoned.is_past_late(today) and not published.is_past_late(today):
        return reckoned
    likely = calm_day(published.likely, reckoned.likely, today=today, rules=rules)
    early = calm_day(published.early, reckoned.early, today=today, rules=rules)
    late = calm_day(published.late, reckoned.late, today=today, rules=rules)
    step = timedelta(days=rules.calm_days)
    if early > likely:
        # Pushed out of its place by a likely date that moved, or held back by one that did not: still no small move.
        if likely != published.likely:
            early = min(reckoned.early, published.early - step)
        else:
            early = likely if likely - published.early >= step else published.early
    if late < likely:
        late = max(reckoned.late, published.late + step) if likely != published.likely else likely
    return DueWindow(early, likely, late, reckoned.cause)
