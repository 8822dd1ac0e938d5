"""The garage changes its workshop: hours, days off, who can do what, prices. The log says what, who and why."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from fleetcare.actions.gather import garage_of
from fleetcare.actions.ports import Change, Store

WORKSHOP = "workshop"
"""What the log calls whatever happens to it."""


@dataclass(frozen=True, slots=True)
class ValueChanged:
    """One value that is another now. key: of the figure, or `open`, `closed`, `skills`. before, after: as written."""

    key: str
    before: str
    after: str


def change_workshop(
    store: Store,
    changes: Sequence[ValueChanged],
    *,
    now: datetime,
    who: str,
    put_in_place: Callable[[], None],
) -> None:
    """Logs what is changed, and has it put in place. No due date hangs on it; bay days are planned by it from then on.

    put_in_place: makes the changed values those in force; done last inside the transaction, so that what goes wrong
    with it undoes everything. The write is what a process that plans beside the server sees. Nothing changed: nothing
    is written.
    """
    if not changes:
        return
    with store.write(Change(who, "the workshop", now)) as unit:
        garage_of(unit)
        for each in changes:
            unit.log_change(WORKSHOP, each.key, each.before, each.after)
        put_in_place()
