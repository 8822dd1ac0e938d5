"""The outline of a cover with its bolts numbered in the order of tightening, each across from the last."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fleetcare.language import tr
from fleetcare.page.drawings.numbers import coordinate

LEAST, MOST = 4, 24
CENTRE, RADIUS, BOLT = 100.0, 72.0, 12.0


@dataclass(frozen=True, slots=True)
class Bolt:
    """One bolt: its place in the order, from 1 on, and where it stands."""

    place: int
    x: str
    y: str


@dataclass(frozen=True, slots=True)
class Cover:
    """The drawing, 200 by 200. bolts: clockwise from the top. label: in words."""

    bolts: tuple[Bolt, ...]
    label: str


def crosswise(count: int) -> tuple[int, ...]:
    """Place in the order of each bolt, clockwise from the top: for ten it is 1 7 3 9 5 2 8 4 10 6.

    Each bolt lies across from the last, as far as the count allows. Common practice, no source; where a manual prints
    an order of its own, that one counts.
    """
    half = count // 2
    if count % 2:
        order = [(step * half) % count for step in range(count)]
    else:
        firsts = [*range(0, half, 2), *range(1, half, 2)]
        order = [place for first in firsts for place in (first, first + half)]
    places = {bolt: at for at, bolt in enumerate(order, start=1)}
    return tuple(places[bolt] for bolt in range(count))


def cover(count: int | None) -> Cover | None:
    """The drawing for a cover with so many bolts; None if nobody knows how many, or if it is no round cover."""
    if count is None or not LEAST <= count <= MOST:
        return None
    bolts = []
    for at, place in enumerate(crosswise(count)):
        angle = 2 * math.pi * at / count
        x, y = CENTRE + RADIUS * math.sin(angle), CENTRE - RADIUS * math.cos(angle)
        bolts.append(Bolt(place, coordinate(x), coordinate(y)))
    words = " ".join(str(bolt.place) for bolt in bolts)
    return Cover(
        tuple(bolts),
        tr(
            "Cover with {number} bolts; clockwise from the top they are tightened as {words}", number=count, words=words
        ),
    )
