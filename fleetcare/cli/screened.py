"""What is said of readings that are held, or used again, because of what was just stored."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fleetcare.cli.frame import say
from fleetcare.language import tr

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fleetcare.actions.screening import Screened

AT_MOST = 20
"""Readings named one by one; the pages show them all."""


def say_screened(screened: Sequence[Screened]) -> None:
    """Which readings are held now and why, and which are used again; nothing if there are none."""
    _say(tr("Held, because it does not fit:"), [each for each in screened if each.is_held])
    _say(tr("Held before, used now:"), [each for each in screened if not each.is_held])


def _say(head: str, found: Sequence[Screened]) -> None:
    from fleetcare.wording import counted

    if found:
        say(f"{head} {counted(len(found), 'reading')}.")
    for each in found[:AT_MOST]:
        value = f"{each.reading.value} {each.reading.unit.value}"
        say(f"  {each.vehicle.name}, {each.reading.on.isoformat()}, {value}: {tr(each.why)}")
    if len(found) > AT_MOST:
        say("  " + tr("and {readings} more", readings=counted(len(found) - AT_MOST, "reading")))
