"""The page one comes back to after a change, and what it says was changed."""

from __future__ import annotations

from datetime import UTC, date, datetime
from urllib.parse import urlencode

from fastapi import Request
from fastapi.responses import RedirectResponse, Response

from fleetcare.actions.look_at_findings import lines_of_change
from fleetcare.actions.ports import LogEntry
from fleetcare.assemble import Parts
from fleetcare.fleet.people import Person
from fleetcare.language import tr_book
from fleetcare.page.cards.changed import DONE_FIELD, Changed, changed_card


def back_to(url: str, at: datetime, anchor: str = "") -> Response:
    """Leads back to a page, which then says what the change at that instant did."""
    return RedirectResponse(f"{url}?{urlencode({DONE_FIELD: at.astimezone(UTC).isoformat()})}{anchor}", status_code=303)


def changed_at(parts: Parts, request: Request, reader: Person | None, today: date) -> Changed | None:
    """What the reader's own change did to which the address leads back; None if it names none of theirs."""
    entries = entries_at(parts, request, reader)
    if not entries:
        return None
    with parts.store.read() as view:
        vehicles = view.vehicles()
    shorts = {key: tr_book(row.short) for key, row in parts.rules.book.rows.items()}
    return changed_card(entries, vehicles=vehicles, shorts=shorts, today=today)


def entries_at(parts: Parts, request: Request, reader: Person | None) -> tuple[LogEntry, ...]:
    """The lines of the log of the reader's own change to which the address leads back; none if it names none."""
    given = request.query_params.get(DONE_FIELD, "")
    if reader is None or not given:
        return ()
    try:
        at = datetime.fromisoformat(given[:40])
    except ValueError:
        return ()
    if at.tzinfo is None:
        return ()
    with parts.store.read() as view:
        return lines_of_change(view, who=reader.key, at=at)
