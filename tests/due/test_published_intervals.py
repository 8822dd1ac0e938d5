"""Published intervals worked through: a shipped row of the interval book, readings, and what follows from them."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from fleetcare.book.rows import BookRow
from fleetcare.due.outlook import Cause
from fleetcare.fleet.component import History
from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.vehicle import ODOMETER, Meter
from fleetcare.quantities import MeterUnit
from fleetcare.settings.book_files import load_book
from tests.due.facts import TODAY, done, outlook_of, reading, vehicle

IN_SERVICE = date(2025, 6, 2)
FIRST_DONE = date(2025, 10, 1)
TOWING = DutySplit.from_parts({"towing": 1})
HALF = DutySplit.from_parts({"towing": 1, "daily": 1})


def shipped(key: str) -> BookRow:
    """A row of the shipped book as it stands in the file."""
    return load_book(Path(__file__).parents[2] / "config" / "interval_book.toml").rows[key]


def test_a_drive_axle_is_done_at_5_000_miles_and_then_at_75_000_or_yearly() -> None:
    """US Army LO 9-2320-363-12 (M915A2/M916A1), gear cases note a: 5,000 miles first, then 75,000 miles or yearly."""
    row = shipped("heavy-axle-gear-case")
    axle = vehicle(history=History.NEW, services=(row.key,), in_service_on=IN_SERVICE)
    new = outlook_of(row, axle, readings=[reading(date(2025, 8, 1), 2500)], today=date(2025, 8, 1))
    assert new.q_read == pytest.approx(2500 / 5000)
    run_in = reading(FIRST_DONE, 5000)
    at_the_limit = outlook_of(row, axle, readings=[reading(date(2025, 8, 1), 2500), run_in], today=FIRST_DONE)
    assert at_the_limit.q_read == pytest.approx(1.0)
    later = [run_in, reading(date(2026, 4, 1), 8750)]
    after = outlook_of(row, axle, readings=later, work=[done(FIRST_DONE, 5000, service=row.key)])
    # 3 750 of 75 000 miles are 5 %, half a year of one year is half: the year comes first.
    assert after.window is not None
    assert (after.window.likely, after.window.cause) == (date(2026, 10, 1), Cause.DATE)


@pytest.mark.parametrize(("split", "share"), [(TOWING, 12_000 / 24_000), (HALF, 6_000 / 24_000)])
def test_a_towed_differential_is_done_at_12_000_km_and_then_every_24_000(split: DutySplit, share: float) -> None:
    """Acura, 2022 MDX Owner's Manual (Canada), maintenance minder notes, web p. 594: towing, 12,000 then 24,000 km."""
    row = shipped("rear-axle-fluid-first-tow")
    meter = Meter(ODOMETER, MeterUnit.KM)
    car = vehicle(
        history=History.NEW, services=(row.key,), meters=[meter], in_service_on=IN_SERVICE, usual_split=TOWING
    )
    first = reading(date(2025, 8, 1), 6000, unit=MeterUnit.KM, split=TOWING)
    assert outlook_of(row, car, readings=[first], today=first.on).q_read == pytest.approx(6_000 / 12_000)
    work = done(FIRST_DONE, 12_000, unit=MeterUnit.KM, service=row.key)
    then = [
        first,
        reading(FIRST_DONE, 12_000, unit=MeterUnit.KM, split=TOWING),
        reading(TODAY, 24_000, unit=MeterUnit.KM, split=split),
    ]
    # Distance that is not towed does not count on this row.
    assert outlook_of(row, car, readings=then, work=[work]).q_read == pytest.approx(share)
