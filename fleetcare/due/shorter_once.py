"""Intervals that a finding shortened for one time."""

from __future__ import annotations

from collections.abc import Iterable

from fleetcare.book.rows import Limits
from fleetcare.book.shortening import shortened
from fleetcare.due.counted_from import CountedFrom, Origin
from fleetcare.language import in_force, tr, tr_book
from fleetcare.work.found import Found, finding_number, found_words


def in_force_after(
    limits: Limits, component: str, since: CountedFrom, found: Iterable[Found]
) -> tuple[Limits, str, str]:
    """The limits until the line is done next, why they are shorter than the book's, and by which finding.

    Both are empty if they are not. A finding shortens the interval that begins with the work it was found at: of that
    component, on that day, also once the component is on another vehicle. Of several the shortest counts.
    """
    if since.origin not in (Origin.WORK, Origin.CARRIED) or limits == Limits():
        return limits, "", ""
    cuts = [
        each
        for each in found
        if each.follow.factor is not None
        and each.settled_on is None
        and (each.component, each.on) == (component, since.on)
    ]
    if not cuts:
        return limits, "", ""
    sharpest = min(cuts, key=lambda each: (each.follow.factor or 1, each.order, each.position))
    assert sharpest.follow.factor is not None  # looked at above
    factor = f"{sharpest.follow.factor.normalize():f}".replace(".", in_force().decimal)
    why = tr("This time it is {factor} of the interval: {words}.", factor=factor, words=tr_book(found_words(sharpest)))
    return shortened(limits, sharpest.follow.factor), why, finding_number(sharpest)
