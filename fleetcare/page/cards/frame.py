"""What stands around every page: its title, the head, the words that have pages, the bar under the thumb."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from urllib.parse import quote

from fleetcare.fleet.naming import keeps_list
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import later, tr
from fleetcare.page.drawings.stamp import StampedWord, stamped
from fleetcare.quantities import DistanceUnit
from fleetcare.wording import day_in_head, unit_name

ROAD_URL = "/"
VEHICLES_URL = "/vehicles"
NEW_URL = "/new-vehicle"
HANDBOOK_URL = "/handbook"
CHOOSE_URL = "/readings"
COME_IN_URL = "/sign-in"
CALENDAR_URL = "/calendar"
BAY_URL = "/plan"
WORKSHOP_URL = "/workshop"
FINDINGS_URL = "/findings"
LETTERS_URL = "/letters"
FIND_URL = "/find"
PEOPLE_URL = "/people"
STICKERS_URL = "/stickers"
LOOK_URL = "/look"
SEAL_FIELD = "seal"
"""What every form of a person who came in carries, so that no other site can send it in their name."""
INDEX_ANCHOR = "#index"
_LETTERS_IN_A_WORD = 8
_LETTERS_ON_A_LINE = 14

PAGES = (
    (later("Road ahead"), ROAD_URL),
    (later("Vehicles"), VEHICLES_URL),
    (later("Bay days"), BAY_URL),
    (later("Findings"), FINDINGS_URL),
    (later("Handbook"), HANDBOOK_URL),
)
"""The words of the head, in order; a word stands here once it has a page."""


@dataclass(frozen=True, slots=True)
class Link:
    """A word that leads somewhere. is_here: it is the page one is on. is_main: it is the one thing to press."""

    text: str
    url: str
    is_here: bool = False
    is_main: bool = False


@dataclass(frozen=True, slots=True)
class Frame:
    """Head, foot and bar of one page. Empty text or no links: that part is not there.

    home_url: where the garage's name leads; empty for pages that a key opens, which have no other pages.
    """

    title: str
    garage: str
    day: str
    home_url: str = ""
    pages: tuple[Link, ...] = ()
    unit: str = ""
    other_unit: Link | None = None
    person: str = ""
    calendar: Link | None = None
    come_in: Link | None = None
    foot: tuple[Link, ...] = ()
    find: Link | None = None
    bar: tuple[Link, ...] = ()
    fresh: str = ""
    """How fresh the figures are, in a sentence."""
    so_far: str = ""
    """Said on top while the page does not show everything yet."""


@dataclass(frozen=True, slots=True)
class Plate:
    """The plate of a vehicle: its stamped name, its mark, what people call it."""

    name: str
    letters: tuple[StampedWord, ...]
    mark: str = ""
    called: str = ""

    @property
    def is_long(self) -> bool:
        """It would not fit one line of a phone at full size, or a word of it would not."""
        return len(self.name) > _LETTERS_ON_A_LINE or any(len(word) > _LETTERS_IN_A_WORD for word in self.letters)


def vehicle_url(mark: str) -> str:
    """The page about one vehicle: `/vehicles/BE`."""
    return f"{VEHICLES_URL}/{quote(mark, safe='')}"


def vehicle_plate(vehicle: Vehicle) -> Plate:
    """The plate that heads a page about one vehicle."""
    return Plate(vehicle.name, stamped(vehicle.name), vehicle.mark, vehicle.called)


def garage_plate(garage: Garage) -> Plate:
    """The plate on the door."""
    return Plate(garage.name, stamped(garage.name))


def full_frame(
    title: str,
    *,
    garage: Garage,
    reader: Person | None,
    today: date,
    here: str,
    unit: DistanceUnit | None = None,
    can_enter: bool,
    enter_url: str = CHOOSE_URL,
) -> Frame:
    """The frame of a page that belongs to the list: words, unit switch, who is there, bar under the thumb.

    here: address of this page, or of the word it belongs to. unit: what distances are shown in, with a link to the
    other; None: no switch. enter_url: where a reading is entered from here.
    """
    pages = tuple(Link(tr(text), url, is_here=url == here) for text, url in PAGES)
    if reader is not None and keeps_list(reader, garage):
        pages = (*pages, Link(tr("People"), PEOPLE_URL, is_here=here == PEOPLE_URL))
    find = Link(tr("Find"), FIND_URL, is_here=here == FIND_URL)
    come_in = None if reader else Link(tr("Come in"), COME_IN_URL)
    calendar = Link(tr("Your calendar"), CALENDAR_URL, is_here=here == CALENDAR_URL) if reader else None
    press = Link(tr("Enter a reading"), enter_url, is_here=here == CHOOSE_URL, is_main=True) if can_enter else None
    return Frame(
        title=title,
        garage=garage.name,
        day=day_in_head(today),
        home_url=ROAD_URL,
        pages=pages,
        unit=unit_name(unit) if unit else "",
        other_unit=_other_unit(unit) if unit else None,
        person=reader.name if reader else "",
        calendar=calendar,
        come_in=come_in,
        find=find,
        foot=tuple(link for link in (*pages, find, press, calendar, come_in) if link),
        bar=_bar(press, come_in),
    )


def bare_frame(title: str, *, garage: Garage, today: date, home_url: str = "") -> Frame:
    """The frame of a page with one purpose: garage name and day, nothing else to go to."""
    return Frame(title=title, garage=garage.name, day=day_in_head(today), home_url=home_url)


def _bar(press: Link | None, come_in: Link | None) -> tuple[Link, ...]:
    main = press or (Link(come_in.text, come_in.url, is_main=True) if come_in else None)
    if main is None or main.is_here:
        return ()
    return (Link(tr("Pages"), INDEX_ANCHOR), main)


def _other_unit(unit: DistanceUnit) -> Link:
    other = DistanceUnit.KM if unit is DistanceUnit.MI else DistanceUnit.MI
    return Link(tr("show {other}", other=unit_name(other) if other is DistanceUnit.MI else other), f"?unit={other}")
