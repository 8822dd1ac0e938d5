"""The dipstick as one row of a table: five kinds of cell, because mail programs show no drawings."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

WIDTH = 286
"""Pixels of the whole rod, with its border of one pixel all round."""
_SPAN = WIDTH - 2
_FULL_SHARE = 1.2
_EARLY_NOTCH, _LATE_NOTCH = 3, 5
_LEAST_ZONE = 12
_LEAST_PAST = 5
_STROKE = 6.6
"""Pixels of one stroke in an 11 pixel typewriter face."""


class CellKind(StrEnum):
    """What a stretch of the rod is."""

    INK = "ink"
    """Worn by the last reading."""
    GREY = "grey"
    """Worn by reckoning since."""
    BLANK = "blank"
    ZONE = "zone"
    """The due window, not reached yet."""
    PAST = "past"
    """Past late."""


class Standing(StrEnum):
    """Where today lies, told by the dates; the rod never says otherwise."""

    AHEAD = "ahead"
    OPEN = "open"
    PAST_LATE = "past late"


@dataclass(frozen=True, slots=True)
class RodCell:
    """One cell. width: pixels inside its notches; early_notch: 3 pixels at its left; late_notch: 5 at its right."""

    kind: CellKind
    width: int
    early_notch: bool = False
    late_notch: bool = False
    strokes: str = ""


def rod_cells(*, q_read: float, q_now: float, q_early: float, q_late: float, standing: Standing) -> tuple[RodCell, ...]:
    """The cells from tip to ring; their widths and notches add up to 284 pixels.

    q_read, q_now, q_early, q_late: wear shares, 1 the whole interval; 1.2 is the end of the rod. A zone that would be
    too narrow to see is widened, and wear is moved by as little as it takes to stand before, in or past the zone as
    `standing` has it.
    """
    early, late = _zone(_x(q_early), _x(max(q_early, q_late)))
    now = _x(max(q_read, q_now))
    if standing is Standing.AHEAD:
        if now > early:  # only by rounding or widening: the zone gives way
            early = min(now, _SPAN - _LEAST_ZONE)
            late = max(late, early + _LEAST_ZONE)
        now = min(now, early)
    elif standing is Standing.PAST_LATE:
        late = min(late, _SPAN - _LEAST_PAST)
        early = min(early, late - _LEAST_ZONE)
        now = max(now, late + _LEAST_PAST)
    else:
        now = min(max(now, early + _EARLY_NOTCH + 1), late - _LATE_NOTCH - 1)
    # With nothing reckoned since, what is worn is ink all the way, wherever its end was moved.
    read = now if _x(q_now) <= _x(q_read) else min(_x(q_read), now)
    if early <= read < min(early + _EARLY_NOTCH + 1, now):
        read = early  # too little of it in the zone to be seen beside its notch
    if late <= now and read > late - _LATE_NOTCH - 1:
        read = late
    cuts = sorted({0, read, now, early, late, _SPAN})
    return tuple(_cell(left, right, read=read, now=now, early=early, late=late) for left, right in pairwise(cuts))


def _cell(left: int, right: int, *, read: int, now: int, early: int, late: int) -> RodCell:
    in_zone = early <= left and right <= late
    if late <= left and right <= now:
        kind = CellKind.PAST
    elif right <= read:
        kind = CellKind.INK
    elif right <= now:
        kind = CellKind.GREY
    else:
        kind = CellKind.ZONE if in_zone else CellKind.BLANK
    early_notch, late_notch = in_zone and left == early, in_zone and right == late
    width = right - left - _EARLY_NOTCH * early_notch - _LATE_NOTCH * late_notch
    strokes = "/" * max(1, int(width / _STROKE)) if kind is CellKind.ZONE and width > 2 else ""
    return RodCell(kind, width, early_notch, late_notch, strokes)


def _zone(early: int, late: int) -> tuple[int, int]:
    """Widened round its middle if it is too narrow, and kept on the rod."""
    short = _LEAST_ZONE - (late - early)
    if short > 0:
        early -= short // 2
        late = early + _LEAST_ZONE
    if late > _SPAN:
        early, late = early - (late - _SPAN), _SPAN
    if early < 0:
        early, late = 0, late - early
    return early, late


def _x(share: float) -> int:
    return round(_SPAN / _FULL_SHARE * min(max(share, 0.0), _FULL_SHARE))
