"""Commands that look at work orders: work list, work show."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from fleetcare.cli.frame import AsJson, Home, command, parts_of, say, show_data
from fleetcare.cli.work import Sheet, sheet_number, today_of, told, work
from fleetcare.errors import NotFound

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from fleetcare.assemble import Parts
    from fleetcare.work.found import Found
    from fleetcare.work.order import WorkOrder


@command("list", work)
def list_(
    vehicle: Annotated[str | None, typer.Option("--vehicle", help="Only this vehicle, by mark or name.")] = None,
    all_: Annotated[bool, typer.Option("--all", help="Closed and given up ones as well.")] = False,
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Shows the sheets that are open, and where each stands."""
    from fleetcare.fleet.naming import vehicle_called
    from fleetcare.page.order_data import order_data

    with parts_of(home) as parts:
        with parts.store.read() as view:
            names = {each.mark: each.name for each in view.vehicles()}
            marks = None if vehicle is None else (vehicle_called(view.vehicles(), vehicle).mark,)
            orders = [order for order in view.orders(marks) if all_ or order.state.is_open]
        today = today_of(parts)
    if as_json:
        show_data([order_data(order) for order in orders])
        return
    if not orders:
        say("No sheet is open." if not all_ else "There are no sheets yet.")
    for order in orders:
        say(f"{order.sheet}  {names[order.mark]}: {order.title}. {_stand(order, today)}")


@command("show", work)
def show(sheet: Sheet, home: Home = None, as_json: AsJson = False) -> None:
    """Shows one sheet: what is to be done, what was done, what was found and what follows."""
    with parts_of(home) as parts:
        order, found = _one_order(parts, sheet)
        told(parts, order, as_json=as_json, said="", found=found)
        if not as_json:
            _say_sheet(order, found, today_of(parts))


def _stand(order: WorkOrder, today: date) -> str:
    from fleetcare.wording import day_words, sentence

    said = sentence(order.state.value)
    if order.until is not None:
        return f"{said} until {day_words(order.until, today)}: {order.reason}."
    if order.reason:
        return f"{said}: {order.reason}."
    if order.stands_until is not None:
        return f"{said} until {order.stands_until:%Y-%m-%d %H:%M} UTC."
    if order.closed_on is not None:
        return f"{said} {day_words(order.closed_on, today)}."
    return f"{said} for {day_words(order.planned_on, today)}." if order.planned_on is not None else f"{said}."


def _say_sheet(order: WorkOrder, found: Sequence[Found], today: date) -> None:
    from fleetcare.page.cards.follow_words import follow_words
    from fleetcare.wording import span_words

    say(f"Sheet {order.sheet}: {order.title}. {_stand(order, today)}")
    for service in order.services:
        state = {None: "to do", True: "done", False: f"left: {service.left_because}"}[service.done]
        say(f"  {service.line.component}, {service.line.service}: {state}")
    for name, dial in (("start", order.start), ("end", order.end)):
        if dial is not None:
            say(f"  {name}: {dial.value} {dial.unit}")
    for filled in order.fills:
        out = f", {filled.taken_out} L came out" if filled.taken_out is not None else ""
        say(f"  {filled.component}: {filled.litres} L {filled.what} went in{out}")
    for torque in order.torques:
        span = f", range {torque.low} to {torque.high}" if torque.low is not None or torque.high is not None else ""
        say(f"  {torque.fastener}: {torque.value} {torque.unit}{span}{f', {torque.note}' if torque.note else ''}")
    for part in order.parts:
        say(f"  {part.what}: {part.amount} {part.unit}{f', {part.cost}' if part.cost is not None else ''}")
    for hands in order.hands:
        say(f"  {hands.person}: {span_words(hands.minutes)}")
    for note in (order.note, order.told):
        if note:
            say(f"  {note}")
    for each in found:
        settled = f" Settled {each.settled_on}: {each.settled_note}." if each.settled_on is not None else ""
        say(f"  {each.order:04d}-{each.position} {each.words}. {follow_words(each.follow, each.on, today)}{settled}")
    if order.signed_by:
        say(f"  signed {order.signed_by}")


def _one_order(parts: Parts, sheet: str) -> tuple[WorkOrder, tuple[Found, ...]]:
    """A sheet with what was found on it. Raises NotFound."""
    number = sheet_number(sheet)
    with parts.store.read() as view:
        order = view.order(number)
        if order is None:
            raise NotFound("sheet", f"{number:04d}", [each.sheet for each in view.orders()])
        return order, tuple(found for found in view.found((order.mark,)) if found.order == number)
