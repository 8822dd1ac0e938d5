"""The history of one vehicle, for the file and for whoever asks: what it is, what is coming, what was done and found.

It holds what 49 CFR 396.3(b) asks the record of a vehicle to hold: its identification; the nature and due date of the
inspections and maintenance that are coming; and a dated record of what was done, with its nature. Source: 49 CFR
396.3(b)(2) as read; (b)(1) and (b)(3) from memory. Other laws ask for other things; the law where it runs counts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fleetcare.due.outlook import LineOutlook, VehicleOutlook
from fleetcare.fleet.people import Garage, Person
from fleetcare.language import tr, tr_book
from fleetcare.page.cards.follow_words import follow_words
from fleetcare.page.cards.frame import VEHICLES_URL, Frame, Plate, full_frame, vehicle_plate, vehicle_url
from fleetcare.page.cards.sentences import sheet_title
from fleetcare.page.cards.service_row import no_date_words
from fleetcare.page.cards.sheet import sheet_url
from fleetcare.page.cards.state_words import state_word
from fleetcare.page.cards.tags import PlateValue
from fleetcare.quantities import MeterUnit
from fleetcare.wording import day_words, document_words, joined, sentence, span_words
from fleetcare.work.component_history import Happened
from fleetcare.work.found import Found, found_words
from fleetcare.work.moves import Move
from fleetcare.work.new_vehicle import RECKONED
from fleetcare.work.order import OrderState, WorkOrder
from fleetcare.work.record import WorkDone

COLUMNS = ("vehicle", "vin", "kind", "day", "due_early", "due_likely", "due_late", "component", "nature", "reading",
           "unit", "by", "sheet", "note")  # fmt: skip
TYRES = "tyres"


@dataclass(frozen=True, slots=True)
class ComingRow:
    """Work that is coming: nature, and its three dates or why there are none."""

    component: str
    nature: str
    early: str
    likely: str
    late: str
    why_none: str


@dataclass(frozen=True, slots=True)
class PastRow:
    """Something that was done or found, or a component that moved. sheet_url: empty without a sheet."""

    day: str
    nature: str
    where: str
    at: str
    by: str
    sheet: str
    sheet_url: str
    note: str


@dataclass(frozen=True, slots=True)
class HistoryCard:
    """The page. identity: what tells this vehicle from others. table: rows under COLUMNS, for a spreadsheet."""

    frame: Frame
    plate: Plate
    vehicle: str
    vehicle_url: str
    table_url: str
    made_on: str
    identity: tuple[PlateValue, ...]
    gone: str
    coming: tuple[ComingRow, ...]
    past: tuple[PastRow, ...]
    earlier: tuple[tuple[str, tuple[PastRow, ...]], ...]
    """What came with components from other vehicles: component and its rows."""
    table: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Record:
    """Everything kept about one vehicle. earlier: by component title, what happened to it on other vehicles."""

    work: Sequence[WorkDone]
    orders: Sequence[WorkOrder]
    found: Sequence[Found]
    moves: Sequence[Move]
    earlier: Mapping[str, Sequence[Happened]]


def history_card(
    *,
    garage: Garage,
    reader: Person | None,
    outlook: VehicleOutlook,
    record: Record,
    names: Mapping[str, str],
    titles: Mapping[str, str],
) -> HistoryCard:
    """The history. names: of people by key. titles: of services by key."""
    vehicle, today = outlook.vehicle, outlook.today
    parts = {component.key: tr_book(component.title) for component in vehicle.components}
    past = _past(record, outlook, names, titles, parts)
    gone = vehicle.out_of_fleet_on
    return HistoryCard(
        frame=full_frame(
            tr("History of {vehicle}", vehicle=vehicle.name),
            garage=garage,
            reader=reader,
            today=today,
            here=VEHICLES_URL,
            can_enter=False,
        ),
        plate=vehicle_plate(vehicle),
        vehicle=vehicle.name,
        vehicle_url=vehicle_url(vehicle.mark),
        table_url=f"{vehicle_url(vehicle.mark)}/history.csv",
        made_on=f"{day_words(today, date.min)}",
        identity=_identity(outlook, names),
        gone="" if gone is None or gone > today else tr("Out of the fleet since {day}.", day=day_words(gone, date.min)),
        coming=tuple(_coming(line, outlook) for line in _in_order(outlook)),
        past=tuple(row for _, row in past),
        earlier=tuple(
            (title, tuple(_happened(each, names) for each in rows)) for title, rows in record.earlier.items() if rows
        ),
        table=_table(outlook, record, names, titles, parts),
    )


def _identity(outlook: VehicleOutlook, names: Mapping[str, str]) -> tuple[PlateValue, ...]:
    vehicle = outlook.vehicle
    kinds = [c for c in vehicle.components if c.kind in (TYRES, "wheels")]
    tyres = next((fact.value for c in kinds for fact in c.facts if "size" in fact.name), "")
    last = outlook.last_reading
    read = "" if last is None else f"{document_words(last.value, last.unit)}, {day_words(last.on, date.min)}"
    values = (
        (tr("number here"), vehicle.mark),
        (tr("what"), vehicle.called or vehicle.kind.value),
        (tr("description"), vehicle.description),
        (tr("VIN or serial number"), vehicle.vin),
        (tr("in service since"), day_words(vehicle.in_service_on, date.min) if vehicle.in_service_on else ""),
        (tr("tyre size"), tyres),
        (tr("keeper"), names.get(vehicle.keeper, vehicle.keeper)),
        (tr("last reading"), read),
    )
    return tuple(PlateValue(name, value) for name, value in values)


def _in_order(outlook: VehicleOutlook) -> list[LineOutlook]:
    return sorted(
        outlook.lines,
        key=lambda line: (line.window is None, line.window.late if line.window else outlook.today, line.key),
    )


def _coming(line: LineOutlook, outlook: VehicleOutlook) -> ComingRow:
    window, title = line.window, tr_book(line.component.title)
    if window is None:
        return ComingRow(title, tr_book(line.row.title), "", "", "", no_date_words(line, outlook.vehicle.name))
    early, likely, late = (day_words(day, date.min) for day in (window.early, window.likely, window.late))
    return ComingRow(title, tr_book(line.row.title), early, likely, late, "")


def _past(
    record: Record,
    outlook: VehicleOutlook,
    names: Mapping[str, str],
    titles: Mapping[str, str],
    parts: Mapping[str, str],
) -> list[tuple[date, PastRow]]:
    """Newest first: records of work with what their sheet says, findings, moves, sheets that were given up."""
    sheets = {
        (line, order.closed_on): order for order in record.orders if order.closed_on is not None for line in order.done
    }
    rows: list[tuple[date, str, PastRow]] = []
    for done in record.work:
        order = sheets.get((done.line, done.on))
        nature = tr_book(titles.get(done.line.service, sentence(done.line.service.replace("-", " "))))
        told = [_note(done)] if order is None else [_sheet_words(order, done.line.component, names)]
        told += [tr("found: {words}", words=finding.text) for finding in done.findings]
        rows.append((done.on, nature, _row(done.on, nature, done.line.component, done, order, told, names, parts)))
    for each in record.found:
        settled = (
            tr(" Settled {settled_on}: {settled_note}.", settled_on=each.settled_on, settled_note=tr(each.settled_note))
            if each.settled_on is not None
            else ""
        )
        decided = tr(" Decided otherwise: {decided}.", decided=each.decided) if each.decided else ""
        nature = tr("Found: {words}", words=tr_book(found_words(each)))
        note = f"{follow_words(each.follow, each.on, date.min)}{decided}{settled}"
        at = document_words(each.at, each.meter) if each.at is not None and each.meter is not None else ""
        where = parts.get(each.component, each.component)
        by = names.get(each.by, each.by)
        row = PastRow(
            day_words(each.on, date.min), nature, where, at, by, f"{each.order:04d}", sheet_url(each.order), note
        )
        rows.append((each.on, nature, row))
    for move in record.moves:
        nature = tr("Component moved from {from_mark} to {to_mark}", from_mark=move.from_mark, to_mark=move.to_mark)
        where = tr(
            "{from_component}, {to_component} there", from_component=move.from_component, to_component=move.to_component
        )
        rows.append((move.on, nature, PastRow(day_words(move.on, date.min), nature, where, "", "", "", "", move.note)))
    for order in record.orders:
        if order.state in (OrderState.ABANDONED, OrderState.DEFERRED):
            nature = f"{sentence(state_word(order.state))}: {sheet_title(order.title)}"
            day = day_words(order.opened_on, date.min)
            url = sheet_url(order.number)
            rows.append((order.opened_on, nature, PastRow(day, nature, "", "", "", order.sheet, url, order.reason)))
    rows.sort(key=lambda row: (row[0], row[1]), reverse=True)
    return [(day, row) for day, _, row in rows]


def _row(
    on: date,
    nature: str,
    component: str,
    done: WorkDone,
    order: WorkOrder | None,
    told: Sequence[str],
    names: Mapping[str, str],
    parts: Mapping[str, str],
) -> PastRow:
    people = order.mechanics if order is not None and order.mechanics else ((done.by,) if done.by else ())
    return PastRow(
        day=day_words(on, date.min),
        nature=nature,
        where=parts.get(component, component),
        at=document_words(done.at, done.unit or MeterUnit.KM) if done.at is not None else "",
        by=joined([names.get(key, key) for key in people]),
        sheet=order.sheet if order is not None else "",
        sheet_url=sheet_url(order.number) if order is not None else "",
        note=" ".join(part for part in told if part),
    )


def _sheet_words(order: WorkOrder, component: str, names: Mapping[str, str]) -> str:
    """What the sheet says of that component: fluid, torques, parts, time, who signed."""
    parts = [
        tr("{litres} L {what} filled", litres=f.litres, what=f.what) for f in order.fills if f.component == component
    ]
    parts += [f"{t.fastener} {t.value} {t.unit}" for t in order.torques if t.component == component]
    parts += [f"{p.what} {p.amount} {p.unit}" for p in order.parts]
    if order.minutes:
        parts.append(tr("{span} worked", span=span_words(order.minutes)))
    if order.signed_by:
        parts.append(tr("signed {signed_by}", signed_by=order.signed_by))
    if order.told:
        parts.append(order.told)
    return f"{'; '.join(parts)}." if parts else ""


def _note(done: WorkDone) -> str:
    # The one note that no person wrote.
    return tr(RECKONED) if done.note == RECKONED else done.note


def _happened(each: Happened, names: Mapping[str, str]) -> PastRow:
    at = document_words(each.at, each.unit) if each.at is not None and each.unit is not None else ""
    by = names.get(each.by, each.by)
    return PastRow(
        day_words(each.on, date.min),
        sentence(tr_book(each.what)),
        tr("on {mark}", mark=each.mark),
        at,
        by,
        "",
        "",
        each.note,
    )


def _table(
    outlook: VehicleOutlook,
    record: Record,
    names: Mapping[str, str],
    titles: Mapping[str, str],
    parts: Mapping[str, str],
) -> tuple[tuple[str, ...], ...]:
    """One row each for what is coming and what was, under COLUMNS; days as ISO text."""
    vehicle = outlook.vehicle
    head = (vehicle.name, vehicle.vin)
    rows: list[tuple[str, ...]] = []
    for line in _in_order(outlook):
        window = line.window
        days = (
            ("", "", "")
            if window is None
            else tuple(day.isoformat() for day in (window.early, window.likely, window.late))
        )
        why = no_date_words(line, vehicle.name) if window is None else ""
        rows.append((*head, "coming", "", *days, line.component.title, line.row.title, "", "", "", "", why))
    sheets = {
        (line, order.closed_on): order for order in record.orders if order.closed_on is not None for line in order.done
    }
    for done in sorted(record.work, key=lambda done: (done.on, done.line, done.id or 0)):
        order = sheets.get((done.line, done.on))
        nature = titles.get(done.line.service, done.line.service)
        where = parts.get(done.line.component, done.line.component)
        unit = done.unit.value if done.unit is not None else ""
        at = "" if done.at is None else str(done.at)
        note = done.note if order is None else _sheet_words(order, done.line.component, names)
        found = "; ".join(f"found: {finding.text}" for finding in done.findings)
        told = " ".join(part for part in (note, found) if part)
        by = names.get(done.by, done.by)
        sheet = order.sheet if order is not None else ""
        rows.append((*head, "done", done.on.isoformat(), "", "", "", where, nature, at, unit, by, sheet, told))
    for each in sorted(record.found, key=lambda each: (each.on, each.order, each.position)):
        at, unit = ("", "") if each.at is None or each.meter is None else (str(each.at), each.meter.value)
        by_day = each.follow.look_by(each.on)
        due = by_day.isoformat() if by_day is not None else ""
        told = follow_words(each.follow, each.on, date.min)
        where, by = parts.get(each.component, each.component), names.get(each.by, each.by)
        sheet = f"{each.order:04d}"
        rows.append((*head, "found", each.on.isoformat(), "", "", due, where, each.words, at, unit, by, sheet, told))
    for move in record.moves:
        nature = tr(
            "moved from {from_mark}/{from_component} to {to_mark}/{to_component}",
            from_mark=move.from_mark,
            from_component=move.from_component,
            to_mark=move.to_mark,
            to_component=move.to_component,
        )
        rows.append((*head, "moved", move.on.isoformat(), "", "", "", "", nature, "", "", "", "", move.note))
    return tuple(rows)
