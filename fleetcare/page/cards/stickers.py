"""Stickers for the glovebox: those in use, a form for new ones, and the sheet to print."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr
from fleetcare.page.cards.choose import range_told, turn_link
from fleetcare.page.cards.frame import STICKERS_URL, Frame, Link, full_frame, vehicle_url
from fleetcare.page.cards.ticks import TICKED_AT_MOST
from fleetcare.page.drawings.code import SquareCode, square_code
from fleetcare.wording import day_words

VEHICLE_FIELD, COPIES_FIELD, STAND_FIELD = "vehicle", "copies", "stand"
OTHERS_FIELD, ALL_FIELD, FIND_FIELD, START_FIELD = "others", "all", "find", "start"
MOST_COPIES = 4


@dataclass(frozen=True, slots=True)
class StickerRow:
    """One sticker in use: since when, when it was last used, and where it is ended."""

    told: str
    end_url: str


@dataclass(frozen=True, slots=True)
class VehicleRow:
    """One vehicle with its stickers. is_ticked: it has none yet, or was ticked before."""

    mark: str
    name: str
    url: str
    told: str
    is_ticked: bool
    stickers: tuple[StickerRow, ...]


@dataclass(frozen=True, slots=True)
class StickersCard:
    """The page. done: what was just done. problem: why nothing was made. hidden: what every form carries.

    told: which part of the list this is, or that none was found. others: marks typed of vehicles that stand on other
    pages of the list; None where there is one page.
    """

    frame: Frame
    done: str
    problem: str
    has_any: bool
    told: str
    find: str
    earlier: Link | None
    later: Link | None
    rows: tuple[VehicleRow, ...]
    others: str | None
    is_all: bool
    copies: tuple[int, ...]
    hidden: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class PrintedSticker:
    """One sticker of the sheet."""

    mark: str
    name: str
    code: SquareCode


@dataclass(frozen=True, slots=True)
class SheetCard:
    """The sheet, shown once."""

    frame: Frame
    told: str
    stickers: tuple[PrintedSticker, ...]


Held = tuple[Vehicle, Sequence[tuple[str, datetime, datetime | None]]]
"""A vehicle with its stickers as (short mark, made at, last used at)."""


def stickers_shown(vehicles: Sequence[Held], find: str, start: int) -> tuple[int, int, Sequence[Held]]:
    """How many are called so, where the page of the list begins, and those on it.

    find: leaves those whose name, mark or kind holds this text. start: how many to leave out, for further pages.
    """
    wanted = find.strip().casefold()
    found = [row for row in vehicles if wanted in f"{row[0].name} {row[0].mark} {row[0].called}".casefold()]
    start = start if 0 <= start < len(found) else 0
    return len(found), start, found[start : start + TICKED_AT_MOST]


def stickers_card(
    *,
    garage: Garage,
    reader: Person,
    today: date,
    vehicles: Sequence[Held],
    hidden: Sequence[tuple[str, str]],
    find: str = "",
    start: int = 0,
    others: str = "",
    is_all: bool = False,
    ticked: Collection[str] = (),
    done: str = "",
    problem: str = "",
) -> StickersCard:
    """The page of a reader. vehicles: all that they answer for.

    find, start: which part of the list. others: marks typed before. is_all: all without one were wanted before.
    ticked: marks ticked before. In a list of several pages nothing is ticked of itself: what is typed may be all.
    """
    zone, find, is_many = ZoneInfo(garage.zone), find.strip(), len(vehicles) > TICKED_AT_MOST
    found, start, shown = stickers_shown(vehicles, find, start)
    later = start + len(shown)
    return StickersCard(
        frame=full_frame(tr("Stickers"), garage=garage, reader=reader, today=today, here=STICKERS_URL, can_enter=True),
        done=done,
        problem=problem,
        has_any=bool(vehicles),
        told=range_told(found, start, len(shown), find) if vehicles else "",
        find=find,
        earlier=turn_link(tr("Earlier ones"), STICKERS_URL, find, start - TICKED_AT_MOST) if start else None,
        later=turn_link(tr("Later ones"), STICKERS_URL, find, later) if later < found else None,
        others=others if is_many else None,
        is_all=is_all,
        rows=tuple(
            VehicleRow(
                mark=vehicle.mark,
                name=vehicle.name,
                url=vehicle_url(vehicle.mark),
                told="" if held else tr("No sticker yet."),
                is_ticked=vehicle.mark in ticked if problem else not held and not is_many,
                stickers=tuple(
                    StickerRow(_told(made, used, zone, today), f"{STICKERS_URL}/{short}/end")
                    for short, made, used in held
                ),
            )
            for vehicle, held in shown
        ),
        copies=tuple(range(1, MOST_COPIES + 1)),
        hidden=(*hidden, *(((FIND_FIELD, find), (START_FIELD, str(start))) if is_many else ())),
    )


def sheet_card(
    *, garage: Garage, reader: Person, today: date, stickers: Sequence[tuple[Vehicle, str]], copies: int
) -> SheetCard:
    """stickers: each vehicle with the address that its code opens. copies: how often each is printed."""
    printed = [
        PrintedSticker(vehicle.mark, vehicle.name, code)
        for vehicle, address in stickers
        for code in [square_code(address)] * copies
    ]
    return SheetCard(
        frame=full_frame(tr("Stickers"), garage=garage, reader=reader, today=today, here=STICKERS_URL, can_enter=True),
        told=(
            tr(
                "Print this page now, on A4 or Letter, at full size: a code is shown this once; the garage "
                "keeps no copy. Each sticker opens the reading page of its vehicle and nothing else. If one "
                "is lost, end it here."
            )
        ),
        stickers=tuple(printed),
    )


def _told(made_at: datetime, used_at: datetime | None, zone: ZoneInfo, today: date) -> str:
    made = tr("Made {day}", day=day_words(made_at.astimezone(zone).date(), today))
    if used_at is None:
        return tr("{made}, not used yet.", made=made)
    return tr("{made}, last used {day}.", made=made, day=day_words(used_at.astimezone(zone).date(), today))
