"""How fast a measured value wears: mm per km from measurements, and what is left to its limit.

The value falls (or rises) in proportion to the distance: y = a + b x, with b the same sign as getting worse. b is the
least-squares slope through the measurements. Source: NIST/SEMATECH e-Handbook of Statistical Methods, section 4.1.4.1
(linear least squares). With two measurements nothing is left over to tell how sure it is, and with few it says too
little, so a coefficient of variation of the rate is blended in as if it had been seen some times before.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

PRIOR_CV = 0.35
"""Of a rate of which nothing is known but two measurements: pads wear by what the driver does, and calipers are read to
half a millimetre. Common practice, no source."""
PRIOR_WEIGHT = 3.0
"""As if it had been seen so often."""


LEAST_KM = 1.0
"""Measurements nearer to each other than that say nothing of a rate."""
LEAST_PER_KM = 1e-9
"""A millimetre in a million kilometres: less is no wear."""
MOST_CV2 = 1.0
"""A rate that is less sure than that is not known at all, and its window is wide enough."""


@dataclass(frozen=True, slots=True)
class WearRate:
    """How fast it gets worse.

    per_km: more than nothing. cv2: squared coefficient of variation of the rate. last_km, last: the newest measurement,
    as the line through all of them has it.
    """

    per_km: float
    cv2: float
    last_km: float
    last: float

    def km_to(self, limit: float) -> float:
        """Km from the newest measurement until the limit is reached on the likely course; nought if it is past it.

        limit: on the side on which it gets worse, as the values were given (falling ones fall to it).
        """
        return max(0.0, (self.last - limit) / self.per_km)


def wear_rate(points: Sequence[tuple[float, float]], *, falls: bool = True) -> WearRate | None:
    """The rate through these measurements: (true km, value), in any order. falls: smaller values are worse.

    None with fewer than two distances, or where the value does not get worse: new parts, or nothing to see yet. Values
    that rise are turned round, so that `last` and a limit have to be given negative.
    """
    turned = sorted((km, value if falls else -value) for km, value in points)
    if len(turned) < 2 or turned[-1][0] - turned[0][0] < LEAST_KM:
        return None
    n = len(turned)
    mean_x = math.fsum(km for km, _ in turned) / n
    mean_y = math.fsum(value for _, value in turned) / n
    sxx = math.fsum((km - mean_x) ** 2 for km, _ in turned)
    slope = math.fsum((km - mean_x) * (value - mean_y) for km, value in turned) / sxx
    if slope > -LEAST_PER_KM:
        return None
    residual = math.fsum((value - mean_y - slope * (km - mean_x)) ** 2 for km, value in turned)
    seen = n - 2
    own = residual / seen / sxx / slope**2 if seen else 0.0
    cv2 = min(MOST_CV2, (PRIOR_WEIGHT * PRIOR_CV**2 + seen * own) / (PRIOR_WEIGHT + seen))
    last_km = turned[-1][0]
    return WearRate(-slope, cv2, last_km, mean_y + slope * (last_km - mean_x))


def since_renewed(points: Sequence[tuple[float, float]], *, falls: bool = True) -> tuple[tuple[float, float], ...]:
    """The measurements since the part was new: a value that got better by more than it can be misread begins anew.

    points: (true km, value), by km. A pad that grows by a millimetre is another pad.
    """
    ordered = sorted(points)
    begin = 0
    for place in range(1, len(ordered)):
        better = (ordered[place][1] - ordered[place - 1][1]) * (1.0 if falls else -1.0)
        if better > MISREAD:
            begin = place
    return tuple(ordered[begin:])


MISREAD = 1.0
"""In the unit of the value (mm): more than that is no misreading. Common practice, no source."""
