"""Inked visits that cannot all be: more of them at a time than there are bays."""

from __future__ import annotations

from collections.abc import Sequence

from fleetcare.fleet.bay_visit import BayVisit


def inked_clashes(inked: Sequence[BayVisit], bays: int) -> tuple[tuple[BayVisit, ...], ...]:
    """Sets of inked visits that want more bays than there are at one moment, each as small as it can be, by begin.

    Of each set one more visit than there are bays: without any one of them the others would have room.
    """
    found: dict[tuple[tuple[str, int], ...], tuple[BayVisit, ...]] = {}
    in_order = sorted(inked, key=lambda each: (each.begins_at, each.key))
    for place, visit in enumerate(in_order):
        there = [each for each in in_order[:place] if each.free_at > visit.begins_at]
        if len(there) >= bays:
            clash = (*there[-bays:], visit)
            found[tuple(each.key for each in clash)] = clash
    return tuple(found.values())
