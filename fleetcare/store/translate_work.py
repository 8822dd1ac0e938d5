"""Between rows and values of work orders, findings and moves."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from fleetcare.fleet.component import LineKey
from fleetcare.quantities import DistanceUnit, MeterUnit, TorqueUnit
from fleetcare.store.cells import Columns, day_text, instant_or_none, instant_text
from fleetcare.store.gate import gated
from fleetcare.store.sentences import kept_text, told_again
from fleetcare.work.findings import Follow, FollowKind
from fleetcare.work.found import Found
from fleetcare.work.moves import Carried, Move
from fleetcare.work.order import (
    DialValue,
    Filled,
    Hands,
    OrderedService,
    OrderState,
    PartUsed,
    StageBegun,
    TorqueSet,
    WorkOrder,
)


def order_columns(order: WorkOrder) -> Columns:
    """A work order on its way in."""
    return {
        "number": order.number,
        "mark": order.mark,
        "state": order.state.value,
        "title": order.title,
        "opened_on": order.opened_on.isoformat(),
        "opened_by": order.opened_by,
        "planned_on": day_text(order.planned_on),
        "bay": order.bay,
        "mechanics": _json(list(order.mechanics)),
        "started_at": instant_or_none(order.started_at),
        "stands_until": instant_or_none(order.stands_until),
        "until_day": day_text(order.until),
        "reason": order.reason,
        "start_dial": _dial_text(order.start),
        "end_dial": _dial_text(order.end),
        "closed_on": day_text(order.closed_on),
        "closed_at": instant_or_none(order.closed_at),
        "services": _json(
            [[s.line.component, s.line.service, s.done, s.left_because, s.recorded] for s in order.services]
        ),
        "stages": _json([[s.job, s.stage, instant_text(s.at)] for s in order.stages]),
        "fills": _json([[f.component, f.what, str(f.litres), _figure(f.taken_out)] for f in order.fills]),
        "torques": _json(
            [
                [t.component, t.fastener, str(t.value), t.unit.value, _figure(t.low), _figure(t.high), t.note]
                for t in order.torques
            ]
        ),
        "parts": _json([[p.what, str(p.amount), p.unit, _figure(p.cost)] for p in order.parts]),
        "hands": _json([[h.person, h.minutes] for h in order.hands]),
        "note": order.note,
        "told": order.told,
        "signed_by": order.signed_by,
        "handed_in": order.handed_in,
        "photos": _json(list(order.photos)),
        "was": None if order.was is None else order.was.value,
        "events": _json([list(event) for event in order.events]),
        "visit": order.visit,
    }


def order(row: Any) -> WorkOrder:
    """A work order on its way out."""
    return WorkOrder(
        number=row.number,
        mark=row.mark,
        services=tuple(
            OrderedService(LineKey(row.mark, component, service), done, left, recorded)
            for component, service, done, left, recorded in json.loads(row.services)
        ),
        opened_on=date.fromisoformat(row.opened_on),
        state=OrderState(row.state),
        title=row.title,
        opened_by=row.opened_by,
        planned_on=_day(row.planned_on),
        bay=row.bay,
        mechanics=tuple(json.loads(row.mechanics)),
        started_at=_instant(row.started_at),
        stages=tuple(StageBegun(job, stage, datetime.fromisoformat(at)) for job, stage, at in json.loads(row.stages)),
        stands_until=_instant(row.stands_until),
        until=_day(row.until_day),
        reason=row.reason,
        start=_dial(row.start_dial),
        end=_dial(row.end_dial),
        closed_on=_day(row.closed_on),
        closed_at=_instant(row.closed_at),
        fills=tuple(Filled(where, what, Decimal(n), _decimal(out)) for where, what, n, out in json.loads(row.fills)),
        torques=tuple(
            TorqueSet(where, what, Decimal(value), TorqueUnit(unit), _decimal(low), _decimal(high), note)
            for where, what, value, unit, low, high, note in json.loads(row.torques)
        ),
        parts=tuple(PartUsed(what, Decimal(n), unit, _decimal(cost)) for what, n, unit, cost in json.loads(row.parts)),
        hands=tuple(Hands(person, minutes) for person, minutes in json.loads(row.hands)),
        note=row.note,
        told=row.told,
        signed_by=row.signed_by,
        handed_in=row.handed_in,
        photos=tuple(json.loads(row.photos)),
        was=None if row.was is None else OrderState(row.was),
        events=tuple((kind, component) for kind, component in json.loads(row.events)),
        visit=row.visit,
    )


def found_columns(found: Found) -> Columns:
    """A finding on its way in."""
    return {
        "sheet": found.order,
        "place_on_sheet": found.position,
        "mark": found.mark,
        "component": found.component,
        "kind": found.kind,
        "grade": found.grade,
        "words": found.words,
        "day": found.on.isoformat(),
        "place": found.place,
        "value": _figure(found.value),
        "unit": found.unit,
        "limit_low": _figure(found.low),
        "limit_high": _figure(found.high),
        "at_dial": None if found.at is None or found.meter is None else _dial_text(DialValue(found.at, found.meter)),
        "follow": found.follow.kind.value,
        "follow_distance": _figure(found.follow.distance),
        "follow_unit": found.follow.unit.value,
        "follow_days": found.follow.days,
        "follow_factor": _figure(found.follow.factor),
        "todo": found.follow.todo,
        "by": found.by,
        "note": found.note,
        "decided": found.decided,
        "photos": _json(list(found.photos)),
        "settled_on": day_text(found.settled_on),
        "settled_by": found.settled_by,
        "settled_note": str(found.settled_note),
        "settled_said": kept_text(found.settled_note),
    }


def found(row: Any) -> Found:
    """A finding on its way out."""
    dial = _dial(row.at_dial)
    return Found(
        mark=row.mark,
        component=row.component,
        kind=row.kind,
        grade=row.grade,
        words=row.words,
        on=date.fromisoformat(row.day),
        follow=Follow(
            FollowKind(row.follow),
            _decimal(row.follow_distance),
            DistanceUnit(row.follow_unit),
            row.follow_days,
            _decimal(row.follow_factor),
            row.todo,
        ),
        place=row.place,
        value=_decimal(row.value),
        unit=row.unit,
        low=_decimal(row.limit_low),
        high=_decimal(row.limit_high),
        at=None if dial is None else dial.value,
        meter=None if dial is None else dial.unit,
        by=row.by,
        note=row.note,
        decided=row.decided,
        photos=tuple(json.loads(row.photos)),
        order=row.sheet,
        position=row.place_on_sheet,
        settled_on=_day(row.settled_on),
        settled_by=row.settled_by,
        settled_note=told_again(row.settled_note, row.settled_said),
    )


def move_columns(move: Move) -> Columns:
    """A move on its way in."""
    return {
        "to_mark": move.to_mark,
        "to_component": move.to_component,
        "day": move.on.isoformat(),
        "from_mark": move.from_mark,
        "from_component": move.from_component,
        "carried": _json(
            [
                [c.service, c.done_on.isoformat(), _by_duty(c.km_by_duty), _float(c.hours), c.is_first, c.known]
                for c in move.carried
            ]
        ),
        "note": move.note,
    }


def move(row: Any) -> Move:
    """A move on its way out."""
    return Move(
        on=date.fromisoformat(row.day),
        from_mark=row.from_mark,
        from_component=row.from_component,
        to_mark=row.to_mark,
        to_component=row.to_component,
        carried=tuple(
            Carried(service, date.fromisoformat(day), _by_duty_back(km), _float_back(hours), is_first, known)
            for service, day, km, hours, is_first, known in json.loads(row.carried)
        ),
        note=row.note,
    )


def _json(value: Sequence[Any]) -> str:
    return json.dumps(_through(value), ensure_ascii=False, separators=(",", ":"))


def _through(value: Any) -> Any:
    """Lists through and through: in JSON a NUL is spelt out, and the gate on the row would not see it."""
    return [_through(part) for part in value] if isinstance(value, (list, tuple)) else gated(value)


def _figure(value: Decimal | None) -> str | None:
    return None if value is None else str(value)


def _decimal(text: str | None) -> Decimal | None:
    return None if text is None else Decimal(text)


def _by_duty(given: tuple[tuple[str, float], ...] | None) -> list[list[str]] | None:
    return None if given is None else [[duty, repr(km)] for duty, km in given]


def _by_duty_back(given: list[list[str]] | None) -> tuple[tuple[str, float], ...] | None:
    return None if given is None else tuple((duty, float(km)) for duty, km in given)


def _float(value: float | None) -> str | None:
    return None if value is None else repr(value)


def _float_back(text: str | None) -> float | None:
    return None if text is None else float(text)


def _dial_text(dial: DialValue | None) -> str | None:
    return None if dial is None else f"{dial.value} {dial.unit.value}"


def _dial(text: str | None) -> DialValue | None:
    if text is None:
        return None
    value, _, unit = text.partition(" ")
    return DialValue(Decimal(value), MeterUnit(unit))


def _day(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)


def _instant(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)
