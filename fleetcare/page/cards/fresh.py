"""How fresh the figures of a page are, in a few small words."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from zoneinfo import ZoneInfo

from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.people import Garage
from fleetcare.language import tr
from fleetcare.wording import counted, day_words, grouped


def fresh_words(garage: Garage, outlooks: Iterable[VehicleOutlook], now: datetime) -> str:
    """`Figures from 12:40, last reading 13 April.`, on the garage's clock; now: when they were worked out."""
    here = now.astimezone(ZoneInfo(garage.zone))
    read = [outlook.last_reading.on for outlook in outlooks if outlook.last_reading is not None]
    if not read:
        return tr("Figures from {time}, no reading yet.", time=f"{here:%H:%M}")
    return tr("Figures from {time}, last reading {day}.", time=f"{here:%H:%M}", day=day_words(max(read), here.date()))


def so_far_words(shown: int, missing: int) -> str:
    """What is said while vehicles are still being worked out; empty if none is. missing: of so many."""
    if not missing:
        return ""
    return tr(
        "Only {shown} of {vehicles} are shown so far. The others are being worked out; load this page again in a "
        "moment.",
        shown=grouped(shown),
        vehicles=counted(shown + missing, "vehicle", "vehicles"),
    )
