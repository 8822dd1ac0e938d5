"""Reads one calendar into a home, to be killed in the middle: python -m tests.faults.reading_process HOME"""

from __future__ import annotations

import sys
from pathlib import Path

from fleetcare.actions.read_calendars import read_calendar
from fleetcare.assemble import assemble
from tests.actions.garages import SMALL_NOW
from tests.stand_ins import FixedClock

SETTINGS = {"FLEETCARE_CALENDARS_ALLOW": "127.0.0.1"}


def main(home: str) -> None:
    """Reads Pocket's calendar once, and says so before and after."""
    parts = assemble(Path(home), {}, clock=FixedClock(SMALL_NOW), overrides=SETTINGS)
    print("begins", flush=True)
    came = read_calendar(
        parts.store, parts.rules, parts.calendar_desk, "po", clock=parts.clock, base_url="https://g.example", who="test"
    )
    print(f"done {came.source.trouble}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1])
