"""A garage becomes a problem that keeps its clock, its hours and its promises, and an answer becomes visits again."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.bayplan.audit import audit
from fleetcare.bayplan.cost import blocked, work_minutes
from fleetcare.bayplan.day_costs import day_costs
from fleetcare.bayplan.garage_problem import Wanted, garage_problem, planned_visits, stakes_of
from fleetcare.bayplan.open_shifts import BAY, Span, Taken, free_spans, full_spans
from fleetcare.bayplan.plan import BayPlan, Visit, Work, WorkKind
from fleetcare.bayplan.port import Limits, Outcome
from fleetcare.bayplan.problem import DAY_MIN, BayProblem, Shift, Wait
from fleetcare.bayplan.workshop import OpenHours, Stakes
from fleetcare.due.outlook import Cause, DueWindow
from fleetcare.fleet.bay_visit import BayVisit, StretchKind, VisitState, laid_end_to_end
from fleetcare.fleet.component import LineKey
from fleetcare.settings.places import SHIPPED_WORKSHOP, shipped_config
from fleetcare.settings.workshop_file import load_workshop
from fleetcare.solvers.exact import ExactSolver

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


def clock(shift: Shift) -> tuple[str, str]:
    return f"{shift.start // 60}:{shift.start % 60:02}", f"{shift.end // 60}:{shift.end % 60:02}"


def test_who_is_spoken_for_is_not_in_the_shift_and_a_taken_bay_leaves_the_rest_of_the_day() -> None:
    """Of each rest 85 % is planned for: of 9:00 to 10:00 51 min, of 11:00 to 17:00 5 h 06."""
    busy = (Taken("teo", at(18, 12), at(18, 13)), Taken(BAY, at(25, 16, 45), at(26, 9)))
    shifts = {shift.day: shift for shift in problem(taken=busy).shifts}
    assert shifts[5].people == ("ines",)
    assert clock(shifts[12]) == ("9:00", "15:35")
    earlier = (Taken(BAY, at(25, 10), at(25, 11)),)
    assert [clock(shift) for shift in problem(taken=earlier).shifts if shift.day == 12] == [
        ("9:00", "9:51"),
        ("11:00", "16:06"),
    ]
    nearly = (Taken(BAY, at(25, 9, 20), at(25, 16, 45)),)
    assert 12 not in {shift.day for shift in problem(taken=nearly).shifts}, "a quarter of an hour is no shift"
    (two_bays,) = [shift for shift in problem(taken=earlier, prices=replace(PRICES, bays=2)).shifts if shift.day == 12]
    assert clock(two_bays) == ("9:00", "15:48")


def test_where_nobody_is_free_all_day_each_has_a_shift_for_the_rest() -> None:
    busy = (Taken("teo", at(18, 9), at(18, 12)), Taken("ines", at(18, 12), at(18, 17)))
    assert [(clock(shift), shift.people) for shift in problem(taken=busy).shifts if shift.day == 5] == [
        (("9:00", "11:33"), ("ines",)),
        (("12:00", "16:15"), ("teo",)),
    ]


def test_an_inked_visit_leaves_room_for_another_vehicle_that_day_and_none_stands_there_across_it() -> None:
    """One bay, open on one Saturday and the Sunday after; Anvil is inked on the Saturday from 12:00 to 13:00."""
    inked = tuple(Taken(who, at(18, 12), at(18, 13), ("AN", 1)) for who in ("AN", BAY, "ines"))
    weekend = (OpenHours((5, 6), 540, 1020),)
    pads, belt = LineKey("BE", "brakes", "pads"), LineKey("AN", "engine", "belt")
    # An hour, 4 h 30 to two days of standing, an hour: it would fit around noon on Saturday, were the bay free.
    chain = ((60, Wait(270, 2 * DAY_MIN)), (60, None))
    soon = date(2026, 4, 14)
    made = problem(
        wanted(pads, likely=soon, parts=chain),
        wanted(belt, likely=soon, parts=((60, None),)),
        taken=inked,
        hours=weekend,
        mechanics=["ines"],
        horizon_days=6,
    )
    answer = ExactSolver().solve(made, Limits(10.0))
    assert answer.outcome is Outcome.PROVEN
    assert answer.plan is not None
    assert audit(made, answer.plan) == ()
    days = {visit.vehicle: blocked(made, visit)[0] // DAY_MIN for visit in answer.plan.visits}
    assert "AN" not in days or days["AN"] == 6, "on the day of its own inked visit it has no other one"
    for visit in answer.plan.visits:
        begins, ends = visit.starts_at, max(one.start + work_minutes(made, visit, one) for one in visit.work)
        assert not (begins < 5 * DAY_MIN + 780 and ends > 5 * DAY_MIN + 720)
    assert "BE" in days


@given(
    spells=st.lists(st.tuples(st.integers(-5, 30), st.integers(-5, 30)), max_size=6),
    at_once=st.integers(1, 3),
)
def test_free_and_full_are_each_minute_by_minute_what_they_say(spells: list[Span], at_once: int) -> None:
    def running(minute: int) -> int:
        return sum(a <= minute < b for a, b in spells)

    free = free_spans((0, 25), spells, at_once)
    assert {m for a, b in free for m in range(a, b)} == {m for m in range(25) if running(m) < at_once}
    assert all(one[1] < other[0] for one, other in pairwise(free))
    full = full_spans(spells, at_once)
    assert {m for a, b in full for m in range(a, b)} == {m for m in range(-5, 30) if running(m) >= at_once}


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
    assert stakes_of("engine") is Stakes.WEAR, "as in the garages that the prices were tried on"
    assert stakes_of("brakes") is Stakes.HARM


def test_what_a_job_uses_up_is_thrown_away_with_its_life_like_the_work() -> None:
    """60 minutes at 30.00 an hour and 72.00 of oil over 200 days: 51 cents a day; without the oil 15."""
    oil = wanted(component="engine", parts=((60, None),), interval_days=200, materials_cents=7200)
    (with_oil,) = problem(oil).services
    (without,) = problem(replace(oil, materials_cents=0)).services
    assert (with_oil.early_cents_per_day, without.early_cents_per_day) == (51, 15)


def test_a_day_on_which_somebody_works_anyway_is_opened_already() -> None:
    """The second Saturday has an inked visit; a day before the problem begins and one beyond its end are nothing."""
    days = {date(2026, 4, 25), date(2026, 1, 3), date(2027, 1, 3)}
    (depot,) = problem(at_work=days).depots
    assert (depot.opening_cents(5), depot.opening_cents(12)) == (PRICES.opening_day, 0)
    assert depot.open_by_day == ((12, 0),)


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
