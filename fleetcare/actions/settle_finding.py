"""A finding is settled: somebody looked, or decided that nothing follows any more."""

from __future__ import annotations

from datetime import datetime

from fleetcare.actions.gather import Rules, garage_day, garage_of
from fleetcare.actions.ports import Change, Store, WriteUnit
from fleetcare.actions.settle import Settled, settle
from fleetcare.errors import BadFinding, NotFound
from fleetcare.work.found import Found, settled


def settle_finding(
    store: Store, rules: Rules, sheet: int, place: int, *, note: str, now: datetime, who: str, base_url: str
) -> tuple[Found, Settled]:
    """Somebody looked, or decided that nothing follows any more. Settled twice it counts once.

    Raises NotFound, and BadFinding without a word on what was seen.
    """
    if not note.strip():
        raise BadFinding("Nothing is said of what was seen.", remedy="Say it in a few words.", field="note")
    with store.write(Change(who, f"finding {sheet:04d}-{place} settled", now)) as unit:
        today = garage_day(garage_of(unit), now)
        found = next((f for f in unit.found() if (f.order, f.position) == (sheet, place)), None)
        if found is None:
            raise NotFound("finding", f"{sheet:04d}-{place}", [f"{f.order:04d}-{f.position}" for f in unit.found()])
        if found.settled_on is None:
            found = settled(found, on=today, by=who, note=note.strip())
            unit.settle_found(found)
            unit.log_change(str(found.line), "finding", found.words, f"settled: {note.strip()}")
        return found, settle(unit, rules, now=now, base_url=base_url, marks=_marks_of(unit, found))


def _marks_of(unit: WriteUnit, found: Found) -> tuple[str, ...]:
    """Where it was found, and where its component may be now."""
    return tuple(sorted({found.mark, *(move.to_mark for move in unit.moves((found.mark,)))}))
