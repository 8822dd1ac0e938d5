"""The plan that is worked out again by itself when something has changed."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from fleetcare.actions.plan_bays import accept
from fleetcare.actions.plan_visits import set_visit
from fleetcare.actions.ports import Change
from fleetcare.bayplan.plan_changes import Cause
from fleetcare.fleet.bay_visit import VisitState
from fleetcare.fleet.booking import Booking
from fleetcare.planner import Planner
from fleetcare.quantities import DateSpan
from fleetcare.settings.sections import PlanSettings
from tests.web.conftest import Served, serving


@pytest.fixture
def own(tmp_path: Path) -> Iterator[Served]:
    """The demo garage for one test."""
    with serving(tmp_path / "home") as running:
        yield running


def worked_out(planner: Planner) -> None:
    for _ in range(240):
        if not planner.is_working:
            return
        time.sleep(0.25)
    raise AssertionError("no plan within a minute")


def planner_of(served: Served, **given: bool) -> Planner:
    parts = served.parts
    return Planner(replace(parts, settings=replace(parts.settings, plan=PlanSettings(**given))))


def pencilled(served: Served) -> set[tuple[str, int, str]]:
    with served.parts.store.read() as view:
        return {
            (visit.mark, visit.number, visit.begins_at.isoformat())
            for visit in view.bay_visits()
            if visit.state is VisitState.PENCILLED
        }


def test_a_change_is_looked_at_once_and_nothing_is_written(own: Served) -> None:
    planner, before = planner_of(own), pencilled(own)
    planner.look_again()
    worked_out(planner)
    assert planner.is_unasked
    assert planner.changes > 0
    assert pencilled(own) == before
    found = planner.found
    planner.look_again()
    assert not planner.is_working, "nothing has changed since"
    assert planner.found is found


def test_it_is_taken_by_itself_only_if_that_is_set(own: Served) -> None:
    before = pencilled(own)
    with own.parts.store.read() as view:
        inked = {v.key: v for v in view.bay_visits() if v.state is VisitState.INKED}
    planner = planner_of(own, take=True)
    planner.look_again()
    after = pencilled(own)
    assert after != before
    with own.parts.store.read() as view:
        still = {v.key: v for v in view.bay_visits() if v.state is VisitState.INKED}
    assert still == inked, "inked days stay"
    planner.look_again()
    assert pencilled(own) == after, "what was taken is no change to be looked at"


def test_without_a_pencilled_visit_nobody_is_bothered(own: Served) -> None:
    for mark, number, _ in sorted(pencilled(own)):
        set_visit(
            own.parts.store, own.parts.rules, vehicle=mark, number=number, state=VisitState.RUBBED_OUT, who="ines",
            now=own.clock.now(), base_url=own.url,
        )  # fmt: skip
    planner = planner_of(own)
    planner.look_again()
    assert not planner.is_working
    assert planner_of(own, again=False).changes == 0


def booked_over(served: Served, mark: str, number: int) -> None:
    """The vehicle is spoken for on the day of its visit."""
    with served.parts.store.read() as view:
        visit = next(each for each in view.bay_visits((mark,)) if each.number == number)
    on = visit.begins_at.astimezone(ZoneInfo("America/Denver")).date()
    booking = Booking("away", "Away after all", DateSpan.of_days(on, on + timedelta(days=1)), (mark,))
    with served.parts.store.write(Change("ines", "a booking", served.clock.now())) as unit:
        unit.put_booking(booking)


def planned_whole(served: Served) -> Planner:
    """The plan was asked for and taken."""
    planner, parts = planner_of(served), served.parts
    assert planner.begin()
    worked_out(planner)
    assert planner.found is not None
    accept(parts.store, parts.rules, planner.found, who="ines", now=served.clock.now(), base_url=served.url)
    planner.found = None
    planner.look_again()
    worked_out(planner)
    assert planner.changes == 0, "what was taken is the plan"
    return planner


def test_a_booking_over_a_visit_plans_that_vehicle_anew_and_the_report_says_why(own: Served) -> None:
    planner = planned_whole(own)
    mark, number, _ = min(pencilled(own), key=lambda each: each[2])
    booked_over(own, mark, number)
    planner.look_again()
    worked_out(planner)
    found = planner.found
    assert found is not None
    assert found.untouched is not None
    assert found.planned == {mark}
    causes = {(each.mark, each.number): each.cause for each in found.changes}
    assert causes[mark, number] is Cause.AWAY
    assert planner.is_unasked
    # Nobody took it, and something else happens: it is still there to be taken.
    with own.parts.store.write(Change("ines", "a person", own.clock.now())) as unit:
        unit.put_person(replace(unit.people()[0], name="Somebody"))
    planner.look_again()
    worked_out(planner)
    assert planner.found is not None
    assert planner.found.changes == found.changes
    accept(own.parts.store, own.parts.rules, planner.found, who="ines", now=own.clock.now(), base_url=own.url)
    planner.look_again()
    worked_out(planner)
    assert planner.changes == 0


def test_what_hits_nobody_begins_no_search(own: Served) -> None:
    planner = planned_whole(own)
    seen = planner.found
    with own.parts.store.write(Change("ines", "a person", own.clock.now())) as unit:
        unit.put_person(replace(unit.people()[0], name="Somebody"))
    planner.look_again()
    assert not planner.is_working
    assert planner.found is seen


def test_a_plan_that_somebody_asked_for_is_not_planned_over_while_they_look_at_it(own: Served) -> None:
    planner = planner_of(own)
    assert planner.begin()
    worked_out(planner)
    asked = planner.found
    assert planner.changes > 0
    mark, number, _ = min(pencilled(own), key=lambda each: each[2])
    booked_over(own, mark, number)
    planner.look_again()
    assert not planner.is_working
    assert planner.found is asked


def test_in_a_large_garage_what_a_change_hits_is_planned_and_the_whole_only_if_somebody_asks(own: Served) -> None:
    first = planner_of(own)
    first.most_whole = 3
    first.look_again()
    worked_out(first)
    assert first.found is not None, "of the demo's visits, some cannot be as they stand"
    assert first.found.untouched is not None, "the whole plan was not searched for"
    planner = planned_whole(own)
    planner.most_whole = 3
    mark, number, _ = min(pencilled(own), key=lambda each: each[2])
    booked_over(own, mark, number)
    planner.look_again()
    worked_out(planner)
    found = planner.found
    assert found is not None
    assert found.planned == {mark}
    assert found.untouched
    assert (mark, number) in {(each.mark, each.number) for each in found.changes}
