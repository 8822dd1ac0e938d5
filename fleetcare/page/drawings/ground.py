"""What moving a visit costs, as the ground it stands on: dips are cheap days, hills are dear ones, bricks cannot be."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import groupby

from fleetcare.page.drawings.numbers import coordinate as c

HEIGHT, FLOOR, HEAD, EDGE = 66.0, 8.0, 34.0, 14.0
"""Of the hills; the least of earth under them; above them; left and right."""
LABEL_APART = 58.0


@dataclass(frozen=True, slots=True)
class GroundDay:
    """One day. cost: over the cheapest one shown, 0 to 1 of the cap; None if it cannot be. label: its date."""

    cost: float | None
    label: str
    is_chosen: bool = False


@dataclass(frozen=True, slots=True)
class GroundDrawing:
    """Everything a template needs. earth, line: one path over all days that can be. walls: boxes of bricks (x, width).

    dots: days one may choose. post: of the chosen day. labels: (x, anchor, words) under it. label: for who does not
    see it.
    """

    view_box: str
    earth: str
    line: str
    walls: tuple[tuple[str, str], ...]
    wall_y: str
    wall_height: str
    dots: tuple[tuple[str, str], ...]
    post: str
    cap: tuple[str, str]
    labels: tuple[tuple[str, str, str], ...]
    labels_y: str
    label: str


def ground(days: Sequence[GroundDay], width: float, label: str) -> GroundDrawing | None:
    """The ground over these days in order; None without a chosen day that can be. width: 500, on phones 358."""
    chosen = next((place for place, day in enumerate(days) if day.is_chosen and day.cost is not None), None)
    if chosen is None:
        return None
    step = (width - 2 * EDGE) / max(1, len(days) - 1)
    base = HEAD + HEIGHT

    def x(place: float) -> float:
        return EDGE + step * place

    def y(cost: float) -> float:
        return base - FLOOR - min(max(cost, 0.0), 1.0) * (HEIGHT - FLOOR)

    line, earth, walls = [], [], []
    for can_be, run in groupby(enumerate(days), key=lambda pair: pair[1].cost is not None):
        places = [place for place, _ in run]
        left, right = max(x(places[0] - 0.5), 0.0), min(x(places[-1] + 0.5), width)
        if not can_be:
            walls.append((c(left), c(right - left)))
            continue
        points = [(x(place), y(days[place].cost or 0.0)) for place in places]
        points = [(left, points[0][1]), *points, (right, points[-1][1])]
        path = "L".join(f"{c(px)} {c(py)}" for px, py in points)
        line.append(f"M{path}")
        earth.append(f"M{c(left)} {c(base)}L{path}L{c(right)} {c(base)}Z")
    top = y(days[chosen].cost or 0.0)
    return GroundDrawing(
        view_box=f"0 0 {c(width)} {c(base + 22)}",
        earth="".join(earth),
        line="".join(line),
        walls=tuple(walls),
        wall_y=c(HEAD),
        wall_height=c(HEIGHT),
        dots=tuple(
            (c(x(place)), c(y(day.cost)))
            for place, day in enumerate(days)
            if day.cost is not None and not day.is_chosen
        ),
        post=f"M{c(x(chosen))} {c(top)}V{c(top - 26)}",
        cap=(c(x(chosen) - 4.5), c(top - 30)),
        labels=_labels(days, x, chosen, width),
        labels_y=c(base + 16),
        label=label,
    )


def _labels(
    days: Sequence[GroundDay], x: Callable[[float], float], chosen: int, width: float
) -> tuple[tuple[str, str, str], ...]:
    """The chosen day's date, and of the others as many as stand apart from it and from each other."""

    def anchor(place: int) -> str:
        at = x(place)
        return "start" if at < LABEL_APART / 2 else "end" if at > width - LABEL_APART / 2 else "middle"

    def left(place: int) -> float:
        return x(place) - LABEL_APART * {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor(place)]

    taken = [chosen]
    for place in (0, len(days) - 1, *range(len(days))):
        if all(abs(left(place) - left(other)) >= LABEL_APART for other in taken):
            taken.append(place)
    return tuple((c(x(place)), anchor(place), days[place].label) for place in sorted(taken))
