"""Booked trips: distance that is known to come on a known day, on top of everyday use."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


def days_with_trips(days: Floats, trip_days: Floats) -> Floats:
    """Days until the limit when trips help to reach it: min over k of max(days[:, k], trip_days[k]).

    days: (levels, trips + 1), days until everyday use alone covers what is left after the first k trips; column 0 is
    without any. trip_days: (trips + 1,), rising, the day by which k trips are done; trip_days[0] is 0.
    Returns (levels,). Another trip never makes it later.
    """
    return np.asarray(np.min(np.maximum(days, trip_days[np.newaxis, :]), axis=1))
