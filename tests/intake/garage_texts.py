"""A small garage as texts, and one call that reads it the way the program does."""

from __future__ import annotations

from datetime import UTC, date, datetime
from functools import partial

import pytest

from fleetcare.book.rows import IntervalBook
from fleetcare.errors import BadFile, Fault
from fleetcare.intake.garage_files import Incoming, read_texts
from fleetcare.intake.known import KnownNames
from fleetcare.settings.book_files import book_with, laid_over, parse_rows
from fleetcare.settings.toml_text import TomlText

ENTERED_AT = datetime(2026, 4, 14, 7, 0, tzinfo=UTC)
ZONES = frozenset({"America/Denver", "Europe/Berlin", "UTC"})
DUTIES = frozenset({"daily", "towing", "track"})

BOOK_TEXT = """
[rows.axle-fluid]
title = "Rear axle fluid"
short = "rear axle fluid"
components = ["rear axle"]
source = "a manual"
status = "published source"
[rows.axle-fluid.repeat]
distance = { km = 80000, mi = 50000, primary = "mi" }
[[rows.axle-fluid.after]]
event = "immersion"

[rows.engine-oil]
title = "Engine oil"
short = "engine oil"
components = ["engine"]
source = "a manual"
status = "published source"
[rows.engine-oil.repeat]
months = 12
"""
BOOK = laid_over(IntervalBook({}), parse_rows(BOOK_TEXT, "book"), shipped=True)

GARAGE = """\
[garage]
name = "Karst Ridge Motor Club"
zone = "America/Denver"
unit = "mi"
list_keeper = "ines"
"""
PEOPLE = """\
[[person]]
key = "ines"
name = "Ines Calloway"
mail = "ines@karstridge.example"
roles = ["keeper", "mechanic"]
letter_weekday = "never"
"""
VEHICLES = """\
[[vehicle]]
mark = "AN"
name = "Anvil"
kind = "light truck"
keeper = "ines"
drivers = ["ines"]
yearly_distance = 10000
usual_split = { towing = 5, daily = 3 }
laid_up = [ { first = 2025-12-01, last = 2026-02-28 } ]

[[vehicle.meter]]
key = "odometer"
unit = "mi"

[[vehicle.component]]
key = "rear-axle"
kind = "rear axle"
title = "Rear axle"
fluid_capacity_l = 2.6
services = [ { row = "axle-fluid", history = "new" } ]

[[vehicle.component]]
key = "engine"
kind = "engine"
title = "Engine"

[[vehicle]]
mark = "RA"
name = "Raft"
kind = "trailer"
towed_by = ["AN"]
"""
READINGS = "vehicle,date,value\nAN,2026-03-12,83 365\nAnvil,2026-04-14,84210.5\n"
WHOLE = {"garage.toml": GARAGE, "people.toml": PEOPLE, "vehicles.toml": VEHICLES, "readings.csv": READINGS}

NOTHING_KNOWN = KnownNames(duties=DUTIES, book=BOOK)


def taken(files: dict[str, str], known: KnownNames = NOTHING_KNOWN, today: date | None = None) -> Incoming:
    """What those files hold."""
    return read_texts(
        files,
        known=known,
        entered_at=ENTERED_AT,
        read_toml=TomlText,
        parse_book=partial(book_with, BOOK),
        today=today,
        zones=ZONES,
    )


def faults_of(files: dict[str, str], known: KnownNames = NOTHING_KNOWN, today: date | None = None) -> list[Fault]:
    """Everything that is wrong with those files; something must be."""
    with pytest.raises(BadFile) as caught:
        taken(files, known, today)
    return list(caught.value.faults)


def stored(files: dict[str, str] | None = None) -> KnownNames:
    """What is known once the small garage is in the store."""
    come = taken(files or WHOLE)
    return KnownNames(garage=come.garage, people=come.people, vehicles=come.vehicles, duties=DUTIES, book=BOOK)


def line_with(text: str, piece: str, *, after: str = "") -> int:
    """The 1-based line on which `piece` first stands, counted on from where `after` stands."""
    start = text.index(after) if after else 0
    return text.count("\n", 0, text.index(piece, start)) + 1


def with_vin_doubts(files: dict[str, str]) -> Incoming:
    """What those files hold, with somebody who doubts every VIN."""
    return read_texts(
        files,
        known=NOTHING_KNOWN,
        entered_at=ENTERED_AT,
        read_toml=TomlText,
        vin_doubts=lambda vin: (f"{vin} is short",),
        zones=ZONES,
    )
