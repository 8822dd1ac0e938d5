"""Which vehicle: the list from which somebody who came in enters a reading."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Protocol
from urllib.parse import urlencode

from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Meter
from fleetcare.language import tr
from fleetcare.page.cards.entry import meter_name
from fleetcare.page.cards.frame import CHOOSE_URL, STICKERS_URL, Frame, Link, full_frame
from fleetcare.page.cards.waiting import entry_url
from fleetcare.wording import day_words, grouped, meter_words

VEHICLES_A_PAGE = 100
FIND_FROM = 12
"""From so many vehicles on there is a field to find one by name."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One meter of one vehicle to enter a reading for."""

    mark: str
    name: str
    called: str
    told: str
    url: str
    is_wanted: bool


@dataclass(frozen=True, slots=True)
class ChooseCard:
    """The vehicles to choose from, those that want a reading first. `told`: said in place of the list or above it."""

    frame: Frame
    choices: tuple[Choice, ...]
    told: str
    has_find: bool
    find: str
    earlier: Link | None
    later: Link | None
    stickers: Link | None = None


def choose_card(
    *,
    garage: Garage,
    reader: Person | None,
    outlooks: Sequence[VehicleOutlook],
    today: date,
    find: str = "",
    start: int = 0,
    may_stick: bool = False,
) -> ChooseCard:
    """Vehicles with a meter, those that want a reading first, then in the garage's order.

    find: leaves those whose name, mark or kind holds this text. start: how many to leave out, for further pages.
    may_stick: the reader keeps one of them.
    """
    every = [_choice(outlook, meter, today) for outlook in outlooks for meter in outlook.vehicle.meters]
    found = [choice for choice in every if is_called(choice, find)]
    found.sort(key=lambda choice: not choice.is_wanted)
    start = start if 0 <= start < len(found) else 0
    shown = found[start : start + VEHICLES_A_PAGE]
    later = start + VEHICLES_A_PAGE
    return ChooseCard(
        frame=full_frame(
            tr("Enter a reading"), garage=garage, reader=reader, today=today, here=CHOOSE_URL, can_enter=True
        ),
        choices=tuple(shown),
        told=range_told(len(found), start, len(shown), find.strip())
        if every
        else tr("No vehicle has an odometer or an hour meter yet."),
        has_find=len(every) >= FIND_FROM or bool(find.strip()),
        find=find.strip(),
        earlier=turn_link(tr("Earlier ones"), CHOOSE_URL, find, start - VEHICLES_A_PAGE) if start else None,
        later=turn_link(tr("Later ones"), CHOOSE_URL, find, later) if later < len(found) else None,
        stickers=Link(tr("Stickers for the glovebox"), STICKERS_URL) if may_stick else None,
    )


class HasNames(Protocol):
    """What a list of vehicles is searched by."""

    @property
    def name(self) -> str: ...

    @property
    def mark(self) -> str: ...

    @property
    def called(self) -> str: ...


def is_called(one: HasNames, find: str) -> bool:
    """Its name, mark or kind holds this text, in small or capital letters; an empty one stands in every name."""
    return find.strip().casefold() in f"{one.name} {one.mark} {one.called}".casefold()


def _choice(outlook: VehicleOutlook, meter: Meter, today: date) -> Choice:
    vehicle = outlook.vehicle
    is_wanted = outlook.wanted is not None and outlook.wanted.meter == meter.key
    last = outlook.last_reading if outlook.last_reading and outlook.last_reading.meter == meter.key else None
    told = [] if meter is vehicle.odometer else [meter_name(vehicle, meter)]
    if outlook.last_reading is None:
        told.append(tr("no reading yet"))
    elif outlook.last_reading.meter == meter.key:
        last = outlook.last_reading
        told.append(
            tr(
                "last read {day} at {reading}",
                day=day_words(last.on, today),
                reading=meter_words(last.value, last.unit),
            )
        )
    if is_wanted:
        told.append(tr("wants a reading"))
    return Choice(vehicle.mark, vehicle.name, vehicle.called, ", ".join(told), entry_url(vehicle, meter.key), is_wanted)


def range_told(found: int, start: int, shown: int, find: str, *, nobody: str = "") -> str:
    """What is said above a list: that none was found, or which part of the list this is; else nothing.

    nobody: said where none was found in a list of something else than vehicles.
    """
    if not found:
        return nobody or tr("No vehicle here is called “{find}”.", find=find)
    if shown < found:
        return tr(
            "{value} to {value2} of {found}.",
            value=grouped(start + 1),
            value2=grouped(start + shown),
            found=grouped(found),
        )
    return ""


def turn_link(text: str, url: str, find: str, start: int) -> Link:
    """A link to another page of a list of vehicles. url: the list's own address."""
    asked = {
        name: value for name, value in (("find", find.strip()), ("start", str(start) if start > 0 else "")) if value
    }
    return Link(text, f"?{urlencode(asked)}" if asked else url)
