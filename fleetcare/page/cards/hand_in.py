"""Handing a sheet in on a phone: what is asked, with big targets."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fleetcare.fleet.component import Component
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr, tr_book
from fleetcare.page.cards.frame import Frame, Plate, bare_frame, vehicle_plate
from fleetcare.page.cards.sentences import sheet_title
from fleetcare.page.cards.sheet import sheet_url
from fleetcare.page.cards.sheet_rows import kinds_to_look_at
from fleetcare.quantities import MeterUnit
from fleetcare.wording import unit_name
from fleetcare.work.findings import FindingBook, FindingKind
from fleetcare.work.order import WorkOrder
from fleetcare.work.sheet_course import SheetCourse

PATTERN = "pattern"
"""Key of the finding that is marked on a drawing of the tooth."""
GEARED = ("rear axle", "front axle")
"""Kinds of component with a gear set that may be renewed."""
START, END, PARTS, NOTE, SIGNED = "start", "end", "parts", "note", "signed"
TORQUE_NOTE, PHOTO, KEPT, FORM, STEP = "torque-note", "photo", "kept", "form", "step"


@dataclass(frozen=True, slots=True)
class TorqueAsked:
    """A torque that is asked for: field, component, name of the tag's fact, what people call it, range in words."""

    field: str
    component: str
    fastener: str
    label: str
    unit: str
    span: str


@dataclass(frozen=True, slots=True)
class LookAsked:
    """A finding that is asked for at one place of one component. options: (key, words); none where it is measured."""

    field: str
    component: Component
    kind: FindingKind
    place: str

    @property
    def label(self) -> str:
        """What people read."""
        return f"{tr_book(self.kind.title)}, {tr_book(self.place)}" if self.place else tr_book(self.kind.title)


@dataclass(frozen=True, slots=True)
class Questions:
    """Everything a sheet asks when it is handed in; the form shows it and the answer is read by it."""

    services: tuple[tuple[str, str, str], ...]
    """(field, component/service, title)."""
    fluids: tuple[tuple[str, Component, str], ...]
    """(field of what went in, component, what its tag says)."""
    torques: tuple[TorqueAsked, ...]
    looks: tuple[LookAsked, ...]
    geared: tuple[tuple[str, Component], ...]
    hands: tuple[tuple[str, str, str], ...]
    """(field, person key, name)."""


def questions_of(
    order: WorkOrder,
    vehicle: Vehicle,
    course: SheetCourse,
    book: FindingBook,
    *,
    titles: Mapping[str, str],
    people: Mapping[str, str],
    reader: Person,
) -> Questions:
    """What this sheet asks. titles: of services by key. people: names by key."""
    components = [c for key in order.components if (c := vehicle.component(key)) is not None]
    workers = dict.fromkeys((*order.mechanics, reader.key))
    return Questions(
        services=tuple(
            (
                f"svc.{place}",
                f"{line.component}/{line.service}",
                tr_book(titles.get(line.service, line.service.replace("-", " "))),
            )
            for place, line in enumerate(order.lines)
        ),
        fluids=tuple(
            (f"in.{c.key}", c, f"{c.fluid_capacity_l.normalize():f} L {c.fluid_grade}".strip())
            for c in components
            if c.fluid_capacity_l is not None
        ),
        torques=_torques(course),
        looks=_looks(course, components, book),
        geared=tuple((f"renewed.{c.key}", c) for c in components if c.kind in GEARED),
        hands=tuple((f"hands.{key}", key, people.get(key, key)) for key in workers),
    )


def _torques(course: SheetCourse) -> tuple[TorqueAsked, ...]:
    asked: dict[tuple[str, str], TorqueAsked] = {}
    for each in course.stages:
        for value, aim in zip(each.stage.values, each.aims, strict=True):
            torque = aim.torque
            if torque is None or not value.tag_name:
                continue
            name = value.tag_name.casefold()
            asked.setdefault(
                (each.component.key, name),
                TorqueAsked(
                    field=f"tq.{len(asked)}",
                    component=each.component.key,
                    fastener=name,
                    label=tr_book(aim.what),
                    unit=torque.unit.value,
                    span=aim.words,
                ),
            )
    return tuple(asked.values())


