"""What to buy for the weeks ahead or for one bay day, and what lies on the shelf."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from urllib.parse import urlencode

from fleetcare.book.shopping import ShelfItem, ToBuy
from fleetcare.fleet.people import Garage, Person
from fleetcare.language import tr, tr_book
from fleetcare.page.cards.frame import BAY_URL, Frame, Link, full_frame
from fleetcare.wording import counted, day_strip, day_words, joined, quantity_words, sentence

SHOPPING_URL = "/shopping"
SHELF_URL = f"{SHOPPING_URL}/shelf"
SHELF_ANCHOR = "#shelf"
WEEKS_FIELD, DAY_FIELD = "weeks", "on"
WHAT_FIELD, AMOUNT_FIELD, UNIT_FIELD, PACK_FIELD, GONE_FIELD = "what", "amount", "unit", "pack", "gone"
WEEKS = (2, 4, 8, 13, 26)
USUAL_WEEKS = 4
_MARKS_AT_MOST = 6


@dataclass(frozen=True, slots=True)
class BuyRow:
    """One thing to buy. amount: in packs where it is sold so. told: how much is needed, and there already."""

    what: str
    amount: str
    told: str
    by: str
    used_for: str


@dataclass(frozen=True, slots=True)
class ShelfRow:
    """One thing on the shelf. amount: as it stands in its field. place: of its fields among others on the page."""

    place: int
    what: str
    told: str
    amount: str
    unit: str
    problem: str = ""


@dataclass(frozen=True, slots=True)
class NewItem:
    """The form for something that was not there yet, as it was typed."""

    what: str = ""
    amount: str = ""
    unit: str = ""
    pack: str = ""
    problem: str = ""
    problem_field: str = ""


@dataclass(frozen=True, slots=True)
class TriedItem:
    """A form that could not be taken. what: the item it is about, empty for a new one. typed: what stood in it."""

    what: str
    problem: str
    field: str
    typed: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class ShoppingCard:
    """The whole page. spans: other stretches to shop for. shelf: empty if nothing lies there."""

    frame: Frame
    lead: str
    buy: tuple[BuyRow, ...]
    enough: tuple[BuyRow, ...]
    without_job: str
    spans: tuple[Link, ...]
    days: tuple[Link, ...]
    table_url: str
    shelf: tuple[ShelfRow, ...]
    may_count: bool
    new: NewItem


def shopping_card(
    *,
    garage: Garage,
    reader: Person | None,
    today: date,
    lines: Sequence[ToBuy],
    until: date,
    on: date | None,
    weeks: int,
    days: Sequence[date],
    without_job: Sequence[str],
    shelf: Sequence[ShelfItem],
    may_count: bool,
    can_enter: bool,
    tried: TriedItem | None = None,
) -> ShoppingCard:
    """The page. on: the one bay day it is for, else `weeks` from today. days: bay days ahead that can be shopped for.

    without_job: services that no job does, in words. may_count: the reader may say what lies on the shelf.
    """
    buy = [line for line in lines if line.buy is None or line.buy > 0]
    enough = [line for line in lines if line.buy is not None and line.buy <= 0]
    asked = {DAY_FIELD: on.isoformat()} if on is not None else {WEEKS_FIELD: str(weeks)}
    new = NewItem()
    if tried is not None and not tried.what:
        typed = tried.typed
        new = NewItem(
            typed.get(WHAT_FIELD, ""),
            typed.get(AMOUNT_FIELD, ""),
            typed.get(UNIT_FIELD, ""),
            typed.get(PACK_FIELD, ""),
            tried.problem,
            tried.field,
        )
    return ShoppingCard(
        frame=full_frame(tr("Shopping"), garage=garage, reader=reader, today=today, here=BAY_URL, can_enter=can_enter),
        lead=_lead(buy, enough, until, on, today),
        buy=tuple(_buy(line, today) for line in buy),
        enough=tuple(_buy(line, today) for line in enough),
        without_job=_without(without_job),
        spans=tuple(
            Link(
                counted(each, "week", "weeks"),
                f"{SHOPPING_URL}?{WEEKS_FIELD}={each}",
                is_here=on is None and each == weeks,
            )
            for each in WEEKS
        ),
        days=tuple(
            Link(day_strip(each, today), f"{SHOPPING_URL}?{DAY_FIELD}={each.isoformat()}", is_here=each == on)
            for each in days
        ),
        table_url=f"{SHOPPING_URL}.csv?{urlencode(asked)}",
        shelf=tuple(_shelf(place, item, tried) for place, item in enumerate(shelf)),
        may_count=may_count,
        new=new,
    )


def _lead(buy: Sequence[ToBuy], enough: Sequence[ToBuy], until: date, on: date | None, today: date) -> str:
    stretch = (
        tr("For the bay on {day}", day=day_words(until, today))
        if on is not None
        else tr("Until {day}", day=day_words(until, today))
    )
    if buy:
        first = min(line.by for line in buy)
        return tr(
            "{stretch}: {things} to buy, the first by {day}.",
            stretch=stretch,
            things=counted(len(buy), "thing", "things"),
            day=day_words(first, today),
        )
    return f"{stretch}: {tr('all of it lies on the shelf') if enough else tr('nothing is needed')}."


def _buy(line: ToBuy, today: date) -> BuyRow:
    marks = list(dict.fromkeys(mark for mark, _ in line.used_for))
    named = (
        joined(marks)
        if len(marks) <= _MARKS_AT_MOST
        else tr("{marks} and others", marks=", ".join(marks[:_MARKS_AT_MOST]))
    )
    jobs = list(dict.fromkeys(service for _, service in line.used_for))
    if line.buy is None or line.needed is None:
        amount, told = tr("as much as its tag would say"), tr("how much is not known")
    else:
        amount = quantity_words(line.buy or line.needed, line.unit)
        if line.packs is not None and line.pack is not None:
            amount = tr("{packs} of {quantity}", packs=line.packs, quantity=quantity_words(line.pack, line.unit))
        there = quantity_words(line.on_shelf, line.unit) if line.on_shelf else tr("nothing")
        told = tr(
            "needed {quantity}, on the shelf {there}", quantity=quantity_words(line.needed, line.unit), there=there
        )
    return BuyRow(tr_book(line.what), amount, told, day_words(line.by, today), f"{named}: {'; '.join(jobs[:3])}")


def _without(services: Sequence[str]) -> str:
    if not services:
        return ""
    return tr(
        "No job is written for {services}, so what that takes is not in the list.", services=joined(list(services))
    )


def _shelf(place: int, item: ShelfItem, tried: TriedItem | None) -> ShelfRow:
    again = tried if tried is not None and tried.what == item.what else None
    pack = tr("{quantity} in one", quantity=quantity_words(item.pack, item.unit)) if item.pack is not None else ""
    return ShelfRow(
        place=place,
        what=tr_book(item.what),
        told=sentence("; ".join(part for part in (pack, item.note) if part)),
        amount=again.typed.get(AMOUNT_FIELD, "") if again else _plain(item.amount),
        unit=item.unit,
        problem=again.problem if again else "",
    )


def _plain(amount: Decimal) -> str:
    return f"{amount.normalize():f}"
