"""With no day planned: what comes first, and what to do about it."""

from __future__ import annotations

from datetime import date
from typing import Protocol

from fleetcare.book.rows import BookRow
from fleetcare.language import tr, tr_book, tr_count
from fleetcare.wording import count_words, day_words, lower_first


class OpensFirst(Protocol):
    """The service whose window opens first."""

    @property
    def opens_on(self) -> date:
        """Its early date."""
        ...

    @property
    def name(self) -> str:
        """Of its vehicle."""
        ...

    @property
    def row(self) -> BookRow:
        """What is to be done."""
        ...

    @property
    def open_today(self) -> int:
        """How many windows are open."""
        ...


def nothing_planned(first: OpensFirst | None, today: date, how: str) -> str:
    """That nothing is planned, what comes first, and how days are planned. For page and command."""
    if first is None:
        told = tr("Nothing is planned, and no service has a date yet.")
    elif first.open_today:
        told = tr_count(
            "Nothing is planned, and {many} window is open: {name}, {service}, since {day}.",
            "Nothing is planned, and {many} windows are open. The first is that of {name}, {service}, since {day}.",
            first.open_today,
            many=count_words(first.open_today),
            name=first.name,
            service=lower_first(tr_book(first.row.short)),
            day=day_words(first.opens_on, today),
        )
    else:
        told = tr(
            "Nothing is planned. The first window opens on {day}: {name}, {service}.",
            day=day_words(first.opens_on, today),
            name=first.name,
            service=lower_first(tr_book(first.row.short)),
        )
    return f"{told} {how}".strip()
