"""A garage becomes a problem that keeps its clock, its hours and its promises, and an answer becomes visits again."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from fleetcare.bayplan.day_costs import day_costs
from fleetcare.bayplan.garage_problem import BAY, Taken, Wanted, garage_problem, planned_visits, stakes_of
from fleetcare.bayplan.plan import BayPlan, Visit, Work, WorkKind
from fleetcare.bayplan.problem import DAY_MIN, BayProblem, Wait
from fleetcare.bayplan.workshop import OpenHours, Stakes
from fleetcare.due.outlook import Cause, DueWindow
from fleetcare.fleet.bay_visit import BayVisit, StretchKind, VisitState, laid_end_to_end
from fleetcare.fleet.component import LineKey
from fleetcare.settings.places import SHIPPED_WORKSHOP, shipped_config
from fleetcare.settings.workshop_file import load_workshop

ZONE = ZoneInfo("America/Denver")
TODAY = date(2026, 4, 14)  # a Tuesday; day 0 is Monday the 13th
PRICES = load_workshop(shipped_config() / SHIPPED_WORKSHOP).prices
SATURDAYS = (OpenHours((5,), 540, 1020),)
AXLE = LineKey("AN", "rear-axle", "axle-fluid")
RESEAL = ((140, Wait(1500, 20_000)), (80, None))


def wanted(line: LineKey = AXLE, likely: date = date(2026, 5, 11), **changes: object) -> Wanted:
    window = DueWindow(likely - timedelta(days=12), likely, likely + timedelta(days=20), Cause.DISTANCE)
    return Wanted(**({"line": line, "component": "rear axle", "window": window, "parts": RESEAL} | changes))  # type: ignore[arg-type]


def problem(*of: Wanted, taken: tuple[Taken, ...] = (), **changes: object) -> BayProblem:
    given: dict[str, object] = {
        "today": TODAY,
        "zone": ZONE,
        "prices": PRICES,
        "hours": SATURDAYS,
        "mechanics": ["ines", "teo"],
        "taken": taken,
        "pencilled": (),
        "horizon_days": 60,
    }
    return garage_problem(of or (wanted(),), **(given | changes))  # type: ignore[arg-type]


def at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 4, day, hour, minute, tzinfo=ZONE).astimezone(UTC)


def test_shifts_are_the_open_hours_from_tomorrow_on_and_end_sooner_than_the_doors_close() -> None:
    shifts = problem().shifts
    assert [shift.day for shift in shifts] == [5 + 7 * week for week in range(len(shifts))]
    assert {(shift.start, shift.end) for shift in shifts} == {(540, 540 + int(480 * 0.85))}
    assert {shift.people for shift in shifts} == {("ines", "teo")}


def test_who_is_spoken_for_is_not_in_the_shift_and_a_bay_that_is_taken_has_none() -> None:
    busy = (Taken("teo", at(18, 12), at(18, 13)), Taken(BAY, at(25, 16), at(26, 9)))
    shifts = {shift.day: shift.people for shift in problem(taken=busy).shifts}
    assert shifts[5] == ("ines",)
    assert 12 in shifts  # Saturday the 25th is planned until 15:48
    earlier = (Taken(BAY, at(25, 10), at(25, 11)),)
    assert 12 not in {shift.day for shift in problem(taken=earlier).shifts}
    two_bays = problem(taken=earlier, prices=replace(PRICES, bays=2))
    assert 12 in {shift.day for shift in two_bays.shifts}


def test_a_closed_day_has_no_shift() -> None:
    assert 5 not in {shift.day for shift in problem(closed={date(2026, 4, 18)}).shifts}


def test_a_vehicle_is_away_in_the_minutes_of_its_bookings() -> None:
    away = problem(taken=(Taken("AN", at(20, 0), at(22, 0)), Taken("AN", at(21, 0), at(23, 0)))).vehicles[0].away
    assert away == ((7 * DAY_MIN, 10 * DAY_MIN),)


def test_what_is_pencilled_has_its_day_and_moving_it_costs_more_within_a_fortnight() -> None:
    near = BayVisit("AN", 1, (AXLE,), laid_end_to_end(at(18, 9), [(StretchKind.HANDS_ON, timedelta(hours=1))]))
    (service,) = problem(pencilled=(near,)).services
    assert service.published is not None
    assert (service.published.day, service.published.move_cents) == (5, PRICES.move_near)
    far = replace(near, stretches=laid_end_to_end(at(30, 9), [(StretchKind.HANDS_ON, timedelta(hours=1))]))
    (service,) = problem(pencilled=(far,)).services
    assert service.published is not None
    assert service.published.move_cents == PRICES.move_once


@pytest.mark.parametrize("likely", [date(2024, 1, 1), date(2026, 4, 1), date(2026, 5, 11), date(2026, 6, 12)])
def test_what_falls_due_before_the_end_is_never_cheaper_to_leave_than_to_do_on_the_last_day(likely: date) -> None:
    of = problem(wanted(likely=likely))
    (service,) = of.services
    assert service.skip_cents > day_costs(service, of.days)[-1]


def test_what_is_at_stake_goes_by_the_kind_of_component() -> None:
    assert stakes_of("legal") is Stakes.LAW
    assert stakes_of("rear axle") is Stakes.HARM
    assert stakes_of("wipers") is Stakes.WEAR


def planned(before: tuple[BayVisit, ...] = ()) -> BayVisit:
    """Saturday the 25th at nine: fetch it, 140 minutes, 25 hours, 80 minutes on Sunday."""
    of = problem(hours=(*SATURDAYS, OpenHours((6,), 600, 1000)))
    first, second = (
        next(shift.name for shift in of.shifts if shift.day == day and shift.start == start)
        for day, start in ((12, 540), (13, 600))
    )
    nine, noon = 12 * DAY_MIN + 540, 13 * DAY_MIN + 740
    work = (
        Work(WorkKind.ARRIVE, first, "teo", nine),
        Work(WorkKind.STAGE, first, "teo", nine + 15, service=str(AXLE), stage=0),
        Work(WorkKind.STAGE, second, "teo", noon, service=str(AXLE), stage=1),
    )
    (found,) = planned_visits(of, BayPlan("garage", (Visit("AN", 0, work),)), today=TODAY, zone=ZONE, before=before)
    return found


def test_an_answer_becomes_a_pencilled_visit_with_its_waits() -> None:
    visit = planned()
    assert (visit.key, visit.state, visit.mechanic, visit.lines) == (("AN", 1), VisitState.PENCILLED, "teo", (AXLE,))
    assert [each.kind for each in visit.stretches] == [
        StretchKind.HANDS_ON,
        StretchKind.STANDING,
        StretchKind.HANDS_ON,
    ]
    assert visit.begins_at == at(25, 9)
    assert visit.free_at == at(26, 13, 40)
    assert visit.hands_on == timedelta(minutes=15 + 140 + 80)


def test_a_pencilled_visit_for_the_same_keeps_its_number_and_no_number_is_given_twice() -> None:
    old = BayVisit("AN", 3, (AXLE,), laid_end_to_end(at(18, 9), [(StretchKind.HANDS_ON, timedelta(hours=1))]))
    assert planned((old,)).number == 3
    assert planned((replace(old, state=VisitState.RUBBED_OUT),)).number == 4
    other = replace(old, lines=(LineKey("AN", "engine", "engine-oil"),))
    assert planned((other,)).number == 4
