"""Work orders, findings and moves of components as the text of orders.toml, without loss."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from fleetcare.work.found import Found
from fleetcare.work.moves import Move
from fleetcare.work.order import (
    DialValue,
    WorkOrder,
)


def orders_as_text(orders: Iterable[WorkOrder], found: Sequence[Found], moves: Iterable[Move]) -> str:
    """The file; empty text if there is nothing. The same values always give the same bytes."""
    by_sheet: dict[int, list[Found]] = {}
    for each in found:
        by_sheet.setdefault(each.order, []).append(each)
    tables = [
        _table("order", _order_pairs(order, by_sheet.get(order.number, [])))
        for order in sorted(orders, key=lambda order: order.number)
    ]
    tables += [
        _table("component_move", _move_pairs(move))
        for move in sorted(moves, key=lambda move: (move.on, move.to_mark, move.to_component))
    ]
    return "\n".join(tables)


def _order_pairs(order: WorkOrder, found: Sequence[Found]) -> list[tuple[str, Any]]:
    return [
        ("number", order.number),
        ("vehicle", order.mark),
        ("state", order.state.value),
        ("title", order.title),
        ("opened_on", order.opened_on),
        ("opened_by", order.opened_by),
        ("planned_on", order.planned_on),
        ("visit", order.visit or None),
        ("bay", order.bay),
        ("mechanics", order.mechanics),
        ("started_at", order.started_at),
        ("stands_until", order.stands_until),
        ("until", order.until),
        ("reason", order.reason),
        ("start", _dial_table(order.start)),
        ("end", _dial_table(order.end)),
        ("closed_on", order.closed_on),
        ("closed_at", order.closed_at),
        (
            "services",
            [
                {
                    "component": s.line.component,
                    "service": s.line.service,
                    "done": s.done,
                    "left_because": s.left_because,
                    "recorded": s.recorded or None,
                }
                for s in order.services
            ],
        ),
        ("stages", [{"job": s.job, "stage": s.stage, "at": s.at} for s in order.stages]),
        (
            "fills",
            [
                {"component": f.component, "what": f.what, "litres": f.litres, "taken_out": f.taken_out}
                for f in order.fills
            ],
        ),
        (
            "torques",
            [
                {
                    "component": t.component,
                    "fastener": t.fastener,
                    "value": t.value,
                    "unit": t.unit.value,
                    "low": t.low,
                    "high": t.high,
                    "note": t.note,
                }
                for t in order.torques
            ],
        ),
        ("parts", [{"what": p.what, "amount": p.amount, "unit": p.unit, "cost": p.cost} for p in order.parts]),
        ("hands", [{"person": h.person, "minutes": h.minutes} for h in order.hands]),
        ("events", [{"kind": kind, "component": component} for kind, component in order.events]),
        ("note", order.note),
        ("told", order.told),
        ("signed_by", order.signed_by),
        ("handed_in", order.handed_in),
        ("photos", order.photos),
        ("was", None if order.was is None else order.was.value),
        ("found", [_found_table(each) for each in sorted(found, key=lambda each: each.position)]),
    ]


def _found_table(found: Found) -> dict[str, Any]:
    follow = found.follow
    dial = None if found.at is None or found.meter is None else DialValue(found.at, found.meter)
    return {
        "place_on_sheet": found.position,
        "component": found.component,
        "kind": found.kind,
        "grade": found.grade,
        "words": found.words,
        "on": found.on,
        "place": found.place,
        "value": found.value,
        "unit": found.unit,
        "low": found.low,
        "high": found.high,
        "dial": _dial_table(dial),
        "follows": follow.kind.value,
        "distance": follow.distance,
        "distance_unit": follow.unit.value,
        "days": follow.days,
        "factor": follow.factor,
        "todo": follow.todo,
        "by": found.by,
        "note": found.note,
        "decided": found.decided,
        "photos": found.photos,
        "settled_on": found.settled_on,
        "settled_by": found.settled_by,
        "settled_note": found.settled_note,
    }


def _move_pairs(move: Move) -> list[tuple[str, Any]]:
    return [
        ("on", move.on),
        ("from_vehicle", move.from_mark),
        ("from_component", move.from_component),
        ("to_vehicle", move.to_mark),
        ("to_component", move.to_component),
        ("note", move.note),
        (
            "carried",
            [
                {
                    "service": c.service,
                    "done_on": c.done_on,
                    "km_by_duty": None
                    if c.km_by_duty is None
                    else {duty: Decimal(repr(km)) for duty, km in c.km_by_duty},
                    "hours": None if c.hours is None else Decimal(repr(c.hours)),
                    "is_first": c.is_first,
                    "known": c.known,
                }
                for c in move.carried
            ],
        ),
    ]


def _dial_table(dial: DialValue | None) -> dict[str, Any] | None:
    return None if dial is None else {"value": dial.value, "unit": dial.unit.value}


def _table(name: str, pairs: Iterable[tuple[str, Any]]) -> str:
    lines = [f"[[{name}]]"]
    for key, value in pairs:
        if value is None or value == "" or value == [] or value == ():
            continue
        if isinstance(value, list):
            rows = ",\n".join(f"    {_value(each)}" for each in value)
            lines.append(f"{key} = [\n{rows},\n]")
        else:
            lines.append(f"{key} = {_value(value)}")
    return "\n".join(lines) + "\n"


def _value(value: Any) -> str:
    """A value as TOML has it; in an inline table what is None or empty is left out."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Decimal):
        # A point makes it a figure with its decimals; without one it is read as a whole number.
        return f"{value:f}"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, dict):
        pairs = [
            f"{_key(key)} = {_value(each)}" for key, each in value.items() if each is not None and each not in ("", ())
        ]
        return "{ " + ", ".join(pairs) + " }" if pairs else "{}"
    if isinstance(value, (tuple, list)):
        return "[" + ", ".join(_value(each) for each in value) + "]"
    return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007f")


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else json.dumps(key, ensure_ascii=False)
