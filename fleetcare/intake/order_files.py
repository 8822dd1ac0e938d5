"""Work orders, findings and moves of components read from orders.toml, strictly."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from datetime import UTC, datetime

from fleetcare.errors import BadFile, BadInput, Fault, FleetcareError, NotFound
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.intake.order_models import DialIn, FoundIn, MoveIn, OrderIn
from fleetcare.intake.text import clean_text
from fleetcare.intake.toml_files import TomlDocument
from fleetcare.language import saying
from fleetcare.work.findings import Follow
from fleetcare.work.found import Found
from fleetcare.work.moves import Carried, Move
from fleetcare.work.order import (
    DialValue,
    Filled,
    Hands,
    OrderedService,
    PartUsed,
    StageBegun,
    TorqueSet,
    WorkOrder,
)

ORDER_TABLES = ("order", "component_move")
_PHOTO = re.compile(r"[0-9a-f]{64}")
VehicleOf = Callable[[str], Vehicle | None]
"""The vehicle that is called so, None if it could not be read itself. Raises BadInput."""


def orders_in(
    documents: Iterable[TomlDocument], vehicle_of: VehicleOf, faults: list[Fault]
) -> tuple[tuple[WorkOrder, ...], tuple[Found, ...], tuple[Move, ...]]:
    """What these files hold. What is wrong goes into `faults`, each with its line; two sheets of one number too."""
    orders: dict[int, WorkOrder] = {}
    found: list[Found] = []
    moves: list[Move] = []
    for document in documents:
        for place in range(_count(document, "order")):
            try:
                given = document.checked(OrderIn, "order", place)
                vehicle = vehicle_of(given.vehicle)
                if vehicle is None:
                    continue
                order, seen = _order(given, vehicle.mark), [_found(each, given, vehicle.mark) for each in given.found]
            except BadFile as bad:
                faults += bad.faults
                continue
            except (BadInput, NotFound, ValueError) as bad:
                faults.append(
                    document.fault(bad.said if isinstance(bad, FleetcareError) else str(bad), "", "order", place)
                )
                continue
            if order.number in orders:
                faults.append(
                    document.fault(
                        saying("There are two sheets {sheet}.", sheet=order.sheet), "Take one away.", "order", place
                    )
                )
            orders[order.number] = order
            found += seen
        for place in range(_count(document, "component_move")):
            try:
                moved = document.checked(MoveIn, "component_move", place)
                came_from, went_to = vehicle_of(moved.from_vehicle), vehicle_of(moved.to_vehicle)
                if came_from is not None and went_to is not None:
                    moves.append(_move(moved, came_from.mark, went_to.mark))
            except BadFile as bad:
                faults += bad.faults
            except (BadInput, NotFound, ValueError) as bad:
                faults.append(
                    document.fault(
                        bad.said if isinstance(bad, FleetcareError) else str(bad), "", "component_move", place
                    )
                )
    return tuple(orders.values()), tuple(found), tuple(moves)


def _count(document: TomlDocument, table: str) -> int:
    there = document.tables.get(table, [])
    return len(there) if isinstance(there, list) else 0


def _order(given: OrderIn, mark: str) -> WorkOrder:
    return WorkOrder(
        number=given.number,
        mark=mark,
        services=tuple(
            OrderedService(
                LineKey(mark, _key_of(each.component), _key_of(each.service)),
                each.done,
                _clean(each.left_because),
                each.recorded,
            )
            for each in given.services
        ),
        opened_on=given.opened_on,
        state=given.state,
        title=_clean(given.title),
        opened_by=_clean(given.opened_by),
        planned_on=given.planned_on,
        visit=given.visit,
        bay=_clean(given.bay),
        mechanics=tuple(map(_clean, given.mechanics)),
        started_at=_utc(given.started_at),
        stages=tuple(
            StageBegun(_clean(each.job), _clean(each.stage), _utc(each.at) or each.at) for each in given.stages
        ),
        stands_until=_utc(given.stands_until),
        until=given.until,
        reason=_clean(given.reason),
        start=_dial(given.start),
        end=_dial(given.end),
        closed_on=given.closed_on,
        closed_at=_utc(given.closed_at),
        fills=tuple(Filled(_key_of(f.component), _clean(f.what), f.litres, f.taken_out) for f in given.fills),
        torques=tuple(
            TorqueSet(_key_of(t.component), _clean(t.fastener), t.value, t.unit, t.low, t.high, _clean(t.note))
            for t in given.torques
        ),
        parts=tuple(PartUsed(_clean(p.what), p.amount, _clean(p.unit), p.cost) for p in given.parts),
        hands=tuple(Hands(_clean(h.person), h.minutes) for h in given.hands),
        note=_lines(given.note),
        told=_lines(given.told),
        signed_by=_clean(given.signed_by),
        handed_in=_clean(given.handed_in),
        photos=_photos(given.photos),
        was=given.was,
        events=tuple((_clean(each.kind), _clean(each.component)) for each in given.events),
    )


def _found(given: FoundIn, order: OrderIn, mark: str) -> Found:
    dial = _dial(given.dial)
    return Found(
        mark=mark,
        component=_key_of(given.component),
        kind=_clean(given.kind),
        grade=_clean(given.grade),
        words=_clean(given.words),
        on=given.on,
        follow=Follow(given.follows, given.distance, given.distance_unit, given.days, given.factor, _clean(given.todo)),
        place=_clean(given.place),
        value=given.value,
        unit=_clean(given.unit),
        low=given.low,
        high=given.high,
        at=None if dial is None else dial.value,
        meter=None if dial is None else dial.unit,
        by=_clean(given.by),
        note=_clean(given.note),
        decided=_clean(given.decided),
        photos=_photos(given.photos),
        order=order.number,
        position=given.place_on_sheet,
        settled_on=given.settled_on,
        settled_by=_clean(given.settled_by),
        settled_note=_clean(given.settled_note),
    )


def _move(given: MoveIn, from_mark: str, to_mark: str) -> Move:
    return Move(
        on=given.on,
        from_mark=from_mark,
        from_component=_key_of(given.from_component),
        to_mark=to_mark,
        to_component=_key_of(given.to_component),
        carried=tuple(
            Carried(
                service=_key_of(each.service),
                done_on=each.done_on,
                km_by_duty=None
                if each.km_by_duty is None
                else tuple((_clean(duty), float(km)) for duty, km in each.km_by_duty.items()),
                hours=None if each.hours is None else float(each.hours),
                is_first=each.is_first,
                known=each.known,
            )
            for each in given.carried
        ),
        note=_clean(given.note),
    )


def _dial(given: DialIn | None) -> DialValue | None:
    return None if given is None else DialValue(given.value, given.unit)


def _key_of(text: str) -> str:
    return clean_text(text, field="key", required=True)


def _clean(text: str) -> str:
    return clean_text(text, field="note")


def _lines(text: str) -> str:
    return "\n".join(clean_text(line, field="note") for line in text.split("\n")) if text else ""


def _photos(names: Iterable[str]) -> tuple[str, ...]:
    for name in names:
        if _PHOTO.fullmatch(name) is None:
            raise BadInput("A photo has no such name.", remedy="Take it away.", field="photos")
    return tuple(names)


def _utc(moment: datetime | None) -> datetime | None:
    if moment is not None and moment.tzinfo is None:
        raise BadInput(
            saying("{moment} has no zone.", moment=moment), remedy="Write it with Z or an offset.", field="at"
        )
    return None if moment is None else moment.astimezone(UTC)
