"""Stickers for the glovebox: those in use, a form for new ones, and the sheet to print."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr
from fleetcare.page.cards.frame import Frame, full_frame, vehicle_url
from fleetcare.page.drawings.code import SquareCode, square_code
from fleetcare.wording import day_words

STICKERS_URL = "/stickers"
VEHICLE_FIELD, COPIES_FIELD, STAND_FIELD = "vehicle", "copies", "stand"
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
    """The page. done: what was just done. problem: why nothing was made. hidden: what every form carries."""

    frame: Frame
    done: str
    problem: str
    rows: tuple[VehicleRow, ...]
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


def stickers_card(
    *,
    garage: Garage,
    reader: Person,
    today: date,
    vehicles: Sequence[tuple[Vehicle, Sequence[tuple[str, datetime, datetime | None]]]],
    hidden: Sequence[tuple[str, str]],
    ticked: Collection[str] = (),
    done: str = "",
    problem: str = "",
) -> StickersCard:
    """vehicles: each with its stickers as (short mark, made at, last used at). ticked: marks ticked before."""
    zone = ZoneInfo(garage.zone)
    return StickersCard(
        frame=full_frame(tr("Stickers"), garage=garage, reader=reader, today=today, here=STICKERS_URL, can_enter=True),
        done=done,
        problem=problem,
        rows=tuple(
            VehicleRow(
                mark=vehicle.mark,
                name=vehicle.name,
                url=vehicle_url(vehicle.mark),
                told="" if held else tr("No sticker yet."),
                is_ticked=vehicle.mark in ticked if problem else not held,
                stickers=tuple(
                    StickerRow(_told(made, used, zone, today), f"{STICKERS_URL}/{short}/end")
                    for short, made, used in held
                ),
            )
            for vehicle, held in vehicles
        ),
        copies=tuple(range(1, MOST_COPIES + 1)),
        hidden=tuple(hidden),
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
