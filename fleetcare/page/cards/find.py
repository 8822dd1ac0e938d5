"""What was found by words: grouped by what it is, each with where it leads."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

from fleetcare.book.rows import BookRow
from fleetcare.due.looked_for import FindingHit, Hits, LineHit, LookedFor
from fleetcare.due.outlook import DueWindow
from fleetcare.fleet.people import Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr, tr_book
from fleetcare.page.cards.frame import CALENDAR_URL, FIND_URL, Frame, full_frame, vehicle_url
from fleetcare.page.cards.handbook import row_url
from fleetcare.page.cards.sentences import sheet_title
from fleetcare.page.cards.sheet import sheet_url
from fleetcare.page.cards.state_words import state_word
from fleetcare.wording import day_words, joined, sentence
from fleetcare.work.order import WorkOrder

WORDS_FIELD = "words"
LONGEST_TYPED = 80
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class FoundRow:
    """One thing: its vehicle's mark if it has one, what it is, a second line, and where it leads (empty: nowhere)."""

    title: str
    told: str
    url: str
    mark: str = ""
    kind: str = ""


@dataclass(frozen=True, slots=True)
class FoundGroup:
    """Things of one kind. more: said if there are more of them than are shown."""

    heading: str
    rows: tuple[FoundRow, ...]
    more: str


@dataclass(frozen=True, slots=True)
class FindCard:
    """The page: the field with what was typed, a sentence in place of the groups if there are none."""

    frame: Frame
    typed: str
    told: str
    groups: tuple[FoundGroup, ...]


def find_card(found: LookedFor, *, typed: str, reader: Person | None, can_enter: bool) -> FindCard:
    """What `found` holds for whoever typed it. can_enter: the bar leads to a reading."""
    typed = " ".join(typed.split())[:LONGEST_TYPED]
    return FindCard(
        frame=full_frame(
            tr("Find"), garage=found.garage, reader=reader, today=found.today, here=FIND_URL, can_enter=can_enter
        ),
        typed=typed,
        told=_told(found, typed, is_stranger=reader is None),
        groups=found_groups(found, reader),
    )


def found_groups(found: LookedFor, reader: Person | None = None) -> tuple[FoundGroup, ...]:
    """The groups that hold something, in the order in which people mean them."""
    today = found.today
    groups = (
        _group(tr("Vehicles"), found.vehicles, lambda each: _vehicle(each, today)),
        _group(tr("Services of vehicles"), found.lines, lambda each: _line(each, today)),
        _group(tr("Services in the Handbook"), found.services, _service),
        _group(tr("Sheets"), found.sheets, lambda each: _sheet(*each, today)),
        _group(tr("Findings"), found.findings, lambda each: _finding(each, today)),
        _group(tr("People"), found.people, lambda each: _person(each, found, reader)),
    )
    return tuple(group for group in groups if group.rows)


def _told(found: LookedFor, typed: str, *, is_stranger: bool) -> str:
    kinds = tr("a vehicle, a service, a sheet by its number, or a finding") if is_stranger else (
        tr("a vehicle, a service, a sheet by its number, a finding, or a person")
    )  # fmt: skip
    if not found.words:
        return tr("Type a few letters of {kinds}.", kinds=kinds)
    return (
        tr("Nothing begins like “{typed}”. Try fewer letters of {kinds}.", typed=typed, kinds=kinds)
        if found.is_empty
        else ""
    )


def _group(heading: str, hits: Hits[T], row: Callable[[T], FoundRow]) -> FoundGroup:
    more = tr("There are more; add a word.") if hits.has_more else ""
    return FoundGroup(heading, tuple(row(each) for each in hits.rows), more)


def _vehicle(vehicle: Vehicle, today: date) -> FoundRow:
    is_gone = vehicle.out_of_fleet_on is not None and vehicle.out_of_fleet_on <= today
    told = tr("Out of the fleet since {day}.", day=day_words(vehicle.out_of_fleet_on, today)) if is_gone and (
        vehicle.out_of_fleet_on is not None
    ) else ""  # fmt: skip
    return FoundRow(vehicle.name, told, vehicle_url(vehicle.mark), vehicle.mark, vehicle.called)


def _line(hit: LineHit, today: date) -> FoundRow:
    if isinstance(hit.state, DueWindow):
        early, likely, late = (day_words(day, today) for day in (hit.state.early, hit.state.likely, hit.state.late))
        told = tr("Early {early}, likely {likely}, late {late}.", early=early, likely=likely, late=late)
    else:
        told = tr("No date in sight.")
    return FoundRow(
        tr_book(hit.row.title),
        told,
        vehicle_url(hit.vehicle.mark),
        hit.vehicle.mark,
        tr("on {vehicle}", vehicle=hit.vehicle.name),
    )


def _service(row: BookRow) -> FoundRow:
    return FoundRow(tr_book(row.title), "", row_url(row.key))


def _sheet(order: WorkOrder, vehicle: Vehicle, today: date) -> FoundRow:
    day = order.closed_on or order.planned_on or order.opened_on
    told = sentence(f"{state_word(order.state)}, {day_words(day, today)}.")
    title = (
        tr("Sheet {sheet}: {order}", sheet=order.sheet, order=sheet_title(order.title))
        if order.title
        else tr("Sheet {sheet}", sheet=order.sheet)
    )
    return FoundRow(title, told, sheet_url(order.number), vehicle.mark, tr("for {vehicle}", vehicle=vehicle.name))


def _finding(hit: FindingHit, today: date) -> FoundRow:
    where = tr(", sheet {sheet}", sheet=f"{hit.sheet:04d}") if hit.sheet else ""
    told = tr(
        "Found {day}{where}{word}.",
        day=day_words(hit.on, today),
        where=where,
        word=tr(", settled") if hit.is_settled else "",
    )
    url = sheet_url(hit.sheet) if hit.sheet else f"{vehicle_url(hit.vehicle.mark)}/history"
    return FoundRow(tr_book(hit.words), told, url, hit.vehicle.mark, tr("on {vehicle}", vehicle=hit.vehicle.name))


def _person(person: Person, found: LookedFor, reader: Person | None) -> FoundRow:
    keeps_list = [tr("keeps the list")] if person.key == found.garage.list_keeper else []
    told = sentence(f"{joined([*keeps_list, *(role.value for role in person.roles)])}.")
    is_self = reader is not None and reader.key == person.key
    return FoundRow(
        person.name, tr("{told} Your calendar.", told=told) if is_self else told, CALENDAR_URL if is_self else ""
    )
