"""A sheet that was handed in is put back to where it stood, as long as nothing builds on it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from fleetcare.actions.gather import Rules, facts_of, garage_of, sheet_in, vehicle_in
from fleetcare.actions.ports import Change, Store, WriteUnit
from fleetcare.actions.screening import screen
from fleetcare.actions.settle import Settled, settle
from fleetcare.actions.sheet_visits import Shop, follow_sheet
from fleetcare.due.work_value import end_reading
from fleetcare.fleet.booking import UseEvent
from fleetcare.meter.doubt import own_note
from fleetcare.meter.reading import ReadingState
from fleetcare.work.order import WorkOrder
from fleetcare.work.sheet_records import looks_on, records_of, refuse_if_built_on
from fleetcare.work.steps import put_back


def put_back_sheet(
    store: Store, rules: Rules, sheet: int, *, now: datetime, who: str, shop: Shop
) -> tuple[WorkOrder, Settled]:
    """Takes back what handing a sheet in did, as long as nothing builds on it.

    Raises NotFound and BadStep, which says what builds on it.
    """
    with store.write(Change(who, f"sheet {sheet:04d} put back", now)) as unit:
        garage_of(unit)
        order = sheet_in(unit, sheet)
        after = put_back(order)
        mark = (order.mark,)
        refuse_if_built_on(
            order, work=unit.work(mark), found=unit.found(mark), orders=unit.orders(mark), moves=unit.moves(mark)
        )
        work = {(w.line, w.on, w.at): w for w in unit.work((order.mark,))}
        made = [
            work[record.line, record.on, record.at]
            for record in records_of(order, "")
            if (record.line, record.on, record.at) in work
            and next(s for s in order.services if s.line == record.line).recorded
        ]
        unit.take_back_work([record.id for record in made if record.id is not None])
        assert order.closed_on is not None  # it is closed
        unit.take_back_events([UseEvent(order.mark, kind, order.closed_on, where) for kind, where in order.events])
        unit.drop_found(sheet)
        _put_on_shelf_again(unit, sheet)
        if _reading_away(unit, order):
            screen(unit, rules, facts_of(unit, mark))
        for looked in looks_on(order, unit.found()):
            unit.settle_found(replace(looked, settled_on=None, settled_by="", settled_note=""))
        unit.put_order(after)
        unit.log_change(f"sheet {order.sheet}", "work order", order.state.value, f"put back: {after.state.value}")
        follow_sheet(unit, rules, shop.jobs, after, now=now)
        came = settle(unit, rules, now=now, base_url=shop.base_url, marks=(order.mark,))
        return after, came


def _reading_away(unit: WriteUnit, order: WorkOrder) -> bool:
    """Takes back the reading that came with a sheet, unless another sheet says the same; whether there was one."""
    assert order.closed_at is not None  # it is closed
    given = end_reading(order, vehicle_in(unit, order.mark), at=order.closed_at, by="")
    others = [other for other in unit.orders((order.mark,)) if other.number != order.number]
    if given is None or any((other.closed_on, other.end) == (order.closed_on, order.end) for other in others):
        return False
    counts = (ReadingState.USED, ReadingState.HELD)
    for reading in unit.readings((order.mark,)):
        is_it = reading.identity == given.identity and own_note(reading.note) == given.note
        if is_it and reading.state in counts and reading.id is not None:
            unit.set_reading_state(reading.id, ReadingState.TAKEN_BACK, given.note)
            return True
    return False


def _put_on_shelf_again(unit: WriteUnit, sheet: int) -> None:
    """What a sheet took lies there again; what was taken off the shelf for good since stays away."""
    taken = unit.drawn(sheet)
    if taken:
        unit.put_on_shelf(
            replace(item, amount=item.amount + taken[item.key]) for item in unit.shelf() if item.key in taken
        )
        unit.put_drawn(sheet, {})
