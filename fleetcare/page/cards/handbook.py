"""The Handbook: which services there are, when each falls due, where the figure is from, what this garage changed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from urllib.parse import quote

from fleetcare.book.changed_fields import field_words
from fleetcare.book.printed_pairs import doubts_of
from fleetcare.book.rows import BookRow, IntervalBook, Status
from fleetcare.due.telling import rule_words
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import later, tr, tr_book
from fleetcare.page.cards.frame import HANDBOOK_URL, Frame, Link, full_frame, vehicle_url
from fleetcare.page.cards.state_words import state_word
from fleetcare.wording import count_words, counted, grouped, joined, sentence

CAUTION = later(
    "These figures are a start. The vehicle’s own manual, the product’s data sheet, the law where you are "
    "and, when in doubt, a qualified technician come first."
)


NAMED_IN_LIST = 8
"""Vehicles named beside a service in the list, and `NAMED_ON_PAGE` on its own page; more are counted."""
NAMED_ON_PAGE = 100


@dataclass(frozen=True, slots=True)
class ListedRow:
    """One service as the list has it. changed: what this garage changed, in a few words; empty if nothing.

    used_more: how many more vehicles carry it than are named, in words.
    """

    title: str
    url: str
    rule: str
    known: str
    changed: str = ""
    used_by: tuple[Link, ...] = ()
    used_more: str = ""


@dataclass(frozen=True, slots=True)
class HandbookPart:
    """The services of one kind of component."""

    title: str
    told: str
    rows: tuple[ListedRow, ...]


@dataclass(frozen=True, slots=True)
class HandbookCard:
    """The list: what this garage's vehicles carry first, then everything by kind of component."""

    frame: Frame
    title: str
    lead: str
    caution: str
    ours: tuple[ListedRow, ...]
    parts: tuple[HandbookPart, ...]
    may_add: bool = False


def handbook_card(
    *,
    garage: Garage,
    reader: Person | None,
    today: date,
    book: IntervalBook,
    vehicles: Sequence[Vehicle],
    can_enter: bool,
    may_add: bool = False,
) -> HandbookCard:
    """The page that lists the interval book. may_add: the reader may put rows of the garage's own into it."""
    users = carried_by(vehicles)
    rows = [row for _, row in sorted(book.rows.items())]
    ours = sorted((row for row in rows if row.key in users), key=lambda row: (row.components, tr_book(row.title)))
    by_kind: defaultdict[str, list[BookRow]] = defaultdict(list)
    for row in rows:
        by_kind[row.components[0]].append(row)
    return HandbookCard(
        frame=full_frame(
            tr("Handbook"), garage=garage, reader=reader, today=today, here=HANDBOOK_URL, can_enter=can_enter
        ),
        title=tr("Handbook"),
        lead=_lead(rows, len(ours)),
        caution=CAUTION,
        ours=tuple(_listed(row, users) for row in ours),
        parts=tuple(
            HandbookPart(
                sentence(tr_book(kind)),
                counted(len(by_kind[kind]), "service", "services"),
                tuple(
                    _listed(row, users) for row in sorted(by_kind[kind], key=lambda row: (tr_book(row.title), row.key))
                ),
            )
            for kind in sorted(by_kind)
        ),
        may_add=may_add,
    )


def carried_by(vehicles: Iterable[Vehicle]) -> dict[str, tuple[Vehicle, ...]]:
    """By key of a row, the vehicles that carry it, in the garage's order."""
    found: dict[str, list[Vehicle]] = {}
    for vehicle in vehicles:
        for key in dict.fromkeys(line.service for component in vehicle.components for line in component.lines):
            found.setdefault(key, []).append(vehicle)
    return {key: tuple(users) for key, users in found.items()}


def row_url(key: str) -> str:
    """The page about one row: `/handbook/rear-axle-fluid`."""
    return f"{HANDBOOK_URL}/{quote(key, safe='')}"


def changed_words(row: BookRow) -> str:
    """What this garage changed in a row, in a few words: `changed here: repeat distance under towing`."""
    if row.overrides:
        return tr(
            "changed here: {figures}",
            figures=joined(list(dict.fromkeys(field_words(change.field) for change in row.overrides))),
        )
    return tr("added here") if row.status is Status.GARAGE else ""


def known_words(row: BookRow) -> str:
    """How well a figure is known, and whether a printed pair in it is none."""
    odd = tr("; a printed pair in it is no pair") if doubts_of(row) else ""
    return f"{state_word(row.status)}{odd}"


def users_named(vehicles: Sequence[Vehicle], at_most: int) -> tuple[tuple[Link, ...], str]:
    """Links to the first of these vehicles, and how many more there are, in words; empty if there are none."""
    named = tuple(Link(vehicle.name, vehicle_url(vehicle.mark)) for vehicle in vehicles[:at_most])
    more = len(vehicles) - len(named)
    return named, tr(" and {number} more", number=grouped(more)).strip() if more else ""


def _listed(row: BookRow, users: Mapping[str, tuple[Vehicle, ...]]) -> ListedRow:
    named, more = users_named(users.get(row.key, ()), NAMED_IN_LIST)
    return ListedRow(
        title=tr_book(row.title),
        url=row_url(row.key),
        rule=sentence(rule_words(row.rule)),
        known=known_words(row),
        changed=changed_words(row),
        used_by=named,
        used_more=more,
    )


def _lead(rows: Sequence[BookRow], ours: int) -> str:
    changed = sum(1 for row in rows if row.overrides)
    added = sum(1 for row in rows if not row.overrides and row.status is Status.GARAGE)
    here = [
        tr("{changed} changed", changed=count_words(changed)) if changed else "",
        tr("{added} added", added=count_words(added)) if added else "",
    ]
    told = joined([word for word in here if word])
    own = tr(" {told} by this garage.", told=sentence(told)) if told else tr(" This garage has changed none of them.")
    return tr(
        "{services}, {ours} of them on this garage’s vehicles.{own}",
        services=counted(len(rows), "service", "services"),
        ours=count_words(ours),
        own=own,
    )
