"""The tags of one vehicle's components, value by value, with where each is from and the forms that change them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from fleetcare.fleet.component import Component
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.tag import Basis
from fleetcare.fleet.tag_reading import KNOWN_NAMES
from fleetcare.fleet.tag_said import said_of
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr, tr_book, tr_count
from fleetcare.page.cards.changed import Changed
from fleetcare.page.cards.frame import VEHICLES_URL, Frame, full_frame, vehicle_url
from fleetcare.page.cards.tags import still_blank
from fleetcare.wording import count_words, counted, sentence

COMPONENT_FIELD, NAME_FIELD, VALUE_FIELD, BASIS_FIELD = "component", "name", "value", "basis"
WHAT_FIELD, SHOWN_FIELD, GONE = "what", "shown", "gone"


@dataclass(frozen=True, slots=True)
class BasisChoice:
    """Where a value may be from."""

    value: str
    text: str
    is_on: bool


@dataclass(frozen=True, slots=True)
class ValueRow:
    """One value with its form. place: tells its fields from others. name: empty for a new value."""

    place: str
    name: str
    value: str
    told: str
    bases: tuple[BasisChoice, ...]
    shown: str
    problem: str


@dataclass(frozen=True, slots=True)
class ComponentTag:
    """The tag of one component. blanks: what nobody knows yet, in a sentence. known: names to choose from."""

    key: str
    title: str
    blanks: str
    values: tuple[ValueRow, ...]
    new: ValueRow
    known: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TriedValue:
    """A value that could not be written. name: as typed. is_new: it stood in the form for another value."""

    component: str
    name: str
    value: str
    basis: str
    problem: str
    is_new: bool


@dataclass(frozen=True, slots=True)
class TagPageCard:
    """The page. may_write: the reader may change what the tags say."""

    frame: Frame
    vehicle: str
    vehicle_url: str
    lead: str
    caution: str
    done: Changed | None
    said: str
    components: tuple[ComponentTag, ...]
    may_write: bool


def tag_page_card(
    *,
    garage: Garage,
    reader: Person | None,
    today: date,
    vehicle: Vehicle,
    may_write: bool,
    can_enter: bool,
    done: Changed | None = None,
    said: str = "",
    tried: TriedValue | None = None,
) -> TagPageCard:
    """The page about one vehicle. said: a doubt about the value that was just written; it is kept all the same."""
    title = tr("Tags of {name}", name=vehicle.name)
    return TagPageCard(
        frame=full_frame(title, garage=garage, reader=reader, today=today, here=VEHICLES_URL, can_enter=can_enter),
        vehicle=vehicle.name,
        vehicle_url=vehicle_url(vehicle.mark),
        lead=_lead(vehicle),
        caution=tr(
            "As stamped or entered here; check against the part itself and its manual before buying or filling."
        ),
        done=done,
        said=said,
        components=tuple(_component(each, tried) for each in vehicle.components),
        may_write=may_write,
    )


def _lead(vehicle: Vehicle) -> str:
    if not vehicle.components:
        return tr("{name} has no component yet.", name=vehicle.name)
    blank = sum(len(still_blank(each)) for each in vehicle.components)
    count = sentence(counted(len(vehicle.components), tr("component")))
    if not blank:
        return tr("{components}, and nothing that is asked for is blank.", components=count)
    return tr_count(
        "{components}; {number} value is still blank.",
        "{components}; {number} values are still blank.",
        blank,
        components=count,
        number=count_words(blank),
    )


def _component(component: Component, tried: TriedValue | None) -> ComponentTag:
    here = tried if tried is not None and tried.component == component.key else None
    names = list(dict.fromkeys(fact.name for fact in component.facts))
    if component.fluid_capacity_l is not None and "capacity" not in names:
        names.insert(0, "capacity")
    if component.fluid_grade and "fluid" not in names:
        names.insert(0, "fluid")
    blanks = still_blank(component)
    return ComponentTag(
        key=component.key,
        title=tr_book(component.title),
        blanks=tr("Still blank: {names}.", names=", ".join(blanks)) if blanks else "",
        values=tuple(_row(component, name, f"{component.key}-{place}", here) for place, name in enumerate(names)),
        new=_new(component, here),
        known=tuple(dict.fromkeys((*blanks, *KNOWN_NAMES))),
    )


def _row(component: Component, name: str, place: str, tried: TriedValue | None) -> ValueRow:
    fact = next((each for each in component.facts if each.name == name), None)
    value, basis = ("", Basis.MANUAL.value) if fact is None else (fact.value, fact.basis)
    if fact is None:
        own: Mapping[str, str] = {
            "fluid": component.fluid_grade,
            "capacity": f"{component.fluid_capacity_l.normalize():f} L" if component.fluid_capacity_l else "",
        }
        value = own.get(name, "")
    stood = said_of(component, name)
    told = stood
    if fact is not None:
        words = fact.value or tr("blank")
        told = tr("{name}: {value}, {basis}", name=tr(name), value=words, basis=tr(Basis(fact.basis).words))
    here = tried if tried is not None and not tried.is_new and tried.name.casefold() == name.casefold() else None
    return ValueRow(
        place=place,
        name=name,
        value=here.value if here else value,
        told=told,
        bases=_bases(here.basis if here else basis),
        shown=stood,
        problem=here.problem if here else "",
    )


def _new(component: Component, tried: TriedValue | None) -> ValueRow:
    here = tried if tried is not None and tried.is_new else None
    return ValueRow(
        place=f"{component.key}-new",
        name=here.name if here else "",
        value=here.value if here else "",
        told="",
        bases=_bases(here.basis if here else Basis.MANUAL.value),
        shown="",
        problem=here.problem if here else "",
    )


def _bases(chosen: str) -> tuple[BasisChoice, ...]:
    return tuple(BasisChoice(each.value, tr(each.words), each.value == chosen) for each in Basis)
