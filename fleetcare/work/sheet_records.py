"""What a closed sheet leaves behind: records of work, looks that were done; and what builds on it."""

from __future__ import annotations

from collections.abc import Iterable

from fleetcare.errors import BadStep
from fleetcare.language import saying
from fleetcare.work.found import Found, look_of
from fleetcare.work.moves import Move
from fleetcare.work.order import WorkOrder
from fleetcare.work.record import WorkDone


def records_of(order: WorkOrder, who: str) -> tuple[WorkDone, ...]:
    """A record of work for each service that was done; a look is no service and is settled instead."""
    assert order.closed_on is not None  # only closed sheets make records
    note = f"sheet {order.sheet}{f': {order.told}' if order.told else ''}".replace("\n", " ")
    return tuple(
        WorkDone(
            line=line,
            on=order.closed_on,
            at=None if order.end is None else order.end.value,
            unit=None if order.end is None else order.end.unit,
            by=who,
            note=note,
        )
        for line in order.done
        if look_of(line) is None
    )


def looks_on(order: WorkOrder, found: Iterable[Found]) -> tuple[Found, ...]:
    """The findings whose looks stand on the sheet and were done."""
    wanted = {look_of(line) for line in order.done}
    return tuple(each for each in found if (each.order, each.position) in wanted)


def refuse_if_built_on(
    order: WorkOrder,
    *,
    work: Iterable[WorkDone],
    found: Iterable[Found],
    orders: Iterable[WorkOrder],
    moves: Iterable[Move],
) -> None:
    """Raises BadStep, which names it, if something builds on a closed sheet. All that is given is of its vehicle."""
    assert order.closed_on is not None  # it is closed
    lines = set(order.done)
    for record in work:
        if record.line in lines and record.on > order.closed_on:
            raise BadStep(
                saying(
                    "Sheet {sheet} stays: {service} was done again on {on}.",
                    sheet=order.sheet,
                    service=record.line.service,
                    on=record.on,
                ),
                remedy="Take that back first.",
            )
    for each in found:
        if each.order == order.number and each.settled_on is not None:
            raise BadStep(
                saying(
                    "Sheet {sheet} stays: its finding “{words}” was settled on {settled_on}.",
                    sheet=order.sheet,
                    words=each.words,
                    settled_on=each.settled_on,
                ),
                remedy="Open a new sheet for what has to be put right.",
            )
    for other in orders:
        if any((look := look_of(line)) is not None and look[0] == order.number for line in other.lines):
            raise BadStep(
                saying(
                    "Sheet {sheet} stays: sheet {other} looks again at what was found on it.",
                    sheet=order.sheet,
                    other=other.sheet,
                ),
                remedy="Give that one up first." if other.state.is_open else "",
            )
    for move in moves:
        if move.from_mark == order.mark and move.on >= order.closed_on and move.from_component in order.components:
            raise BadStep(
                saying(
                    "Sheet {sheet} stays: {from_component} went to {to_mark} on {on}.",
                    sheet=order.sheet,
                    from_component=move.from_component,
                    to_mark=move.to_mark,
                    on=move.on,
                ),
                remedy="",
            )
