"""Work orders and findings as plain data, for `--json` and the API."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal

from fleetcare.page.as_data import Data
from fleetcare.work.found import Found, Judged
from fleetcare.work.order import DialValue, WorkOrder


def order_data(order: WorkOrder, found: Sequence[Found] = ()) -> Data:
    """One work order with what was found on it. Instants and days are ISO text, figures are text as they were given."""
    return {
        "sheet": order.sheet,
        "vehicle": order.mark,
        "state": order.state.value,
        "title": order.title,
        "services": [
            {
                "component": service.line.component,
                "service": service.line.service,
                "done": service.done,
                "left_because": service.left_because or None,
            }
            for service in order.services
        ],
        "opened_on": order.opened_on.isoformat(),
        "opened_by": order.opened_by,
        "planned_on": _day(order.planned_on),
        "bay": order.bay or None,
        "mechanics": list(order.mechanics),
        "started_at": _instant(order.started_at),
        "stands_until": _instant(order.stands_until),
        "stages": [{"job": s.job, "stage": s.stage, "at": _instant(s.at)} for s in order.stages],
        "until": _day(order.until),
        "reason": order.reason or None,
        "start": _dial(order.start),
        "end": _dial(order.end),
        "closed_on": _day(order.closed_on),
        "fills": [
            {"component": f.component, "what": f.what, "litres": str(f.litres), "taken_out": _figure(f.taken_out)}
            for f in order.fills
        ],
        "torques": [
            {
                "component": t.component,
                "fastener": t.fastener,
                "value": str(t.value),
                "unit": t.unit.value,
                "low": _figure(t.low),
                "high": _figure(t.high),
                "outside": t.is_outside,
                "note": t.note or None,
            }
            for t in order.torques
        ],
        "parts": [
            {"what": p.what, "amount": str(p.amount), "unit": p.unit, "cost": _figure(p.cost)} for p in order.parts
        ],
        "hands": [{"person": h.person, "minutes": h.minutes} for h in order.hands],
        "cost": _figure(order.cost),
        "note": "\n".join(part for part in (order.note, order.told) if part) or None,
        "signed_by": order.signed_by or None,
        "photos": list(order.photos),
        "findings": [found_data(each) for each in found],
    }


def found_data(found: Found) -> Data:
    """One finding, and what follows from it."""
    return {
        "finding": f"{found.order:04d}-{found.position}",
        "vehicle": found.mark,
        "component": found.component,
        "kind": found.kind,
        "place": found.place or None,
        "grade": found.grade or None,
        "value": _figure(found.value),
        "unit": found.unit or None,
        "limit": [_figure(found.low), _figure(found.high)],
        "words": found.words,
        "found_on": found.on.isoformat(),
        "by": found.by or None,
        "note": found.note or None,
        "follows": found.follow.kind.value,
        "look_by": _day(found.follow.look_by(found.on)),
        "distance": _figure(found.follow.distance),
        "distance_unit": found.follow.unit.value if found.follow.distance is not None else None,
        "factor": _figure(found.follow.factor),
        "todo": found.follow.todo or None,
        "decided": found.decided or None,
        "settled_on": _day(found.settled_on),
        "settled_note": found.settled_note or None,
    }


def judged_data(each: Judged) -> Data:
    """A finding that is not saved yet, with what the book says of it."""
    return {
        **found_data(each.found),
        "by_the_book": each.by_book.kind.value,
        "means": each.means or None,
        "limit": each.limit.words if each.limit else None,
        "source": each.source,
    }


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def _instant(instant: datetime | None) -> str | None:
    return None if instant is None else instant.isoformat()


def _figure(figure: Decimal | None) -> str | None:
    return None if figure is None else str(figure)


def _dial(dial: DialValue | None) -> str | None:
    return None if dial is None else f"{dial.value} {dial.unit.value}"
