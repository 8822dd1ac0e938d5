"""The job sheet: what is to be done in which order, what it takes, what is to be written down; on screen and paper."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from fleetcare.book.bench import Need, added_up
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import later, tr, tr_book
from fleetcare.page.cards.bay_days import visit_anchor
from fleetcare.page.cards.follow_words import follow_words
from fleetcare.page.cards.frame import BAY_URL, VEHICLES_URL, Frame, Plate, full_frame, vehicle_plate, vehicle_url
from fleetcare.page.cards.sentences import sheet_title
from fleetcare.page.cards.sheet_rows import (
    LookRow,
    NeedRow,
    StageRow,
    TorqueRow,
    cover_of,
    framed_cautions,
    kinds_to_look_at,
    look_row,
    need_row,
    spells_of,
    stage_rows,
    torque_rows,
)
from fleetcare.page.cards.state_words import state_word
from fleetcare.page.cards.tags import PlateValue, Tag, tag_values
from fleetcare.page.drawings.clock_strip import ClockStrip, clock_strip
from fleetcare.page.drawings.code import SquareCode, square_code
from fleetcare.page.drawings.cover import Cover
from fleetcare.quantities import MeterUnit
from fleetcare.wording import (
    day_in_head,
    day_words,
    joined,
    lower_first,
    meter_words,
    quantity_words,
    sentence,
    span_words,
    weekday_name,
    weekday_short,
)
from fleetcare.work.findings import FindingBook, FindingKind
from fleetcare.work.found import Found, found_words
from fleetcare.work.order import OrderState, WorkOrder
from fleetcare.work.sheet_course import SheetCourse

MOST_STAGES_AT_EASE = 12
"""More than so many are set closer on paper, so that the sheet keeps to two pages."""
PLATE_VALUES = 4
MOST_TORQUES, MOST_NEEDS, MOST_FINDINGS = 6, 14, 11
"""On paper; what is over is named in a line."""
DEFERENCE = later(
    "Times, intervals and figures here are this garage’s own and its books’. The vehicle’s own manual, the "
    "product’s data sheet and local law come first; when in doubt, ask a qualified technician."
)


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
    ahead: stages that may begin, each with its name for the form. bay_day_url: its visit on the page of bay days, empty
    if it has none.
    """

    frame: Frame
    sheet: str
    title: str
    also: str
    told: str
    vehicle: str
    vehicle_url: str
    bay_day_url: str
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
    cautions = framed_cautions(course)
    framed = {caution.key for caution in cautions}
    torques = torque_rows(course, order)
    needs = added_up(need for each in course.jobs for need in each.bench.needs)
    kinds = kinds_to_look_at(course, components, findings)
    spells = spells_of(course, zone)
    title, rest = _title(order, titles)
    return SheetCard(
        frame=full_frame(
            tr("Sheet {sheet}, {vehicle}", sheet=order.sheet, vehicle=vehicle.name),
            garage=garage,
            reader=reader,
            today=today,
            here=VEHICLES_URL,
            can_enter=False,
        ),
        sheet=order.sheet,
        title=title,
        also=tr("and {value}", value=joined([lower_first(each) for each in rest])) if rest else "",
        told=_told(order, today, zone),
        vehicle=vehicle.name,
        vehicle_url=vehicle_url(vehicle.mark),
        bay_day_url=f"{BAY_URL}{visit_anchor(order.mark, order.visit)}" if order.visit else "",
        code=square_code(f"{base_url}{sheet_url(order.number)}"),
        plate=_plate(vehicle, names),
        tags=tuple(Tag(tr_book(c.title), tag_values(c)[:PLATE_VALUES]) for c in components if tag_values(c))[:2],
        facts=_facts(order, vehicle, names, zone),
        strip=clock_strip(spells, 900),
        strip_phone=clock_strip(spells, 340),
        cautions=tuple(tr_book(caution.text) for caution in cautions),
        stages=stage_rows(course, framed, order, zone, today),
        is_dense=len(course.stages) > MOST_STAGES_AT_EASE,
        without_job=_without_job(course, titles),
        torques=torques[:MOST_TORQUES],
        cover=cover_of(course),
        needs=tuple(need_row(need) for need in needs[:MOST_NEEDS]),
        looks=tuple(look_row(kind) for kind in kinds[:MOST_FINDINGS]),
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


def _title(order: WorkOrder, titles: Mapping[str, str]) -> tuple[str, list[str]]:
    """The heading, and what is done besides; a title of its own says it all."""
    named = [tr_book(titles.get(line.service, line.service.replace("-", " "))) for line in order.lines]
    title = sheet_title(order.title)
    return (named[0], named[1:]) if title == ", ".join(named) else (title, [])


def _told(order: WorkOrder, today: date, zone: ZoneInfo) -> str:
    state = sentence(state_word(order.state))
    match order.state:
        case OrderState.DEFERRED if order.until is not None:
            return tr("Deferred until {day}: {reason}.", day=day_words(order.until, today), reason=order.reason)
        case OrderState.STANDING if order.stands_until is not None:
            until = order.stands_until.astimezone(zone)
            return tr(
                "Stands until {weekday} {until}; nobody works on it before.",
                weekday=weekday_name(until.weekday()),
                until=f"{until:%H:%M}",
            )
        case OrderState.CLOSED if order.closed_on is not None:
            return tr("Handed in: {day}.", day=day_words(order.closed_on, today))
        case OrderState.ABANDONED:
            return tr("Given up: {reason}.", reason=order.reason)
    return (
        tr("{state} for {day}.", state=state, day=day_words(order.planned_on, today))
        if order.planned_on
        else f"{state}."
    )


def _plate(vehicle: Vehicle, names: Mapping[str, str]) -> Plate:
    keeper = names.get(vehicle.keeper, vehicle.keeper)
    plate = vehicle_plate(vehicle)
    called = tr("{called}, keeper {keeper}", called=vehicle.called, keeper=keeper) if keeper else vehicle.called
    return Plate(plate.name, plate.letters, plate.mark, called)


def _facts(order: WorkOrder, vehicle: Vehicle, names: Mapping[str, str], zone: ZoneInfo) -> tuple[PlateValue, ...]:
    day = day_in_head(order.planned_on) if order.planned_on is not None else ""
    place = ", ".join(part for part in (day, order.bay) if part)
    began = order.started_at.astimezone(zone) if order.started_at is not None else None
    return (
        PlateValue(tr("day and place"), place),
        PlateValue(tr("mechanic"), joined([names.get(key, key) for key in order.mechanics])),
        PlateValue(
            tr("{dial} at the start, {unit}", dial=_dial(vehicle), unit=_unit(vehicle))
            if _unit(vehicle)
            else tr("day"),
            "" if order.start is None else meter_words(order.start.value, order.start.unit),
        ),
        PlateValue(tr("hands on at"), "" if began is None else f"{weekday_short(began.weekday())} {began:%H:%M}"),
    )


def _dial(vehicle: Vehicle) -> str:
    return tr("odometer") if vehicle.odometer is not None else tr("hour meter")


def _unit(vehicle: Vehicle) -> str:
    meter = vehicle.odometer or vehicle.hour_meter
    return "" if meter is None else ("h" if meter.unit is MeterUnit.HOURS else meter.unit.value)


def _without_job(course: SheetCourse, titles: Mapping[str, str]) -> str:
    if not course.without_job:
        return ""
    named = joined([tr_book(titles.get(line.service, line.service.replace("-", " "))) for line in course.without_job])
    return tr("{named}: no stages are written for it; do it as the vehicle’s manual says.", named=named)


def _more(torques: Sequence[TorqueRow], needs: Sequence[Need], kinds: Sequence[FindingKind]) -> str:
    over = [
        *(row.what for row in torques[MOST_TORQUES:]),
        *(tr_book(need.what) for need in needs[MOST_NEEDS:]),
        *(tr_book(kind.title) for kind in kinds[MOST_FINDINGS:]),
    ]
    return tr("Also: {join}.", join=", ".join(over)) if over else ""


def _done(order: WorkOrder, titles: Mapping[str, str]) -> tuple[PlateValue, ...]:
    if order.state is not OrderState.CLOSED:
        return ()
    values = [
        PlateValue(
            tr_book(titles.get(service.line.service, service.line.service.replace("-", " "))),
            tr("done") if service.done else tr("left: {why}", why=service.left_because),
        )
        for service in order.services
    ]
    if order.end is not None:
        values.append(PlateValue(tr("at the end"), meter_words(order.end.value, order.end.unit)))
    for filled in order.fills:
        out = tr(", out {taken_out} L", taken_out=filled.taken_out) if filled.taken_out is not None else ""
        values.append(
            PlateValue(
                tr("filled, {component}", component=tr_book(filled.component.replace("-", " "))),
                f"{filled.litres} L{out}",
            )
        )
    for torque in order.torques:
        value = f"{torque.value} {torque.unit}{tr(', out of its range') if torque.is_outside else ''}"
        values.append(PlateValue(torque.fastener, f"{value}: {torque.note}" if torque.note else value))
    for part in order.parts:
        cost = f", {part.cost}" if part.cost is not None else ""
        values.append(PlateValue(tr_book(part.what), f"{quantity_words(part.amount, part.unit)}{cost}"))
    if order.minutes:
        values.append(PlateValue(tr("worked"), span_words(order.minutes)))
    return tuple(values)


def _found(each: Found, today: date) -> FoundRow:
    settled = ""
    if each.settled_on is not None:
        settled = tr(
            "Settled {day}: {settled_note}.", day=day_words(each.settled_on, today), settled_note=tr(each.settled_note)
        )
    note = f" {sentence(each.note)}." if each.note else ""
    decided = tr(" Decided otherwise than the book says: {decided}.", decided=each.decided) if each.decided else ""
    return FoundRow(
        f"{tr_book(found_words(each))}.{note}", f"{follow_words(each.follow, each.on, today)}{decided}", settled
    )


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
        (f"{each.job.key}/{each.stage.key}", f"{number} {tr_book(each.stage.title)}"[:80])
        for number, each in enumerate(course.stages, start=1)
        if (each.job.key, each.stage.key) not in begun
    )
