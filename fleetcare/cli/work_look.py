"""Commands that look at work orders: work list, work show."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from fleetcare.cli.frame import AsJson, Home, command, parts_of, say, show_data
from fleetcare.cli.work import Sheet, sheet_number, today_of, told, work
from fleetcare.errors import NotFound
from fleetcare.language import tr, tr_book

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
    from fleetcare.page.cards.sentences import sheet_title
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
        say(tr("No sheet is open.") if not all_ else tr("There are no sheets yet."))
    for order in orders:
        say(f"{order.sheet}  {names[order.mark]}: {sheet_title(order.title)}. {_stand(order, today)}")


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

    said = sentence(tr(order.state.value))
    if order.until is not None:
        day = day_words(order.until, today)
        return tr("{state} until {day}: {reason}.", state=said, day=day, reason=order.reason)
    if order.reason:
        return f"{said}: {order.reason}."
    if order.stands_until is not None:
        return tr("{state} until {moment} UTC.", state=said, moment=f"{order.stands_until:%Y-%m-%d %H:%M}")
    if order.closed_on is not None:
        return tr("{state} {day}.", state=said, day=day_words(order.closed_on, today))
    if order.planned_on is not None:
        return tr("{state} for {day}.", state=said, day=day_words(order.planned_on, today))
    return f"{said}."


def _say_sheet(order: WorkOrder, found: Sequence[Found], today: date) -> None:
    from fleetcare.page.cards.follow_words import follow_words
    from fleetcare.page.cards.sentences import sheet_title
    from fleetcare.wording import span_words
    from fleetcare.work.found import found_words

    head = tr("Sheet {sheet}: {title}.", sheet=order.sheet, title=sheet_title(order.title))
    say(f"{head} {_stand(order, today)}")
    for service in order.services:
        left = tr("left: {why}", why=service.left_because)
        state = {None: tr("to do"), True: tr("done"), False: left}[service.done]
        say(f"  {service.line.component}, {service.line.service}: {state}")
    for name, dial in ((tr("start"), order.start), (tr("end"), order.end)):
        if dial is not None:
            say(f"  {name}: {dial.value} {dial.unit}")
    for filled in order.fills:
        went = tr("{litres} L {what} went in", litres=filled.litres, what=filled.what)
        out = tr(", {litres} L came out", litres=filled.taken_out) if filled.taken_out is not None else ""
        say(f"  {filled.component}: {went}{out}")
    for torque in order.torques:
        span = ""
        if torque.low is not None or torque.high is not None:
            span = tr(", range {low} to {high}", low=torque.low, high=torque.high)
        say(f"  {torque.fastener}: {torque.value} {torque.unit}{span}{f', {torque.note}' if torque.note else ''}")
    for part in order.parts:
        say(f"  {part.what}: {part.amount} {part.unit}{f', {part.cost}' if part.cost is not None else ''}")
    for hands in order.hands:
        say(f"  {hands.person}: {span_words(hands.minutes)}")
    for note in (order.note, order.told):
        if note:
            say(f"  {note}")
    for each in found:
        settled = ""
        if each.settled_on is not None:
            settled = " " + tr("Settled {day}: {note}.", day=each.settled_on, note=tr(each.settled_note))
        words, follows = tr_book(found_words(each)), follow_words(each.follow, each.on, today)
        say(f"  {each.order:04d}-{each.position} {words}. {follows}{settled}")
    if order.signed_by:
        say("  " + tr("signed {who}", who=order.signed_by))


def _one_order(parts: Parts, sheet: str) -> tuple[WorkOrder, tuple[Found, ...]]:
    """A sheet with what was found on it. Raises NotFound."""
    number = sheet_number(sheet)
    with parts.store.read() as view:
        order = view.order(number)
        if order is None:
            raise NotFound("sheet", f"{number:04d}", [each.sheet for each in view.orders()])
        return order, tuple(found for found in view.found((order.mark,)) if found.order == number)
