"""A sheet's course as the stretches of a visit: hands-on where somebody works, standing wherever nobody does."""

from __future__ import annotations

from datetime import datetime

from fleetcare.book.chains import Course
from fleetcare.fleet.bay_visit import Stretch, StretchKind


def stretches_of(course: Course) -> tuple[Stretch, ...]:
    """Hands-on and standing in turn from the first hand until the vehicle is free; empty without a hand.

    Waits between two hands stand, whatever they are for; two hands without a gap are one stretch.
    """
    hands = sorted(
        (step.begins, step.ends) for step in course.steps if not step.stage.is_standing and step.ends > step.begins
    )
    worked: list[tuple[datetime, datetime]] = []
    for begins, ends in hands:
        if worked and begins <= worked[-1][1]:
            worked[-1] = (worked[-1][0], max(worked[-1][1], ends))
        else:
            worked.append((begins, ends))
    found: list[Stretch] = []
    for begins, ends in worked:
        if found:
            found.append(Stretch(StretchKind.STANDING, found[-1].ends_at, begins))
        found.append(Stretch(StretchKind.HANDS_ON, begins, ends))
    if found and course.free_at > found[-1].ends_at:
        found.append(Stretch(StretchKind.STANDING, found[-1].ends_at, course.free_at))
    return tuple(found)
