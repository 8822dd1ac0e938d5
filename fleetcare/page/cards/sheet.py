"""The job sheet: what is to be done in which order, what it takes, what is to be written down; on screen and paper."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from fleetcare.book.bench import Aim, Need, added_up
from fleetcare.book.jobs import Caution
from fleetcare.fleet.component import Component
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.tag import Torque
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.page.cards.follow_words import follow_words
from fleetcare.page.cards.frame import VEHICLES_URL, Frame, Plate, full_frame, vehicle_plate, vehicle_url
from fleetcare.page.cards.sentences import lower_first
from fleetcare.page.cards.tags import PlateValue, Tag, tag_values
from fleetcare.page.drawings.clock_strip import ClockStrip, Spell, clock_strip
from fleetcare.page.drawings.code import SquareCode, square_code
from fleetcare.page.drawings.cover import Cover, cover
from fleetcare.page.drawings.torque_range import TorqueRange, torque_range
from fleetcare.quantities import MeterUnit
from fleetcare.wording import WEEKDAYS, day_in_head, day_words, joined, meter_words, sentence, span_words
from fleetcare.work.findings import FindingBook, FindingKind
from fleetcare.work.found import Found
from fleetcare.work.order import OrderState, WorkOrder
from fleetcare.work.sheet_course import SheetCourse, SheetStage

MOST_CAUTIONS = 6
"""In the frame before the stages; the others stand in the stage where they bite."""
MOST_STAGES_AT_EASE = 12
"""More than so many are set closer on paper, so that the sheet keeps to two pages."""
PLATE_VALUES = 4
MOST_TORQUES, MOST_NEEDS, MOST_FINDINGS = 6, 14, 11
"""On paper; what is over is named in a line."""
DEFERENCE = (
    "Times, intervals and figures here are this garage’s own and its books’. The vehicle’s own manual, the product’s "
    "data sheet and local law come first; when in doubt, ask a qualified technician."
)


@dataclass(frozen=True, slots=True)
class StageRow:
    """One stage. number: on the sheet. more: values to reach. mind: cautions that bite here. stands: nobody works.

    until: of a standing stage, when the next hand may follow; empty if nobody knows. begun: when it was begun.
    """

    number: int
    text: str
    more: tuple[str, ...]
    mind: tuple[str, ...]
    time: str
    stands: bool
    until: str
    begun: str


@dataclass(frozen=True, slots=True)
class TorqueRow:
    """A torque to reach; drawing None: a blank to fill in. passes: rounds and notes. reached: as handed in."""

    what: str
    passes: str
    drawing: TorqueRange | None
    reached: str


@dataclass(frozen=True, slots=True)
class NeedRow:
    """Something to have on the bench; amount empty: a blank to fill in."""

    what: str
    amount: str


@dataclass(frozen=True, slots=True)
class LookRow:
    """A finding to write down: its title, and its grades to tick, or a unit to fill in for each of its places."""

    title: str
    grades: tuple[str, ...]
    blanks: tuple[str, ...]
    unit: str


@dataclass(frozen=True, slots=True)
class FoundRow:
    """What was found and what follows. photos: addresses of its pictures."""

    words: str
    follows: str
    settled: str


@dataclass(frozen=True, slots=True)
class SheetCard:
    """The job sheet. told: how it stands, in a sentence. facts: what is printed in the frame; empty values are blanks.

    code: opens this sheet on a phone. done: services as handed in. may_work: the reader may take steps on it. steps:
    forms that may be sent from here, by name.
    ahead: stages that may begin, each with its name for the form.
    """

    frame: Frame
    sheet: str
    title: str
    also: str
    told: str
    vehicle: str
    vehicle_url: str
    code: SquareCode
    plate: Plate
    tags: tuple[Tag, ...]
    facts: tuple[PlateValue, ...]
    strip: ClockStrip | None
    strip_phone: ClockStrip | None
    cautions: tuple[str, ...]
    stages: tuple[StageRow, ...]
    is_dense: bool
    without_job: str
    torques: tuple[TorqueRow, ...]
    cover: Cover | None
    needs: tuple[NeedRow, ...]
    looks: tuple[LookRow, ...]
    more: str
    done: tuple[PlateValue, ...]
    found: tuple[FoundRow, ...]
    note: tuple[str, ...]
    photos: tuple[str, ...]
    signed: str
    end_unit: str
    may_work: bool
    steps: frozenset[str]
    ahead: tuple[tuple[str, str], ...]
    address: str
    deference: str = DEFERENCE


def sheet_url(number: int) -> str:
    """The page of a sheet: `/work/147`."""
    return f"/work/{number}"


def sheet_card(
    *,
    garage: Garage,
    reader: Person | None,
    order: WorkOrder,
    vehicle: Vehicle,
    course: SheetCourse,
    findings: FindingBook,
    found: Sequence[Found],
    names: Mapping[str, str],
    titles: Mapping[str, str],
    today: date,
    base_url: str,
    may_work: bool,
) -> SheetCard:
    """The sheet. names: of people by key. titles: of services by key. may_work: the reader may take steps on it."""
    zone = ZoneInfo(garage.zone)
    components = [c for key in order.components if (c := vehicle.component(key)) is not None]
    cautions = _cautions(course)
    framed = {caution.key for caution in cautions}
    torques = _torques(course, order)
    needs = added_up(need for each in course.jobs for need in each.bench.needs)
    kinds = kinds_to_look_at(course, components, findings)
    spells = _spells(course, zone)
    title, rest = _title(order, titles)
    return SheetCard(
        frame=full_frame(
            f"Sheet {order.sheet}, {vehicle.name}",
            garage=garage,
            reader=reader,
            today=today,
            here=VEHICLES_URL,
            can_enter=False,
        ),
        sheet=order.sheet,
        title=title,
        also=f"and {joined([lower_first(each) for each in rest])}" if rest else "",
        told=_told(order, today, zone),
        vehicle=vehicle.name,
        vehicle_url=vehicle_url(vehicle.mark),
        code=square_code(f"{base_url}{sheet_url(order.number)}"),
        plate=_plate(vehicle, names),
        tags=tuple(Tag(c.title, tag_values(c)[:PLATE_VALUES]) for c in components if tag_values(c))[:2],
        facts=_facts(order, vehicle, names, zone),
        strip=clock_strip(spells, 900),
        strip_phone=clock_strip(spells, 340),
        cautions=tuple(caution.text for caution in cautions),
        stages=_stages(course, framed, order, zone, today),
        is_dense=len(course.stages) > MOST_STAGES_AT_EASE,
        without_job=_without_job(course, titles),
        torques=torques[:MOST_TORQUES],
        cover=_cover(course),
        needs=tuple(_need(need) for need in needs[:MOST_NEEDS]),
        looks=tuple(_look(kind) for kind in kinds[:MOST_FINDINGS]),
        more=_more(torques, needs, kinds),
        done=_done(order, titles),
        found=tuple(_found(each, today) for each in found),
        note=tuple(text for part in (order.note, order.told) if part for text in part.split("\n")),
        photos=tuple(f"{sheet_url(order.number)}/photos/{name}" for name in order.photos),
        signed=order.signed_by,
        end_unit=_unit(vehicle),
        may_work=may_work,
        steps=_steps(order) if may_work else frozenset(),
        ahead=_ahead(course, order),
        address=sheet_url(order.number),
    )


def kinds_to_look_at(
    course: SheetCourse, components: Sequence[Component], book: FindingBook
) -> tuple[FindingKind, ...]:
    """What may be found on these components: what the stages say to look at, else whatever the book has for them."""
    named = dict.fromkeys(look.finding for each in course.stages for look in each.stage.look_at if look.finding)
    kinds = [book.kinds[key] for key in named if key in book.kinds]
    if not kinds:
        kinds = [kind for kind in book.kinds.values() if kind.components and any(kind.fits(c) for c in components)]
    return tuple(kinds)


def _title(order: WorkOrder, titles: Mapping[str, str]) -> tuple[str, list[str]]:
    """The heading, and what is done besides; a title of its own says it all."""
    named = [titles.get(line.service, line.service.replace("-", " ")) for line in order.lines]
    return (named[0], named[1:]) if order.title == ", ".join(named) else (order.title, [])


def _told(order: WorkOrder, today: date, zone: ZoneInfo) -> str:
    state = sentence(order.state.value)
    match order.state:
        case OrderState.DEFERRED if order.until is not None:
            return f"Deferred until {day_words(order.until, today)}: {order.reason}."
        case OrderState.STANDING if order.stands_until is not None:
            until = order.stands_until.astimezone(zone)
            return f"Stands until {WEEKDAYS[until.weekday()]} {until:%H:%M}; nobody works on it before."
        case OrderState.CLOSED if order.closed_on is not None:
            return f"Handed in: {day_words(order.closed_on, today)}."
        case OrderState.ABANDONED:
            return f"Given up: {order.reason}."
    return f"{state} for {day_words(order.planned_on, today)}." if order.planned_on else f"{state}."


def _plate(vehicle: Vehicle, names: Mapping[str, str]) -> Plate:
    keeper = names.get(vehicle.keeper, vehicle.keeper)
    plate = vehicle_plate(vehicle)
    called = f"{vehicle.called}, keeper {keeper}" if keeper else vehicle.called
    return Plate(plate.name, plate.letters, plate.mark, called)


def _facts(order: WorkOrder, vehicle: Vehicle, names: Mapping[str, str], zone: ZoneInfo) -> tuple[PlateValue, ...]:
    day = day_in_head(order.planned_on) if order.planned_on is not None else ""
    place = ", ".join(part for part in (day, order.bay) if part)
    began = order.started_at.astimezone(zone) if order.started_at is not None else None
    return (
        PlateValue("day and place", place),
        PlateValue("mechanic", joined([names.get(key, key) for key in order.mechanics])),
        PlateValue(
            f"{_dial(vehicle)} at the start, {_unit(vehicle)}" if _unit(vehicle) else "day",
            "" if order.start is None else meter_words(order.start.value, order.start.unit),
        ),
        PlateValue("hands on at", "" if began is None else f"{WEEKDAYS[began.weekday()][:3]} {began:%H:%M}"),
    )


def _dial(vehicle: Vehicle) -> str:
    return "odometer" if vehicle.odometer is not None else "hour meter"


def _unit(vehicle: Vehicle) -> str:
    meter = vehicle.odometer or vehicle.hour_meter
    return "" if meter is None else ("h" if meter.unit is MeterUnit.HOURS else meter.unit.value)


def _cautions(course: SheetCourse) -> tuple[Caution, ...]:
    """The first of each job's cautions, in the order in which they bite, at most six."""
    found = {caution.key: caution for each in course.stages for caution in each.stage.cautions}
    return tuple(found.values())[:MOST_CAUTIONS]


