"""Looks for things by words: vehicles, services, sheets, findings and people."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import TypeVar

from fleetcare.actions.gather import garage_day, garage_of
from fleetcare.actions.ports import ReadView, Store
from fleetcare.book.rows import IntervalBook
from fleetcare.due.looked_for import FindingHit, Hits, LineHit, LookedFor
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.people import Person
from fleetcare.fleet.sought import SoughtKind, typed_words, words_of
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr_book
from fleetcare.work.found import found_words
from fleetcare.work.order import WorkOrder
from fleetcare.work.sought import place_of

AT_MOST = 10
"""Of each kind; who sought more has not said enough."""

T = TypeVar("T")


def look_for(store: Store, book: IntervalBook, typed: str, *, with_people: bool, now: datetime) -> LookedFor:
    """What can be found by these words, each the beginning of one. Writes nothing. Raises BadInput in an empty home.

    with_people: whoever asks came in. To strangers people are not told.
    """
    words = typed_words(typed)
    with store.read() as view:
        garage = garage_of(view)
        today = garage_day(garage, now)
        if not words:
            return LookedFor(garage, today, ())
        titled = {
            key: words_of(row.title, row.short, tr_book(row.title), tr_book(row.short))
            for key, row in book.rows.items()
        }
        named = [(word, frozenset(key for key, has in titled.items() if _begins(word, has))) for word in words]
        keys = [key for key in sorted(book.rows) if all(key in services for _, services in named)]
        marks = [mark for _, mark in view.sought(SoughtKind.VEHICLE, words, AT_MOST + 1)]
        lines = view.sought_lines(named, AT_MOST + 1)
        sheets = view.sought(SoughtKind.SHEET, words, AT_MOST + 1)
        findings = view.sought(SoughtKind.FINDING, words, AT_MOST + 1)
        vehicles = _vehicles(view, [*marks, *(line.mark for line in lines), *(m for _, m in (*sheets, *findings))])
        return LookedFor(
            garage=garage,
            today=today,
            words=words,
            vehicles=_hits([vehicles[mark] for mark in marks]),
            services=_hits([book.rows[key] for key in keys]),
            lines=_hits(_lines(view, book, lines, vehicles)),
            sheets=_hits(_sheets(view, [int(thing) for thing, _ in sheets], vehicles)),
            findings=_hits(_findings(view, findings, vehicles)),
            people=_hits(_people(view, words)) if with_people else Hits(),
        )


def _begins(word: str, has: tuple[str, ...]) -> bool:
    return any(each.startswith(word) for each in has)


def _hits(rows: list[T]) -> Hits[T]:
    return Hits(tuple(rows[:AT_MOST]), len(rows) > AT_MOST)


def _vehicles(view: ReadView, marks: list[str]) -> dict[str, Vehicle]:
    wanted = sorted(set(marks))
    return {vehicle.mark: vehicle for vehicle in view.vehicles(wanted)} if wanted else {}


def _lines(
    view: ReadView, book: IntervalBook, lines: tuple[LineKey, ...], vehicles: Mapping[str, Vehicle]
) -> list[LineHit]:
    states = view.windows(sorted({line.mark for line in lines})) if lines else {}
    return [LineHit(vehicles[line.mark], line, book.rows[line.service], states.get(line)) for line in lines]


def _sheets(view: ReadView, numbers: list[int], vehicles: Mapping[str, Vehicle]) -> list[tuple[WorkOrder, Vehicle]]:
    wanted = sorted({*numbers})
    orders = {order.number: order for order in map(view.order, wanted) if order is not None}
    return [(orders[number], vehicles[orders[number].mark]) for number in numbers]


def _findings(view: ReadView, things: tuple[tuple[str, str], ...], vehicles: Mapping[str, Vehicle]) -> list[FindingHit]:
    if not things:
        return []
    marks = sorted({mark for _, mark in things})
    on_sheets = {(each.order, each.position): each for each in view.found(marks)}
    noted = {work.id: work for work in view.work(marks)}
    hits = []
    for thing, mark in things:
        on, place = place_of(thing)
        if place.is_noted:
            found = noted[place.number].findings[place.position]
            hits.append(FindingHit(vehicles[mark], on, found.text, 0, found.settled_on is not None))
        else:
            each = on_sheets[place.number, place.position]
            hits.append(FindingHit(vehicles[mark], on, found_words(each), each.order, not each.is_open))
    return hits


def _people(view: ReadView, words: tuple[str, ...]) -> list[Person]:
    keys = [key for key, _ in view.sought(SoughtKind.PERSON, words, AT_MOST + 1)]
    people = {person.key: person for person in view.people()}
    return [people[key] for key in keys]
