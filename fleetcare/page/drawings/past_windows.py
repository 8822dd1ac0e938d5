"""Past windows one below the other, each drawn against the day that really came."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fleetcare.page.drawings.numbers import coordinate

WIDTH = 520.0
CENTRE = WIDTH / 2
ROOM = 252.0
"""From the day to either edge of the scale."""
ROW = 12.0
BAR = 8.0
MARGIN = 5.0
ROWS_AT_MOST = 24
"""More than so many are not told apart; then so many are taken evenly from the sorted row."""
REACH_SHARE = 0.9
"""The scale reaches as far as nine of ten rows do; what sticks out runs to its edge."""

_NICE = (5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 270, 365, 540, 730, 1095, 1825, 3650)


@dataclass(frozen=True, slots=True)
class PastRow:
    """One past window in days after the day that came, so before it is negative.

    missed: the day does not lie in the window. not_come: the day had not come by the last reading, which stands in its
    place; it lies further right.
    """

    early: int
    likely: int
    late: int
    missed: bool
    not_come: bool = False


@dataclass(frozen=True, slots=True)
class PastWindowsDrawing:
    """Everything a template needs: one path for each part of all rows, empty where no row has it.

    reach_days: days from the middle to either edge. rows: how many are drawn.
    """

    view_box: str
    label: str
    bars: str
    early: str
    late: str
    likely: str
    misses: str
    day: str
    edges: str
    reach_days: int
    rows: int


def past_windows(rows: Sequence[PastRow], label: str) -> PastWindowsDrawing:
    """The drawing of these windows, sorted by how far their likely date lay from the day. rows: at least one.

    Hatched bar from early (thin end) to late (thick end), a stroke for likely; the day runs upright through the middle.
    A window that missed has a solid line from its nearer end to the day, as long as the days by which it missed.
    """
    drawn = _evenly(sorted(rows, key=lambda row: (row.likely, row.early, row.late)))
    reach = _reach(drawn)
    bars: list[str] = []
    early: list[str] = []
    late: list[str] = []
    likely: list[str] = []
    misses: list[str] = []
    for place, row in enumerate(drawn):
        top = MARGIN + place * ROW + (ROW - BAR) / 2
        left, right = _x(row.early, reach), _x(row.late, reach)
        bars.append(f"M{coordinate(left)} {coordinate(top)}H{coordinate(max(right, left + 1))}v{coordinate(BAR)}")
        bars.append(f"H{coordinate(left)}Z")
        for day, strokes in ((row.early, early), (row.late, late), (row.likely, likely)):
            if abs(day) <= reach:
                strokes.append(f"M{coordinate(_x(day, reach))} {coordinate(top - 1)}v{coordinate(BAR + 2)}")
        if row.missed:
            begin = right if row.late < 0 or row.not_come else left
            end = CENTRE + ROOM if row.not_come else CENTRE
            misses.append(f"M{coordinate(begin)} {coordinate(top + BAR / 2)}H{coordinate(end)}")
    height = 2 * MARGIN + len(drawn) * ROW
    ends = (CENTRE - ROOM, CENTRE + ROOM)
    return PastWindowsDrawing(
        view_box=f"0 0 {coordinate(WIDTH)} {coordinate(height)}",
        label=label,
        bars="".join(bars),
        early="".join(early),
        late="".join(late),
        likely="".join(likely),
        misses="".join(misses),
        day=f"M{coordinate(CENTRE)} 0V{coordinate(height)}",
        edges="".join(f"M{coordinate(x)} {coordinate(height - 2 * MARGIN)}V{coordinate(height)}" for x in ends),
        reach_days=reach,
        rows=len(drawn),
    )


def _x(day: int, reach: int) -> float:
    """Where a day lies; days beyond the scale lie at its edge."""
    return CENTRE + ROOM * min(1.0, max(-1.0, day / reach))


def _reach(rows: Sequence[PastRow]) -> int:
    """The next round number of days that holds most rows whole."""
    needed = sorted(max(abs(row.early), abs(row.late)) for row in rows)
    most = needed[min(len(needed) - 1, int(REACH_SHARE * len(needed)))]
    return next((nice for nice in _NICE if nice >= most), _NICE[-1])


def _evenly(rows: Sequence[PastRow]) -> Sequence[PastRow]:
    """At most ROWS_AT_MOST of them in their order, first and last among them."""
    if len(rows) <= ROWS_AT_MOST:
        return rows
    last = len(rows) - 1
    return [rows[round(place * last / (ROWS_AT_MOST - 1))] for place in range(ROWS_AT_MOST)]