def _stages(
    course: SheetCourse, framed: set[str], order: WorkOrder, zone: ZoneInfo, today: date
) -> tuple[StageRow, ...]:
    begun = {(each.job, each.stage): each.at for each in order.stages}
    said: set[str] = set(framed)
    rows = []
    for number, each in enumerate(course.stages, start=1):
        stage = each.stage
        mind = [caution.text for caution in stage.cautions if caution.key not in said]
        said |= {caution.key for caution in stage.cautions}
        at = begun.get((each.job.key, stage.key))
        rows.append(
            StageRow(
                number=number,
                text=stage.title,
                more=tuple(_aim_words(aim) for aim in each.aims),
                mind=tuple(mind),
                time=_time(each),
                stands=stage.is_standing,
                until=_until(each, zone, today),
                begun="" if at is None else f"{at.astimezone(zone):%H:%M}",
            )
        )
    return tuple(rows)


def _aim_words(aim: Aim) -> str:
    return f"{aim.what}: {aim.words or 'not known, fill in from the manual'}"


def _time(each: SheetStage) -> str:
    if not each.stage.is_standing:
        return span_words(each.stage.minutes or 0)
    least, most = each.stage.least_minutes or 0, each.stage.most_minutes
    if least == 0 and most is not None:
        return f"at most {span_words(most)}"
    return f"stands {span_words(least)}"


