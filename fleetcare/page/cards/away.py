"""When one vehicle is spoken for, with what distance under which duty, and what happened to it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.fleet.duty import DutyCycle
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr, tr_book
from fleetcare.page.cards.changed import Changed
from fleetcare.page.cards.frame import VEHICLES_URL, Frame, Plate, full_frame, vehicle_plate, vehicle_url
from fleetcare.page.cards.ticks import TICKED_AT_MOST
from fleetcare.quantities import DistanceUnit
from fleetcare.wording import counted, day_words, joined, lower_first, reading_words

KEY_FIELD, SHOWN_FIELD, WHAT_FIELD = "key", "shown", "what"
TITLE_FIELD, FIRST_FIELD, LAST_FIELD, MARK_FIELD = "title", "first", "last", "vehicle"
DISTANCE_FIELD, UNIT_FIELD, DUTY_FIELD, EVENT_FIELD = "distance", "unit", "duty", "event"
OTHERS_FIELD = "others"
KIND_FIELD, ON_FIELD, COMPONENT_FIELD, NOTE_FIELD = "kind", "on", "component", "note"
SAVE, DROP = "save", "drop"
_EVENTS_AT_MOST = 20


@dataclass(frozen=True, slots=True)
class Option:
    """Something to tick or choose."""

    value: str
    text: str
    is_on: bool


@dataclass(frozen=True, slots=True)
class SpellForm:
    """The form of one spell. place: tells its fields from others; key: empty for a new one.

    others: marks typed of vehicles that are not there to tick; None where all are.
    """

    place: str
    key: str
    shown: str
    title: str
    first: str
    last: str
    distance: str
    units: tuple[Option, ...]
    duties: tuple[Option, ...]
    events: tuple[Option, ...]
    vehicles: tuple[Option, ...]
    others: str | None
    problem: str


@dataclass(frozen=True, slots=True)
class SpellRow:
    """One spell ahead. form: None for who may not, and for one that is read from a calendar."""

    title: str
    told: str
    form: SpellForm | None


@dataclass(frozen=True, slots=True)
class EventRow:
    """Something that happened. fields: what takes it back carries; empty where it cannot be."""

    told: str
    fields: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class TriedSpell:
    """A form of a spell that could not be taken. key: empty for a new one. marks: ticked."""

    key: str
    problem: str
    typed: Mapping[str, str]
    marks: Collection[str] = ()


@dataclass(frozen=True, slots=True)
class EventForm:
    """The form that notes an event, as it was typed."""

    kinds: tuple[Option, ...]
    components: tuple[Option, ...]
    on: str
    note: str
    problem: str


@dataclass(frozen=True, slots=True)
class AwayCard:
    """The page. new, event: None for who may not."""

    frame: Frame
    plate: Plate
    vehicle: str
    vehicle_url: str
    lead: str
    done: Changed | None
    problem: str
    spells: tuple[SpellRow, ...]
    new: SpellForm | None
    is_new_open: bool
    events: tuple[EventRow, ...]
    event: EventForm | None


def away_card(
    *,
    garage: Garage,
    reader: Person | None,
    today: date,
    vehicle: Vehicle,
    plannable: Sequence[Vehicle],
    names: Mapping[str, str],
    bookings: Sequence[Booking],
    states: Mapping[str, str],
    read_in: Collection[str],
    events: Sequence[UseEvent],
    by_sheet: Collection[UseEvent],
    kinds: Sequence[str],
    duties: Mapping[str, DutyCycle],
    can_enter: bool,
    done: Changed | None = None,
    tried: TriedSpell | None = None,
    event_tried: Mapping[str, str] | None = None,
) -> AwayCard:
    """The page about one vehicle. plannable: vehicles that the reader may speak for, this one or others.
    names: of every vehicle, by mark.

    bookings: of this vehicle, by first day; states: of each, by key. read_in: keys of those from a calendar. by_sheet:
    events that a sheet wrote. event_tried: fields of an event that could not be taken, with `problem`.
    """
    may = any(each.mark == vehicle.mark for each in plannable)
    form = _Forms(vehicle, plannable, kinds, duties, tried)
    ahead = [each for each in bookings if each.days.last >= today]
    keys = {each.key for each in ahead}
    title = tr("Days spoken for: {name}", name=vehicle.name)
    return AwayCard(
        frame=full_frame(title, garage=garage, reader=reader, today=today, here=VEHICLES_URL, can_enter=can_enter),
        plate=vehicle_plate(vehicle),
        vehicle=vehicle.name,
        vehicle_url=vehicle_url(vehicle.mark),
        lead=_lead(vehicle, ahead, today),
        done=done,
        problem=tried.problem if tried is not None and tried.key and (tried.key not in keys or not may) else "",
        spells=tuple(
            SpellRow(
                each.title,
                _told(each, vehicle, names, duties, today, is_read_in=each.key in read_in),
                form.of(f"spell-{place}", each, states.get(each.key, "")) if may and each.key not in read_in else None,
            )
            for place, each in enumerate(ahead, start=1)
        ),
        new=form.new() if may else None,
        is_new_open=tried is not None and not tried.key,
        events=tuple(
            _event(each, vehicle, today, may=may and each not in by_sheet)
            for each in sorted(events, key=lambda each: (each.on, each.kind), reverse=True)[:_EVENTS_AT_MOST]
        ),
        event=_event_form(vehicle, kinds, today, event_tried or {}) if may else None,
    )


class _Forms:
    """The forms of spells on one page."""

    def __init__(
        self,
        vehicle: Vehicle,
        plannable: Sequence[Vehicle],
        kinds: Sequence[str],
        duties: Mapping[str, DutyCycle],
        tried: TriedSpell | None,
    ) -> None:
        self._vehicle = vehicle
        self._plannable = plannable
        self._kinds = kinds
        self._duties = duties
        self._tried = tried

    def new(self) -> SpellForm:
        """The one for a new spell, of this vehicle to begin with."""
        typed = self._tried if self._tried is not None and not self._tried.key else None
        marks = typed.marks if typed else (self._vehicle.mark,)
        blank = self._form("new", "", "", {UNIT_FIELD: self._vehicle.unit.value}, marks)
        return self._again(blank, typed, marks)

    def of(self, place: str, booking: Booking, state: str) -> SpellForm:
        """The one that changes a spell."""
        typed = self._tried if self._tried is not None and self._tried.key == booking.key else None
        values = {
            TITLE_FIELD: booking.title,
            FIRST_FIELD: booking.days.first.isoformat(),
            LAST_FIELD: booking.days.last.isoformat(),
            DISTANCE_FIELD: "" if booking.distance is None else f"{booking.distance.normalize():f}",
            UNIT_FIELD: booking.unit.value,
            DUTY_FIELD: booking.duty,
            EVENT_FIELD: booking.event,
        }
        marks = typed.marks if typed else booking.marks
        return self._again(self._form(place, booking.key, state, values, marks), typed, marks)

    def _again(self, form: SpellForm, typed: TriedSpell | None, marks: Collection[str]) -> SpellForm:
        if typed is None:
            return form
        return replace(self._form(form.place, form.key, form.shown, typed.typed, marks), problem=typed.problem)

    def _form(self, place: str, key: str, state: str, values: Mapping[str, str], marks: Collection[str]) -> SpellForm:
        event, duty = values.get(EVENT_FIELD, ""), values.get(DUTY_FIELD, "")
        is_many = len(self._plannable) > TICKED_AT_MOST
        offered = [v for v in self._plannable if v.mark in marks] if is_many else self._plannable
        kinds = [*self._kinds, *([event] if event and event not in self._kinds else [])]
        return SpellForm(
            place=place,
            key=key,
            shown=state,
            title=values.get(TITLE_FIELD, ""),
            first=values.get(FIRST_FIELD, ""),
            last=values.get(LAST_FIELD, ""),
            distance=values.get(DISTANCE_FIELD, ""),
            units=tuple(Option(each.value, each.value, each.value == values.get(UNIT_FIELD)) for each in DistanceUnit),
            duties=tuple(Option(each, tr_book(cycle.title), each == duty) for each, cycle in self._duties.items()),
            events=tuple(Option(each, tr_book(each), each == event) for each in kinds),
            vehicles=tuple(Option(v.mark, f"{v.mark} {v.name}", v.mark in marks) for v in offered),
            others=values.get(OTHERS_FIELD, "") if is_many else None,
            problem="",
        )


def _lead(vehicle: Vehicle, ahead: Sequence[Booking], today: date) -> str:
    if not ahead:
        return tr("Nothing planned: {name} is spoken for on no day ahead.", name=vehicle.name)
    first = ahead[0]
    spells = counted(len(ahead), "spell")
    day = day_words(max(first.days.first, today), today)
    if first.days.first <= today:
        return tr("{name} is away now: {title}. {spells} in all.", name=vehicle.name, title=first.title, spells=spells)
    return tr(
        "{name} is spoken for in {spells} ahead, the next on {day}: {title}.",
        name=vehicle.name,
        spells=spells,
        day=day,
        title=first.title,
    )


def _told(
    booking: Booking,
    vehicle: Vehicle,
    names: Mapping[str, str],
    duties: Mapping[str, DutyCycle],
    today: date,
    *,
    is_read_in: bool,
) -> str:
    first, last = booking.days.first, booking.days.last
    days = day_words(first, today)
    if last != first:
        days = tr("{first} to {last}", first=days, last=day_words(last, today))
    parts = [days]
    if booking.distance is not None:
        duty = lower_first(tr_book(duties[booking.duty].title)) if booking.duty in duties else booking.duty
        far = reading_words(booking.distance, booking.unit)
        parts.append(f"{far} {duty}" if duty else far)
    elif booking.duty:
        parts.append(tr_book(booking.duty))
    if booking.event:
        parts.append(tr_book(booking.event))
    others = [names.get(mark, mark) for mark in booking.marks if mark != vehicle.mark]
    if others:
        parts.append(tr("with {names}", names=joined(others)))
    told = f"{', '.join(parts)}."
    return f"{told} {tr('Read from a calendar; change it there.')}" if is_read_in else told


def _event(event: UseEvent, vehicle: Vehicle, today: date, *, may: bool) -> EventRow:
    component = vehicle.component(event.component)
    where = f", {tr_book(component.title) if component else event.component}" if event.component else ""
    note = f": {event.note}" if event.note else ""
    fields = (
        (KIND_FIELD, event.kind),
        (ON_FIELD, event.on.isoformat()),
        (COMPONENT_FIELD, event.component),
        (WHAT_FIELD, DROP),
    )
    return EventRow(f"{day_words(event.on, today)}, {event.kind}{where}{note}.", fields if may else ())


def _event_form(vehicle: Vehicle, kinds: Sequence[str], today: date, typed: Mapping[str, str]) -> EventForm:
    return EventForm(
        kinds=tuple(Option(each, tr_book(each).replace("-", " "), each == typed.get(KIND_FIELD)) for each in kinds),
        components=tuple(
            Option(each.key, tr_book(each.title), each.key == typed.get(COMPONENT_FIELD)) for each in vehicle.components
        ),
        on=typed.get(ON_FIELD, today.isoformat()),
        note=typed.get(NOTE_FIELD, ""),
        problem=typed.get("problem", ""),
    )
