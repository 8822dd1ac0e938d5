"""The sheets of one vehicle: open ones, those handed in, and the form that opens another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fleetcare.due.measured_limits import is_measured
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.people import Garage, Person
from fleetcare.language import tr, tr_book
from fleetcare.page.cards.frame import VEHICLES_URL, Frame, Plate, full_frame, vehicle_plate, vehicle_url
from fleetcare.page.cards.sentences import sheet_title
from fleetcare.page.cards.sheet import sheet_url
from fleetcare.page.cards.state_words import state_word
from fleetcare.wording import day_words, sentence
from fleetcare.work.order import OrderState, WorkOrder

SERVICE_FIELD = "service"
CLOSED_AT_MOST = 40


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One sheet: number, address, title, how it stands."""

    sheet: str
    url: str
    title: str
    told: str


@dataclass(frozen=True, slots=True)
class ServiceChoice:
    """A service to put on a sheet: its key, its title, when it is due, and the sheet on which it stands already."""

    value: str
    title: str
    due: str
    taken: str


@dataclass(frozen=True, slots=True)
class SheetsCard:
    """The page. may_work: the reader may open a sheet. problem: why one was not opened."""

    frame: Frame
    plate: Plate
    vehicle: str
    address: str
    vehicle_url: str
    history_url: str
    open: tuple[SheetRow, ...]
    past: tuple[SheetRow, ...]
    choices: tuple[ServiceChoice, ...]
    may_work: bool
    problem: str


def sheets_card(
    *,
    garage: Garage,
    reader: Person | None,
    outlook: VehicleOutlook,
    orders: Sequence[WorkOrder],
    may_work: bool,
    problem: str = "",
) -> SheetsCard:
    """The sheets of a vehicle. orders: of this vehicle, by number."""
    vehicle, today = outlook.vehicle, outlook.today
    taken = {line: order.sheet for order in orders if order.state.is_open for line in order.lines}
    lines = sorted(
        outlook.lines, key=lambda line: (line.window is None, line.window.late if line.window else today, line.key)
    )
    rows = [
        (order, SheetRow(order.sheet, sheet_url(order.number), sheet_title(order.title), _told(order, outlook)))
        for order in reversed(orders)
    ]
    return SheetsCard(
        frame=full_frame(
            tr("Sheets of {vehicle}", vehicle=vehicle.name),
            garage=garage,
            reader=reader,
            today=today,
            here=VEHICLES_URL,
            can_enter=False,
        ),
        plate=vehicle_plate(vehicle),
        vehicle=vehicle.name,
        address=f"{vehicle_url(vehicle.mark)}/work",
        vehicle_url=vehicle_url(vehicle.mark),
        history_url=f"{vehicle_url(vehicle.mark)}/history",
        open=tuple(row for order, row in rows if order.state.is_open),
        past=tuple(row for order, row in rows if not order.state.is_open)[:CLOSED_AT_MOST],
        choices=tuple(
            ServiceChoice(
                value=f"{line.key.component}/{line.key.service}",
                title=tr_book(line.row.title),
                due=tr("likely {day}", day=day_words(line.window.likely, today))
                if line.window is not None
                else tr("no date"),
                taken=taken.get(line.key, ""),
            )
            for line in lines
            if not is_measured(line.key)
        ),
        may_work=may_work,
        problem=problem,
    )


def _told(order: WorkOrder, outlook: VehicleOutlook) -> str:
    today = outlook.today
    if order.state is OrderState.CLOSED and order.closed_on is not None:
        left = sum(1 for service in order.services if not service.done)
        return tr(
            "Handed in {day}{value}.",
            day=day_words(order.closed_on, today),
            value=tr(", {left} left", left=left) if left else "",
        )
    if order.until is not None:
        return tr("Deferred until {day}: {reason}.", day=day_words(order.until, today), reason=order.reason)
    if order.reason:
        return tr("Given up: {reason}.", reason=order.reason)
    planned = tr(" for {day}", day=day_words(order.planned_on, today)) if order.planned_on is not None else ""
    return f"{sentence(state_word(order.state))}{planned}."