def _until(each: SheetStage, zone: ZoneInfo, today: date) -> str:
    if not each.stage.is_standing or each.step is None or not each.stage.least_minutes:
        return ""
    ends = each.step.ends.astimezone(zone)
    begins = each.step.begins.astimezone(zone)
    return f"{ends:%H:%M}" if ends.date() == begins.date() else f"{WEEKDAYS[ends.weekday()][:3]} {ends:%H:%M}"


def _spells(course: SheetCourse, zone: ZoneInfo) -> list[Spell]:
    return [
        Spell(each.step.begins.astimezone(zone), each.step.ends.astimezone(zone), each.stage.is_standing)
        for each in course.stages
        if each.step is not None and each.step.ends > each.step.begins
    ]


def _without_job(course: SheetCourse, titles: Mapping[str, str]) -> str:
    if not course.without_job:
        return ""
    named = joined([titles.get(line.service, line.service.replace("-", " ")) for line in course.without_job])
    return f"{named}: no stages are written for it; do it as the vehicle’s manual says."


def _torques(course: SheetCourse, order: WorkOrder) -> tuple[TorqueRow, ...]:
    reached = {torque.fastener.casefold(): torque for torque in order.torques}
    rows: dict[str, TorqueRow] = {}
    for each in course.stages:
        for value, aim in zip(each.stage.values, each.aims, strict=True):
            is_torque = aim.torque is not None or (value.tag_name and "bolt" in value.tag_name)
            if not is_torque or aim.what in rows:
                continue
            torque = aim.torque
            set_to = reached.get((value.tag_name or aim.what).casefold())
            passes = (
                [] if torque is None else [p.name if p.value is None else f"{p.name} {p.value}" for p in torque.passes]
            )
            fastener = [] if torque is None else [part for part in (torque.thread, torque.drive, torque.note) if part]
            rows[aim.what] = TorqueRow(
                what=aim.what,
                passes=", ".join((*fastener, *passes)),
                drawing=None if torque is None else torque_range(torque),
                reached="" if set_to is None else f"{set_to.value} {set_to.unit}",
            )
    return tuple(rows.values())


