"""Which service comes first of all, for whoever has nothing planned."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from fleetcare.book.rows import BookRow
from fleetcare.due.outlook import VehicleOutlook


@dataclass(frozen=True, slots=True)
class FirstWindow:
    """The service whose window opens first, of which vehicle, and how many windows are open today."""

    opens_on: date
    name: str
    row: BookRow
    open_today: int


def first_window(outlooks: Iterable[VehicleOutlook], today: date) -> FirstWindow | None:
    """Of all services with a date, the one with the soonest early date; None if none has one."""
    opening = [
        (line.window.early, outlook.vehicle.name, line.key, line.row)
        for outlook in outlooks
        for line in outlook.lines
        if line.window is not None
    ]
    if not opening:
        return None
    opens_on, name, _, row = min(opening, key=lambda each: each[:3])
    return FirstWindow(opens_on, name, row, sum(early <= today for early, *_ in opening))
