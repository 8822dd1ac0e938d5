"""A window as one drives up to it: a ramp whose height is the chance that the service is due, and a wall at its end."""

from __future__ import annotations

from dataclasses import dataclass

from fleetcare.page.drawings.numbers import coordinate as c

LEAST_WIDTH = 8.0
PEG = 5.0
SAW_TOOTH = 6.0
SAW_HEIGHT = 5.0
WALL_HALF = 1.5
"""The bar of days past late begins where the wall's line ends."""


@dataclass(frozen=True, slots=True)
class Wedge:
    """Paths of one window. used, past_late: empty if it has none."""

    area: str
    used: str
    base: str
    slope: str
    likely: str
    late: str
    past_late: str


def wedge(early: float, likely: float, late: float, today: float, *, base: float, height: float, left: float) -> Wedge:
    """The window over these places.

    base: where it stands. height: of the ramp at the late date. left: nothing past late is drawn before it. What lies
    left of `today` is filled; from a late date left of it the saw runs up to it.
    """
    early = min(early, late - LEAST_WIDTH)
    likely = max(likely, early)
    middle, top = base - height / 2, base - height
    slope = f"M{c(early)} {c(base)}L{c(likely)} {c(middle)}L{c(late)} {c(top)}"
    return Wedge(
        area=f"{slope}L{c(late)} {c(base)}Z",
        used=_used(early, likely, late, today, base=base, height=height),
        base=f"M{c(early)} {c(base)}H{c(late)}",
        slope=slope,
        likely=f"M{c(likely)} {c(base)}V{c(middle - PEG)}",
        late=f"M{c(late)} {c(base + 1)}V{c(top - 1)}",
        past_late=_saw(max(late + WALL_HALF, left), today, base=base, height=height) if late < today else "",
    )


def _used(early: float, likely: float, late: float, today: float, *, base: float, height: float) -> str:
    """The part of the ramp that lies behind today, down to its base."""
    if today <= early:
        return ""
    end = min(today, late)
    points = [(early, base)]
    if end > likely:
        points.append((likely, base - height / 2))
    points.append((end, base - height * _chance(early, likely, late, end)))
    ramp = "L".join(f"{c(x)} {c(y)}" for x, y in points)
    return f"M{ramp}L{c(end)} {c(base)}Z"


def _chance(early: float, likely: float, late: float, at: float) -> float:
    """How high the ramp is there: nothing at early, half at likely, all at late."""
    if at <= likely:
        return 0.5 * (at - early) / (likely - early) if likely > early else 0.5
    return 0.5 + 0.5 * (at - likely) / (late - likely) if late > likely else 1.0


def _saw(begin: float, end: float, *, base: float, height: float) -> str:
    """A bar with a toothed upper edge."""
    if end <= begin:
        return ""
    top = base - height
    edge = [f"M{c(begin)} {c(base)}V{c(top)}"]
    x = begin
    while x < end:
        edge.append(f"L{c(min(x + SAW_TOOTH / 2, end))} {c(top - SAW_HEIGHT)}L{c(min(x + SAW_TOOTH, end))} {c(top)}")
        x += SAW_TOOTH
    return f"{''.join(edge)}V{c(base)}Z"