def _looks(course: SheetCourse, components: Sequence[Component], book: FindingBook) -> tuple[LookAsked, ...]:
    kinds = kinds_to_look_at(course, components, book)
    return tuple(
        LookAsked(f"f.{component.key}.{kind.key}.{place_at}", component, kind, place)
        for component in components
        for kind in kinds
        if kind.fits(component)
        for place_at, place in enumerate(kind.places or ("",))
    )


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer to press."""

    value: str
    words: str
    is_chosen: bool


@dataclass(frozen=True, slots=True)
class Asked:
    """One question of the form. choices: to press; empty for a field to type into. more: said beside it."""

    field: str
    label: str
    choices: tuple[Choice, ...] = ()
    typed: str = ""
    more: str = ""
    is_tooth: bool = False


@dataclass(frozen=True, slots=True)
class ServiceAsked:
    """A service: done, or left with a reason."""

    field: str
    title: str
    is_left: bool
    why_field: str
    why: str


@dataclass(frozen=True, slots=True)
class HandInCard:
    """The form. kept: names of photos that came before. unit: of the dial, empty without one."""

    frame: Frame
    plate: Plate
    sheet: str
    title: str
    address: str
    form_key: str
    problem: str
    services: tuple[ServiceAsked, ...]
    start_is_asked: bool
    start: str
    end: str
    unit: str
    fluids: tuple[tuple[Asked, Asked], ...]
    torques: tuple[Asked, ...]
    torque_note: str
    looks: tuple[tuple[str, tuple[Asked, ...]], ...]
    """By component: its title and what is asked of it."""
    geared: tuple[tuple[str, str, bool], ...]
    hands: tuple[Asked, ...]
    parts: str
    note: str
    signed: str
    kept: str
    kept_count: int


def hand_in_card(
    *,
    garage: Garage,
    today: date,
    order: WorkOrder,
    vehicle: Vehicle,
    asked: Questions,
    reader: Person,
    typed: Mapping[str, str],
    form_key: str,
    problem: str = "",
) -> HandInCard:
    """The form. typed: what was typed before, by field; empty the first time. problem: why it was not taken."""
    kept = tuple(name for name in typed.get(KEPT, "").split(",") if name)
    return HandInCard(
        frame=bare_frame(tr("Hand in sheet {sheet}", sheet=order.sheet), garage=garage, today=today, home_url="/"),
        plate=vehicle_plate(vehicle),
        sheet=order.sheet,
        title=sheet_title(order.title),
        address=sheet_url(order.number),
        form_key=form_key,
        problem=problem,
        services=tuple(
            ServiceAsked(field, title, typed.get(field) == "left", f"why.{place}", typed.get(f"why.{place}", ""))
            for place, (field, _, title) in enumerate(asked.services)
        ),
        start_is_asked=order.start is None and bool(vehicle.meters),
        start=typed.get(START, ""),
        end=typed.get(END, ""),
        unit=_unit(vehicle),
        fluids=tuple(
            (
                Asked(
                    field,
                    tr("{component}: litres in", component=tr_book(component.title)),
                    typed=typed.get(field, ""),
                    more=tr("Its tag: {says}.", says=says),
                ),
                Asked(f"out.{component.key}", tr("Litres out"), typed=typed.get(f"out.{component.key}", "")),
            )
            for field, component, says in asked.fluids
        ),
        torques=tuple(
            Asked(each.field, f"{each.label}, {each.unit}", typed=typed.get(each.field, ""), more=each.span)
            for each in asked.torques
        ),
        torque_note=typed.get(TORQUE_NOTE, ""),
        looks=_looks_by_component(asked, typed),
        geared=tuple((field, tr_book(component.title), bool(typed.get(field))) for field, component in asked.geared),
        hands=tuple(
            Asked(field, tr("Minutes {name} worked", name=name), typed=typed.get(field, ""))
            for field, _, name in asked.hands
        ),
        parts=typed.get(PARTS, ""),
        note=typed.get(NOTE, ""),
        signed=typed.get(SIGNED, reader.name),
        kept=",".join(kept),
        kept_count=len(kept),
    )


def _looks_by_component(asked: Questions, typed: Mapping[str, str]) -> tuple[tuple[str, tuple[Asked, ...]], ...]:
    groups: dict[str, list[Asked]] = {}
    for each in asked.looks:
        measure = each.kind.measure
        chosen = typed.get(each.field, "")
        choices = (
            ()
            if measure is not None
            else tuple(Choice(grade.key, tr_book(grade.words), grade.key == chosen) for grade in each.kind.grades)
        )
        label = each.label if measure is None else f"{each.label}, {measure.unit}"
        is_tooth = each.kind.key == PATTERN and measure is None
        groups.setdefault(tr_book(each.component.title), []).append(
            Asked(each.field, label, choices, "" if choices else chosen, is_tooth=is_tooth)
        )
    return tuple((title, tuple(each)) for title, each in groups.items())


def _unit(vehicle: Vehicle) -> str:
    meter = vehicle.odometer or vehicle.hour_meter
    return "" if meter is None else unit_name(meter.unit) if meter.unit is not MeterUnit.HOURS else tr("hours")


def seen_of(asked: Questions, typed: Mapping[str, str]) -> list[tuple[LookAsked, str]]:
    """The findings that were answered, in the order of the form, with what was pressed or typed."""
    return [(each, typed[each.field].strip()) for each in asked.looks if typed.get(each.field, "").strip()]
