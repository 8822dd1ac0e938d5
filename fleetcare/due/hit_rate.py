"""How often past windows held the day that came, how far off their likely dates were, and what chance allows."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import fmean, median

from fleetcare.due.dial_days import RealDay
from fleetcare.due.past_windows import PastWindow
from fleetcare.language import later

MEANT = 0.8
"""A window runs from 1 to 9 chances in 10, so 8 of 10 should hold."""
ENOUGH = 20
"""From so many closed windows on a share is told."""
WORTH_SAYING = 0.03
"""A share nearer than this to what is meant is as meant, however many windows there are."""
BANDS_ALIKE = 0.25
"""Correlation between the shares of two bands of horizons over the same days.

From simulation by the pace law itself (tests/due/test_backtest.py): 0.1 would do there. More is taken, because real
vehicles have spells that the law does not know.
"""
Z_95 = 1.959963984540054
"""Standard normal quantile at 97.5 %, for limits that hold in 19 of 20 cases.

Source: NIST/SEMATECH e-Handbook 1.3.6.7.1 (table; printed 1.96).
"""

BANDS = (
    (60, later("about a month ahead")),
    (136, later("about a quarter ahead")),
    (273, later("about half a year ahead")),
    (10**9, later("about a year ahead or more")),
)
"""Horizons by their longest day, halfway between a month, a quarter, half a year and a year."""
KNOWN = (
    (1, later("one reading known")),
    (2, later("two readings known")),
    (5, later("3 to 5 readings known")),
    (11, later("6 to 11 readings known")),
    (10**9, later("12 readings or more known")),
)
"""How many readings were known, by the highest number."""


class Outcome(StrEnum):
    """What became of a past window."""

    HELD = "held"
    BEFORE_EARLY = "before early"
    """The day came before the early date: somebody who went by the window was late."""
    AFTER_LATE = "after late"
    OPEN = "open"
    """Its late date is not behind the last reading yet, so nothing is said of it, even if the day has come."""


@dataclass(frozen=True, slots=True)
class JudgedWindow:
    """A past window beside what happened.

    real: the day that came; None if it has not come by a reading. known_until: day of the last reading, an ordinal.
    """

    given: PastWindow
    real: RealDay | None
    known_until: int

    @property
    def outcome(self) -> Outcome:
        """By the day in between the two readings around it, taken to whole days like the window's own dates.

        Judged are exactly the windows whose late date lies behind us. Whether that is so was settled when the window
        was given, so that leaving the others out favours neither hits nor misses; early comers among those that are
        still open would else be counted without the late comers.
        """
        if self.given.late > self.known_until:
            return Outcome.OPEN
        day = self.came_on
        if day is None or day > self.given.late:
            return Outcome.AFTER_LATE
        return Outcome.BEFORE_EARLY if day < self.given.early else Outcome.HELD

    @property
    def may_have_held(self) -> bool:
        """Closed, and one of the days possible between the two readings lies in the window."""
        if self.outcome is Outcome.OPEN or self.real is None:
            return False
        return self.real.first <= self.given.late and self.real.last >= self.given.early

    @property
    def came_on(self) -> int | None:
        """The day in between, whole; None if it has not come."""
        return None if self.real is None else math.floor(self.real.on + 0.5)

    @property
    def seen_on(self) -> int:
        """The day it came, or the last reading if it had not come by then: the least by which a late one is off."""
        came = self.came_on
        return self.known_until if came is None else came

    @property
    def off_days(self) -> int:
        """Days from the likely date to the day that came; negative if it came sooner."""
        return self.seen_on - self.given.likely


@dataclass(frozen=True, slots=True)
class HitRate:
    """Closed windows counted. apart: how many that do not overlap they weigh like, at most `closed`.

    off_median, off_mean: days between likely date and the day that came, whichever way. off_share: the median of those
    days over the days ahead. lean: the median with its sign, more than nought if things came later than likely. They
    are None without a closed window.
    """

    closed: int
    held: int
    may_have_held: int
    before_early: int
    after_late: int
    open: int
    apart: float
    off_median: float | None
    off_mean: float | None
    off_share: float | None
    lean: float | None

    @property
    def is_enough(self) -> bool:
        """There are enough closed windows to tell a share."""
        return self.closed >= ENOUGH

    @property
    def share(self) -> float | None:
        """Share of closed windows that held; None without one."""
        return self.held / self.closed if self.closed else None

    @property
    def chance_allows(self) -> tuple[float, float] | None:
        """Between which shares 19 of 20 garages would lie whose windows are as good as they say.

        0.8 plus and minus 1.96 sqrt(.8 .2/n) with n the windows apart, cut to 0 and 1: the shares whose Wilson
        interval holds 0.8. Source: as `wilson_interval`.
        """
        if self.apart <= 0:
            return None
        half = Z_95 * math.sqrt(MEANT * (1.0 - MEANT) / self.apart)
        return max(0.0, MEANT - half), min(1.0, MEANT + half)

    @property
    def wilson(self) -> tuple[float, float] | None:
        """95 % interval of the true share, by the windows apart; see `wilson_interval`."""
        return wilson_interval(self.share, self.apart) if self.share is not None and self.apart > 0 else None

    @property
    def verdict(self) -> Verdict:
        """What the share says of the windows."""
        allowed = self.chance_allows
        if not self.is_enough or self.share is None or allowed is None:
            return Verdict.TOO_LITTLE
        if self.share < min(allowed[0], MEANT - WORTH_SAYING):
            return Verdict.TOO_NARROW
        return Verdict.TOO_WIDE if self.share > max(allowed[1], MEANT + WORTH_SAYING) else Verdict.AS_MEANT


class Verdict(StrEnum):
    """What the share of windows that held says."""

    AS_MEANT = "as meant"
    TOO_NARROW = "too narrow"
    TOO_WIDE = "wider than need be"
    TOO_LITTLE = "too little history"


def wilson_interval(share: float, n: float, z: float = Z_95) -> tuple[float, float]:
    """Limits of the true share when `share` of n was seen: (p + z^2/2n -+ z sqrt(p(1-p)/n + z^2/4n^2))/(1 + z^2/n).

    Source: Wilson, E. B. (1927), Probable inference; NIST/SEMATECH e-Handbook 7.2.4.1.
    """
    middle = share + z * z / (2.0 * n)
    half = z * math.sqrt(share * (1.0 - share) / n + z * z / (4.0 * n * n))
    return max(0.0, (middle - half) / (1.0 + z * z / n)), min(1.0, (middle + half) / (1.0 + z * z / n))


def hit_rate(windows: Iterable[JudgedWindow]) -> HitRate:
    """The count of these windows."""
    every = tuple(windows)
    closed = [each for each in every if each.outcome is not Outcome.OPEN]
    outcomes = [each.outcome for each in closed]
    off = [each.off_days for each in closed]
    return HitRate(
        closed=len(closed),
        held=outcomes.count(Outcome.HELD),
        may_have_held=sum(each.may_have_held for each in closed),
        before_early=outcomes.count(Outcome.BEFORE_EARLY),
        after_late=outcomes.count(Outcome.AFTER_LATE),
        open=len(every) - len(closed),
        apart=weighs_like(closed),
        off_median=float(median(abs(days) for days in off)) if off else None,
        off_mean=fmean(abs(days) for days in off) if off else None,
        off_share=float(median(abs(each.off_days) / each.given.horizon for each in closed)) if off else None,
        lean=float(median(off)) if off else None,
    )


def band_of(window: JudgedWindow) -> int:
    """Place in BANDS."""
    return next(place for place, (longest, _) in enumerate(BANDS) if window.given.horizon <= longest)


def known_of(window: JudgedWindow) -> int:
    """Place in KNOWN."""
    return next(place for place, (most, _) in enumerate(KNOWN) if window.given.readings <= most)


def weighs_like(closed: Sequence[JudgedWindow]) -> float:
    """How many windows that do not overlap these closed ones weigh like; n is this, not their number.

    Windows of one vehicle that cover the same days hold or miss together. In each band of horizons only windows that
    follow one another are counted, as many as fit: n_b in band b, which holds the part w_b of all windows. The share
    over all bands then has the variance p(1-p)/n of a sum of correlated parts, with
    1/n = (1 - a) sum w_b^2/n_b + a (sum w_b/sqrt(n_b))^2 and a = BANDS_ALIKE.
    """
    if not closed:
        return 0.0
    spans: dict[int, defaultdict[str, list[tuple[int, int]]]] = {}
    for each in closed:
        until = max(each.seen_on, each.given.given_on + 1)
        spans.setdefault(band_of(each), defaultdict(list))[each.given.mark].append((until, each.given.given_on))
    unlike, alike = 0.0, 0.0
    for _, by_mark in sorted(spans.items()):
        part = sum(map(len, by_mark.values())) / len(closed)
        apart = sum(map(_follow_one_another, by_mark.values()))
        unlike += part**2 / apart
        alike += part / math.sqrt(apart)
    return min(float(len(closed)), 1.0 / ((1.0 - BANDS_ALIKE) * unlike + BANDS_ALIKE * alike**2))


def _follow_one_another(spans: Sequence[tuple[int, int]]) -> int:
    """Most spans (end, begin) of which none overlaps another: always the one that ends first."""
    count, free_from = 0, -1
    for end, begin in sorted(spans):
        if begin >= free_from:
            count, free_from = count + 1, end
    return count
