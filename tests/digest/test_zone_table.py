"""Every zone there is, nine times of day, 2020 to 2040: each local day has one moment, whatever the clocks do.

The days around every clock change of every zone are looked at here. All the days between them: zone_table.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, available_timezones

import pytest

from fleetcare.digest.moments import first_moment, latest_day
from tests.digest.zone_table import TIMES, changes, faults_in, near_changes


def test_around_every_clock_change_of_every_zone_each_day_has_its_one_moment() -> None:
    """Zones whose clocks change alike, and to alike hours, stand for each other, as Europe/Berlin for Europe/Rome."""
    seen: set[tuple[object, ...]] = set()
    looked_at = 0
    for name in sorted(available_timezones()):
        zone = ZoneInfo(name)
        instants = changes(zone)
        alike = tuple((now, now.astimezone(zone).replace(tzinfo=None)) for now in instants)
        if not instants or alike in seen:
            continue
        seen.add(alike)
        near = near_changes(instants)
        for at in TIMES:
            assert faults_in(name, at, near, whole=False) == []
            looked_at += len(near)
    assert len(seen) > 40
    assert looked_at > 50_000


@pytest.mark.parametrize("name", ["Europe/Berlin", "Africa/Casablanca", "Australia/Lord_Howe", "Pacific/Kiritimati"])
def test_whole_years_day_by_day(name: str) -> None:
    near = near_changes(changes(ZoneInfo(name)))
    assert faults_in(name, time(2, 15), near, whole=True) == []


def test_a_law_that_is_wrong_by_an_hour_on_one_night_is_found() -> None:
    """What a timer does that takes the second of two like hours: the table must see it."""

    def second(day: date, at: time, zone: ZoneInfo) -> datetime:
        return datetime.combine(day, at).replace(tzinfo=zone, fold=1).astimezone(UTC)

    near = near_changes(changes(ZoneInfo("Europe/Berlin")))
    found = faults_in("Europe/Berlin", time(2, 30), near, whole=False, law=second)
    assert {fault.day.month for fault in found} == {3, 10}


def test_the_day_that_apia_left_out_shares_its_moment_with_the_next() -> None:
    """After 29 December 2011 24:00 came 31 December 0:00, at 10:00 UTC; nobody's clock showed the 30th."""
    apia = ZoneInfo("Pacific/Apia")
    midnight = datetime(2011, 12, 30, 10, tzinfo=UTC)
    assert first_moment(date(2011, 12, 30), time(7), apia) == midnight
    assert first_moment(date(2011, 12, 31), time(0), apia) == midnight
    before, after = midnight - timedelta(seconds=1), midnight + timedelta(hours=7)
    named = [latest_day(time(7), apia, now).day for now in (before, midnight, after, after + timedelta(days=1))]
    assert named == [29, 30, 31, 1], "one for each name, and none twice"