def _fastener(torque: Torque) -> str:
    """Thread, drive and passes, as far as they are known."""
    passes = [each.name if each.value is None else f"{each.name} {each.value}" for each in torque.passes]
    return ", ".join(part for part in (torque.thread, torque.drive, torque.note, *passes) if part)


def _cover(course: SheetCourse) -> Cover | None:
    """The cover that is opened on this sheet, if its tag says how many bolts it has."""
    for each in course.jobs:
        closure = each.bench.tag.closure
        is_opened = any(stage.key in ("drain-cover", "cover-on", "cover-gasket") for stage in each.job.stages)
        if is_opened and closure is not None and closure.value is not None:
            return cover(closure.value.bolts)
    return None


def _need(need: Need) -> NeedRow:
    if need.amount is None:
        return NeedRow(need.what, "")
    amount = f"{need.amount.normalize():f}"
    unit = "" if need.unit == "pieces" else f" {need.unit.removesuffix('s') if need.amount == 1 else need.unit}"
    packs = need.packs
    return NeedRow(need.what, f"{amount}{unit}{f', draw {packs}' if packs is not None and packs > 1 else ''}")


def _look(kind: FindingKind) -> LookRow:
    if kind.measure is not None:
        return LookRow(kind.title, (), kind.places or ("",), kind.measure.unit)
    grades = tuple(grade.words for grade in kind.grades)
    title = f"{kind.title} ({', '.join(kind.places)})" if kind.places else kind.title
    return LookRow(title, grades, (), "")


def _more(torques: Sequence[TorqueRow], needs: Sequence[Need], kinds: Sequence[FindingKind]) -> str:
    over = [
        *(row.what for row in torques[MOST_TORQUES:]),
        *(need.what for need in needs[MOST_NEEDS:]),
        *(kind.title for kind in kinds[MOST_FINDINGS:]),
    ]
    return f"Also: {', '.join(over)}." if over else ""


def _done(order: WorkOrder, titles: Mapping[str, str]) -> tuple[PlateValue, ...]:
    if order.state is not OrderState.CLOSED:
        return ()
    values = [
        PlateValue(
            titles.get(service.line.service, service.line.service.replace("-", " ")),
            "done" if service.done else f"left: {service.left_because}",
        )
        for service in order.services
    ]
    if order.end is not None:
        values.append(PlateValue("at the end", meter_words(order.end.value, order.end.unit)))
    for filled in order.fills:
        out = f", out {filled.taken_out} L" if filled.taken_out is not None else ""
        values.append(PlateValue(f"filled, {filled.component.replace('-', ' ')}", f"{filled.litres} L{out}"))
    for torque in order.torques:
        value = f"{torque.value} {torque.unit}{', out of its range' if torque.is_outside else ''}"
        values.append(PlateValue(torque.fastener, f"{value}: {torque.note}" if torque.note else value))
    for part in order.parts:
        cost = f", {part.cost}" if part.cost is not None else ""
        values.append(PlateValue(part.what, f"{part.amount} {part.unit}{cost}"))
    if order.minutes:
        values.append(PlateValue("worked", span_words(order.minutes)))
    return tuple(values)


def _found(each: Found, today: date) -> FoundRow:
    settled = ""
    if each.settled_on is not None:
        settled = f"Settled {day_words(each.settled_on, today)}: {each.settled_note}."
    note = f" {sentence(each.note)}." if each.note else ""
    decided = f" Decided otherwise than the book says: {each.decided}." if each.decided else ""
    return FoundRow(f"{each.words}.{note}", f"{follow_words(each.follow, each.on, today)}{decided}", settled)


def _steps(order: WorkOrder) -> frozenset[str]:
    match order.state:
        case OrderState.PLANNED:
            names = {"start", "defer", "abandon", "hand-in"}
        case OrderState.STANDING:
            names = {"start", "although", "defer", "abandon", "hand-in"}
        case OrderState.DEFERRED:
            names = {"start", "abandon", "hand-in"}
        case OrderState.IN_HAND:
            names = {"stands", "defer", "abandon", "hand-in"}
        case OrderState.CLOSED:
            names = {"back"}
        case _:
            names = set()
    return frozenset(names)


def _ahead(course: SheetCourse, order: WorkOrder) -> tuple[tuple[str, str], ...]:
    """Stages that have not begun: job and key, and their number and title."""
    begun = {(each.job, each.stage) for each in order.stages}
    return tuple(
        (f"{each.job.key}/{each.stage.key}", f"{number} {each.stage.title}"[:80])
        for number, each in enumerate(course.stages, start=1)
        if (each.job.key, each.stage.key) not in begun
    )
