"""The garage changes a figure of its interval book: every date is worked out again, and the log says who and why."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from fleetcare.actions.gather import Rules, garage_of
from fleetcare.actions.ports import Change, Store
from fleetcare.actions.settle import Settled, settle
from fleetcare.book.rows import BookRow
from fleetcare.due.telling import rule_words
from fleetcare.fleet.people import Garage, Person, Role


def may_change_book(person: Person, garage: Garage) -> bool:
    """Whether that person may change the book, which holds for every vehicle: who keeps the list, else any keeper."""
    return person.key == garage.list_keeper if garage.list_keeper else Role.KEEPER in person.roles


def change_book(
    store: Store,
    rules: Rules,
    key: str,
    before: BookRow | None,
    *,
    reason: str,
    now: datetime,
    who: str,
    base_url: str,
    put_in_place: Callable[[], None],
) -> Settled:
    """Stores what follows from a changed row, in one transaction, and logs it.

    rules: with the book as it will be. before: the row as it was. put_in_place: makes the changed book the one in
    force; done last inside the transaction, so that what goes wrong with it undoes everything.
    """
    row = rules.book.rows[key]
    with store.write(Change(who, f"{row.short}: {reason}" if reason else f"{row.short}: as in the book", now)) as unit:
        garage_of(unit)
        was = "" if before is None else rule_words(before.rule)
        unit.log_change("book", key, was, rule_words(row.rule))
        settled = settle(unit, rules, now=now, base_url=base_url)
        put_in_place()
        return settled
