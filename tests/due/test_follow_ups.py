"""Findings move dates: a look falls due by its day or distance, a shortened interval sooner, a stop at once."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.book.rows import BookRow, DutyFigure, IntervalBook, Limits
from fleetcare.book.shortening import shortened
from fleetcare.due.cut_intervals import cuts_in_force
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.outlook import Cause, LineOutlook, VehicleOutlook
from fleetcare.due.reckon import reckon_vehicle
from fleetcare.fleet.component import LineKey
from fleetcare.quantities import DistanceUnit, MeterUnit
from fleetcare.work.findings import Follow, FollowKind
from fleetcare.work.found import Found, settled
from fleetcare.work.moves import Carried, Move
from tests.due import facts as made
from tests.due.facts import TODAY

DONE_ON = TODAY - timedelta(days=20)
READINGS = made.monthly(TODAY - timedelta(days=5), 112640, 900, 24)
ROW = made.row(mi=50_000, months=60)
LOOK = LineKey("AN", "rear-axle", "look-0147-1")


def found(follow: Follow, on: date = DONE_ON, at: int | None = 112_200) -> Found:
    return Found(
        mark="AN",
        component="rear-axle",
        kind="magnet",
        grade="flakes",
        words="Debris on the magnet: slivers or flakes",
        on=on,
        follow=follow,
        at=None if at is None else Decimal(at),
        meter=None if at is None else MeterUnit.MI,
        by="teo",
        order=147,
        position=1,
    )


def outlook(*seen: Found, row: BookRow = ROW, work_at: int | None = 112_200, today: date = TODAY) -> VehicleOutlook:
    facts = VehicleFacts(made.vehicle(), READINGS, (made.done(DONE_ON, work_at),), found=seen)
    book = IntervalBook({row.key: row})
    return reckon_vehicle(facts, book=book, duties=made.DUTIES, priors=made.PRIORS, today=today)


def line_of(outlook: VehicleOutlook, key: LineKey) -> LineOutlook:
    return next(line for line in outlook.lines if line.key == key)


def test_a_look_stands_among_the_lines_until_it_is_settled() -> None:
    seen = found(Follow(FollowKind.LOOK_AGAIN, days=28, todo="drain a little"))
    there = line_of(outlook(seen), LOOK)
    assert there.row.title == "Look again: Rear axle. Debris on the magnet: slivers or flakes"
    assert len(there.row.short) <= 24
    assert there.row.source == "a finding of 25 March by teo, sheet 0147"
    assert there.last_done_on is None
    assert there.window is not None
    due_on = DONE_ON + timedelta(days=28)
    assert (there.window.early, there.window.likely, there.window.late) == (due_on - timedelta(days=7), due_on, due_on)
    assert any("Counted from the finding of 25 March" in step.text for step in there.steps)
    for gone in (settled(seen, on=TODAY, by="ines"), found(Follow(FollowKind.NOTHING))):
        assert [line.key.service for line in outlook(gone).lines] == ["service"]


def test_a_look_by_distance_comes_when_a_service_with_that_interval_would() -> None:
    seen = found(Follow(FollowKind.LOOK_AGAIN, Decimal(1000), DistanceUnit.MI))
    # Second method: a service of 1000 mi without any month, done on the day of the finding at the same dial.
    like = made.outlook_of(made.row(mi=1000), made.vehicle(), readings=READINGS, work=[made.done(DONE_ON, 112_200)])
    assert line_of(outlook(seen), LOOK).window == like.window


def test_of_distance_and_day_the_first_counts() -> None:
    near = line_of(outlook(found(Follow(FollowKind.LOOK_AGAIN, Decimal(900_000), DistanceUnit.MI, 28))), LOOK)
    far = line_of(outlook(found(Follow(FollowKind.LOOK_AGAIN, Decimal(1000), DistanceUnit.MI, 3000))), LOOK)
    assert near.window is not None
    assert far.window is not None
    assert (near.window.cause, far.window.cause) == (Cause.DATE, Cause.DISTANCE)


def test_what_must_not_be_driven_is_due_from_the_day_it_was_found() -> None:
    held = line_of(outlook(found(Follow(FollowKind.HOLD, todo="open it"))), LOOK)
    assert held.row.title.startswith("Do not drive: Rear axle.")
    assert held.window is not None
    assert (held.window.early, held.window.likely, held.window.late) == (DONE_ON, DONE_ON, DONE_ON)
    assert held.window.is_past_late(TODAY)


def test_a_finding_shortens_the_interval_that_began_with_its_work_and_says_so() -> None:
    line = LineKey("AN", "rear-axle", "service")
    half = line_of(outlook(found(Follow(FollowKind.SHORTEN, factor=Decimal("0.5")))), line)
    # Second method: a row with half of every figure.
    as_row = line_of(outlook(row=made.row(mi=25_000, months=30)), line)
    assert half.window == as_row.window
    assert half.window != line_of(outlook(), line).window
    told = [step.text for step in half.steps if step.part == "shortened"]
    assert told == ["This time it is 0.5 of the interval: Debris on the magnet: slivers or flakes."]
    earlier = found(Follow(FollowKind.SHORTEN, factor=Decimal("0.5")), on=DONE_ON - timedelta(days=400))
    assert line_of(outlook(earlier), line).window == line_of(outlook(), line).window, "that one was for the time before"


HALF = Follow(FollowKind.SHORTEN, factor=Decimal("0.5"))


def test_a_cut_tells_what_it_shortens_until_that_is_done_the_next_time() -> None:
    seen = found(HALF)
    there = outlook(seen)
    (cut,) = cuts_in_force((seen,), there)
    window = line_of(there, LineKey("AN", "rear-axle", "service")).window
    assert window is not None
    assert [(line.key.service, line.until) for line in cut.lines] == [("service", window.likely)]
    assert (cut.finding.key, cut.finding.cuts, cut.finding.holds, cut.outdone) == ("0147-1", True, False, False)
    for over in (settled(seen, on=TODAY, by="ines"), found(HALF, on=DONE_ON - timedelta(days=400))):
        assert cuts_in_force((over,), outlook(over)) == ()


def test_of_two_cuts_of_one_work_the_sharper_counts_and_the_other_says_so() -> None:
    milder, sharper = found(Follow(FollowKind.SHORTEN, factor=Decimal("0.8"))), replace(found(HALF), position=2)
    cuts = cuts_in_force((milder, sharper), outlook(milder, sharper))
    assert [(cut.finding.key, cut.outdone) for cut in cuts] == [("0147-1", True), ("0147-2", False)]


def test_a_cut_goes_with_its_component_to_another_vehicle() -> None:
    line = LineKey("AN", "rear-axle", "service")
    before = Carried("service", DONE_ON, (("daily", 500.0),), None, is_first=False, known=True)
    came = Move(TODAY - timedelta(days=3), "BE", "rear-axle", "AN", "rear-axle", (before,))
    facts = VehicleFacts(made.vehicle(), READINGS, (), moves=(came,))
    book = IntervalBook({ROW.key: ROW})

    def moved(*seen: Found) -> LineOutlook:
        given = replace(facts, found=seen)
        return line_of(reckon_vehicle(given, book=book, duties=made.DUTIES, priors=made.PRIORS, today=TODAY), line)

    whole, cut = moved(), moved(found(HALF))
    assert whole.window is not None
    assert cut.window is not None
    assert cut.window.likely < whole.window.likely
    assert (whole.cut_by, cut.cut_by, cut.counted_on) == ("", "0147-1", DONE_ON)


def test_a_look_on_a_component_that_is_no_longer_there_still_stands() -> None:
    seen = replace(found(Follow(FollowKind.LOOK_AGAIN, days=28)), component="gone-axle")
    there = line_of(outlook(seen), LineKey("AN", "gone-axle", "look-0147-1"))
    assert there.window is not None


def test_a_look_without_any_reading_waits_for_one_and_says_so() -> None:
    facts = VehicleFacts(made.vehicle(), (), (), found=(found(Follow(FollowKind.LOOK_AGAIN, Decimal(500))),))
    line = line_of(
        reckon_vehicle(facts, book=IntervalBook({ROW.key: ROW}), duties=made.DUTIES, priors=made.PRIORS, today=TODAY),
        LOOK,
    )
    assert line.window is None
    assert line.no_date is not None
    assert line.no_date.value == "no reading"


@settings(deadline=None)
@given(
    mi=st.integers(100, 200_000),
    months=st.none() | st.integers(1, 120),
    weeks=st.none() | st.integers(1, 520),
    factor=st.decimals("0.01", "0.99", places=2),
)
def test_a_shortened_interval_is_never_longer_and_never_nothing(
    mi: int, months: int | None, weeks: int | None, factor: Decimal
) -> None:
    duty = DutyFigure("towing", made.miles(mi), ("75W-140",))
    limits = Limits(made.miles(mi), (duty, DutyFigure("track", None)), months, weeks, Decimal(300))
    cut = shortened(limits, factor)
    assert cut.distance is not None
    assert limits.distance is not None
    assert 0 < cut.distance.in_km < limits.distance.in_km
    assert cut.by_duty[0].waived_by == ("75W-140",)
    assert cut.by_duty[1].distance is None
    for short, long in ((cut.months, months), (cut.weeks, weeks)):
        assert (short is None) == (long is None)
        assert short is None or long is None or 1 <= short <= long
    assert cut.hours == 300 * factor


@settings(deadline=None)
@given(days=st.integers(1, 400), later=st.integers(0, 200))
def test_more_time_to_look_again_never_brings_the_look_forward(days: int, later: int) -> None:
    windows = [
        line_of(outlook(found(Follow(FollowKind.LOOK_AGAIN, days=given_))), LOOK).window
        for given_ in (days, days + later)
    ]
    assert windows[0] is not None
    assert windows[1] is not None
    assert windows[0].early <= windows[1].early
    assert windows[0].late <= windows[1].late


@pytest.mark.parametrize("kind", ["old-fluid", "seal-pinion", "torque-lost", "a-kind-with-a-very-long-name-of-its-own"])
def test_the_short_name_of_a_look_is_short_and_its_own(kind: str) -> None:
    first = replace(found(Follow(FollowKind.HOLD)), kind=kind, order=12_345_678, position=10)
    second = replace(first, position=11)
    shorts = [line.row.short for line in outlook(first, second).lines][1:]
    assert len(set(shorts)) == 2
    assert all(len(short) <= 24 for short in shorts)
