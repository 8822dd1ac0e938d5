"""Readings that are kept aside: what each says, what is odd about it, and the ways to settle it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr
from fleetcare.meter.doubt import Doubt, held_because, own_note
from fleetcare.meter.reading import Reading
from fleetcare.page.cards.frame import CHOOSE_URL, Frame, full_frame, vehicle_url
from fleetcare.wording import counted_words, day_words, meter_words, sentence, unit_name

HELD_URL = f"{CHOOSE_URL}/held"
HOW_FIELD, MEANT_FIELD, MARK_FIELD = "how", "meant", "vehicle"
RIGHT, WRONG, GUESS, MEANT = "right", "wrong", "guess", "meant"
_AT_MOST = 50


@dataclass(frozen=True, slots=True)
class HeldRow:
    """One reading kept aside. guess: words of the one good guess, empty without. problem: about the value typed."""

    id: str
    mark: str
    name: str
    url: str
    heading: str
    told: str
    why: str
    guess: str
    unit: str
    typed: str
    problem: str
    action_url: str


@dataclass(frozen=True, slots=True)
class HeldCard:
    """The page. told: how many wait, or that none does. done: what was settled just now. seal: in every form."""

    frame: Frame
    done: str
    told: str
    rows: tuple[HeldRow, ...]
    more: str
    seal: str


@dataclass(frozen=True, slots=True)
class Waiting:
    """A held reading with its vehicle and its doubt, as the page takes it."""

    vehicle: Vehicle
    reading: Reading
    doubt: Doubt | None


@dataclass(frozen=True, slots=True)
class TriedHeld:
    """What was typed for one reading and could not be taken, and why."""

    id: str
    typed: str
    problem: str


def held_card(
    *,
    garage: Garage,
    reader: Person,
    today: date,
    waiting: Sequence[Waiting],
    names: Mapping[str, str],
    seal: str,
    done: str = "",
    tried: TriedHeld | None = None,
) -> HeldCard:
    """The readings that wait for this reader, newest first. names: first names by person key."""
    count = len(waiting)
    told = (
        tr("No reading waits.")
        if not count
        else (
            tr(
                "{readings} {word} kept aside. Until you say what is right, the dates go by the others. They "
                "wait as long as it takes.",
                readings=sentence(counted_words(count, "reading", "readings")),
                word=tr("is") if count == 1 else tr("are"),
            )
        )
    )
    return HeldCard(
        frame=full_frame(
            tr("Readings kept aside"), garage=garage, reader=reader, today=today, here=HELD_URL, can_enter=True
        ),
        done=done,
        told=told,
        rows=tuple(_row(each, today, names, tried) for each in waiting[:_AT_MOST]),
        more=tr("And {value} more, once these are settled.", value=count - _AT_MOST) if count > _AT_MOST else "",
        seal=seal,
    )


def settled_words(vehicle: Vehicle, reading: Reading, instead: Reading | None, *, is_used: bool) -> str:
    """What became of a reading that was held: `Bellows: 84 210 mi stands in place of 48 210 mi.`"""
    shown = meter_words(reading.value, reading.unit)
    if instead is not None:
        return tr(
            "{vehicle}: {reading} stands in place of {shown}.",
            vehicle=vehicle.name,
            reading=meter_words(instead.value, instead.unit),
            shown=shown,
        )
    return (
        tr("{vehicle}: {shown} is used.", vehicle=vehicle.name, shown=shown)
        if is_used
        else tr("{vehicle}: {shown} is set aside for good.", vehicle=vehicle.name, shown=shown)
    )


def _row(each: Waiting, today: date, names: Mapping[str, str], tried: TriedHeld | None) -> HeldRow:
    reading, number = each.reading, str(each.reading.id or "")
    by = tr(" by {by}", by=names.get(reading.by, reading.by)) if reading.by else ""
    own = own_note(reading.note)
    mine = tried if tried is not None and tried.id == number else None
    guess = each.doubt.guess if each.doubt is not None else None
    return HeldRow(
        id=number,
        mark=each.vehicle.mark,
        name=each.vehicle.name,
        url=vehicle_url(each.vehicle.mark),
        heading=meter_words(reading.value, reading.unit),
        told=tr("Read {day}{by}.{value}", day=day_words(reading.on, today), by=by, value=f" “{own}”" if own else ""),
        why=each.doubt.sentence(each.vehicle.unit) if each.doubt is not None else tr(held_because(reading.note)),
        guess=meter_words(guess.value, reading.unit) if guess is not None else "",
        unit=unit_name(reading.unit),
        typed=mine.typed if mine else "",
        problem=mine.problem if mine else "",
        action_url=f"{HELD_URL}/{number}",
    )
