"""When pads reach their limit: by what was measured and by the pace of the vehicle, early, likely and late."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.book.rows import IntervalBook
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.measured_limits import is_measured
from fleetcare.due.outlook import LineOutlook
from fleetcare.due.reckon import reckon_vehicle
from fleetcare.quantities import MeterUnit
from fleetcare.work.findings import Follow, FollowKind
from fleetcare.work.found import Found
from tests.due import facts as made
from tests.due.facts import TODAY

READINGS = made.monthly(TODAY, 112_000, 1000, 24)
NEWEST = READINGS[-1]


def measured(value: str, at: int, days_ago: int, *, place: str = "front left", position: int = 1) -> Found:
    return Found(
        mark="AN",
        component="rear-axle",
        kind="pads",
        grade="good",
        words=f"Pad thickness, {place}: {value} mm, thick enough",
        on=TODAY - timedelta(days=days_ago),
        follow=Follow(FollowKind.NOTHING),
        place=place,
        value=Decimal(value),
        unit="mm",
        low=Decimal(3),
        at=Decimal(at),
        meter=MeterUnit.MI,
        by="teo",
        order=100 + at // 1000,
        position=position,
    )


FALLING = (measured("8.0", 100_000, 360), measured("7.0", 106_000, 180), measured("6.0", 112_000, 0))
"""A millimetre every 6 000 mi: 3 mm are left, so it reaches 3 mm after 18 000 mi more."""


def lines(*found: Found) -> Sequence[LineOutlook]:
    row = made.row(mi=18_000)
    facts = VehicleFacts(made.vehicle(), READINGS, (made.done(TODAY, 112_000),), found=found)
    book = IntervalBook({row.key: row})
    outlook = reckon_vehicle(facts, book=book, duties=made.DUTIES, priors=made.PRIORS, today=TODAY)
    return outlook.lines


def test_pads_reach_their_limit_when_a_service_of_that_distance_would_but_less_surely() -> None:
    service, pads = lines(*FALLING)
    assert pads.row.title == "Pad thickness, front left reaches 3 mm"
    assert pads.row.short == "pads front left"
    assert is_measured(pads.key)
    assert pads.window is not None
    assert service.window is not None
    # Second method: the service has 18 000 mi to go from the same dial on the same day.
    near = (service.window.likely - TODAY).days
    assert abs((pads.window.likely - service.window.likely).days) <= 0.1 * near
    assert pads.window.early < service.window.early
    assert pads.window.late > service.window.late
    told = " ".join(step.text for step in pads.steps)
    assert "6.0 mm on 14 April; 0.17 mm every 1\u2009000 mi by 3 measurements." in told


def test_each_place_has_a_line_of_its_own_and_one_measurement_gives_none() -> None:
    right = tuple(replace(each, place="front right", position=2) for each in FALLING)
    keys = [line.key.service for line in lines(*FALLING, *right)[1:]]
    assert keys == ["limit-pads-front-left", "limit-pads-front-right"]
    assert len(lines(FALLING[0])) == 1


def test_new_pads_and_pads_past_their_limit_have_no_forecast() -> None:
    assert len(lines(*FALLING, measured("11.0", 112_100, 0, position=9))) == 1
    assert len(lines(*FALLING[:2], measured("3.0", 112_000, 0))) == 1, "the finding itself stops the vehicle"
    without = tuple(replace(each, low=None) for each in FALLING)
    assert len(lines(*without)) == 1, "no limit is known"


@settings(deadline=None)
@given(st.decimals("3.1", "6.9", places=1), st.decimals("0.1", "2", places=1))
def test_thinner_pads_reach_their_limit_no_later(now: Decimal, thinner: Decimal) -> None:
    def window(value: Decimal) -> object:
        found = lines(*FALLING[:2], measured(str(value), 112_000, 0))[1:]
        return found[0].window.likely if found and found[0].window is not None else None

    thick, thin = window(now), window(max(Decimal("3.1"), now - thinner))
    assert thick is not None
    assert thin is not None
    assert thin <= thick  # type: ignore[operator]
