"""What the commands that record something have in common: words turned into values, and what moved."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, TypeVar

from fleetcare.cli.frame import say
from fleetcare.errors import BadInput, shown
from fleetcare.language import saying, tr, tr_book

if TYPE_CHECKING:
    from datetime import date

    from fleetcare.actions.settle import Settled
    from fleetcare.quantities import MeterUnit

E = TypeVar("E", bound=StrEnum)


def say_moved(settled: Settled) -> None:
    """The dates that moved, one a line."""
    from fleetcare.due.outlook import DueWindow
    from fleetcare.wording import day_short

    if not settled.moved:
        say(tr("No date moved."))
    for each in settled.moved:
        title = tr_book(each.line.row.title)
        if not isinstance(each.after, DueWindow):
            say("  " + tr("{title}: no date, {why}", title=title, why=tr(each.after.value)))
            continue
        today = settled.today
        likely = day_short(each.after.likely, today)
        if isinstance(each.before, DueWindow):
            likely = tr("{day}, was {before}", day=likely, before=day_short(each.before.likely, today))
        early, late = day_short(each.after.early, today), day_short(each.after.late, today)
        told = tr("early {early}, likely {likely}, late {late}", early=early, likely=likely, late=late)
        say(f"  {title}: {told}")


def plain(text: str, field: str) -> str:
    """The text through the one gate, so that what is stored here can be brought back from a file."""
    from fleetcare.intake.text import clean_text

    return clean_text(text, field=field)


def day_of(text: str | None) -> date | None:
    """The day, None if it was left out. Raises BadInput."""
    from fleetcare.intake.dates import parse_day

    return None if text is None else parse_day(text)


def meter_unit_of(text: str) -> MeterUnit | None:
    """The unit, None if none was given. Raises BadInput."""
    from fleetcare.quantities import MeterUnit

    return one_of(MeterUnit, text) if text else None


def one_of(kind: type[E], text: str) -> E:
    """The member of an enumeration with that value. Raises BadInput that names them all."""
    for member in kind:
        if member.value == text.strip().casefold():
            return member
    raise BadInput(
        saying("{text_} is none of them.", text_=shown(text)),
        remedy=saying("It is {kind}.", kind=", ".join(m.value for m in kind)),
    )
