"""A plan kept up after a change: what was hit moves if it has to or if that pays, and everything else stays."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from fleetcare.actions.plan_bays import propose
from fleetcare.actions.plan_notes import plan_notes
from fleetcare.actions.ports import Change
from fleetcare.actions.proposal import Proposal
from fleetcare.actions.record_reading import Given, record_reading
from fleetcare.actions.replan_bays import replan_bays
from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.plan_changes import Cause
from fleetcare.bayplan.port import Answer, Limits, Outcome
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.standing import Standing
from fleetcare.bayplan.what_is_hit import Hit, PlanNotes, hit_by
from fleetcare.fleet.bay_visit import BayVisit, VisitState
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.people import Role
from fleetcare.meter.reading import Door
from fleetcare.quantities import DateSpan
from fleetcare.solvers.pick import solver_for
from tests.actions.garages import DEMO_NOW, Stage, demo
from tests.actions.test_plan_bays import TODAY, WORKPLACE, local_day, solve, taken

AT_ALL = 75
PLACE = replace(WORKPLACE, prices=replace(WORKPLACE.prices, horizon_days=AT_ALL))
TWO_BAYS = replace(PLACE, prices=replace(PLACE.prices, bays=2))


def calm(problem: BayProblem, standing: Standing) -> Answer:
    return solver_for(problem).solve(problem, Limits(1.0, 1), standing=standing)


def planned_anew(stage: Stage, hit: dict[str, Hit]) -> Proposal:
    found = replan_bays(stage.store, stage.rules, PLACE, calm, now=DEMO_NOW, hit=hit)
    assert found is not None
    return found


def notes(stage: Stage) -> PlanNotes:
    with stage.store.read() as view:
        return plan_notes(view, PLACE, now=DEMO_NOW)


def hits_since(stage: Stage, was: PlanNotes) -> dict[str, Hit]:
    return hit_by(was, notes(stage), at=DEMO_NOW, today=TODAY)


def visits_of(stage: Stage) -> dict[tuple[str, int], BayVisit]:
    with stage.store.read() as view:
        return {each.key: each for each in view.bay_visits() if each.takes_place}


def book(stage: Stage, mark: str, on: date, key: str = "away") -> None:
    with stage.store.write(Change("ines", "a booking", DEMO_NOW)) as unit:
        unit.put_booking(Booking(key, "Away after all", DateSpan.of_days(on, on + timedelta(days=1)), (mark,)))


def pencilled(stage: Stage) -> list[BayVisit]:
    ahead = [each for each in visits_of(stage).values() if each.state is VisitState.PENCILLED]
    return sorted((each for each in ahead if each.begins_at > DEMO_NOW), key=lambda each: each.begins_at)


@pytest.fixture
def stage() -> Stage:
    """The demo with the whole plan taken."""
    found = demo()
    taken(found, propose(found.store, found.rules, PLACE, solve, now=DEMO_NOW))
    return found


def test_nothing_changed_moves_nothing_whoever_is_planned_anew(stage: Stage) -> None:
    was = notes(stage)
    assert hits_since(stage, was) == {}
    marks = sorted(was.vehicles)
    for some in ([marks[0]], marks[2:5], marks):
        found = planned_anew(stage, dict.fromkeys(some, Hit.UNKNOWN))
        assert (found.changes, found.gone) == ((), ())
        assert found.planned == set(some)
        own = [each for each in pencilled(stage) if each.mark in some]
        assert [each for each in found.visits if each.mark in some] == own
        others = {each.key for each in pencilled(stage)} - {each.key for each in found.visits}
        assert found.untouched == len(others)


@pytest.mark.parametrize("place", [0, 2, 5])
def test_a_booking_over_a_visit_moves_it_and_little_else(stage: Stage, place: int) -> None:
    was, before = notes(stage), visits_of(stage)
    visit = pencilled(stage)[place]
    book(stage, visit.mark, local_day(visit))
    hit = hits_since(stage, was)
    assert hit == {visit.mark: Hit.BROKEN}
    found = planned_anew(stage, hit)
    (own,) = [each for each in found.changes if (each.mark, each.number) == visit.key]
    assert own.cause is Cause.AWAY
    taken(stage, found)
    after = visits_of(stage)
    inked = {key for key, each in before.items() if each.state is VisitState.INKED}
    assert all(after[key] == before[key] for key in inked), "ink stays"
    moved = {key for key in before if key not in after or local_day(after[key]) != local_day(before[key])}
    assert len(moved) <= 4
    # What was taken breaks nothing, and once more nothing moves.
    assert all(not note.broken for note in notes(stage).vehicles.values())
    assert planned_anew(stage, hit).changes == ()


def test_what_is_not_hit_and_does_not_compete_keeps_its_time_to_the_minute(stage: Stage) -> None:
    was, before = notes(stage), {each.key: each for each in pencilled(stage)}
    visit = pencilled(stage)[0]
    book(stage, visit.mark, local_day(visit))
    found = planned_anew(stage, hits_since(stage, was))
    changed = {(each.mark, each.number) for each in found.changes}
    shown = {each.key: each for each in found.visits}
    for key, each in before.items():
        if key not in changed:
            assert shown.get(key, each).stretches == each.stretches


def test_a_reading_hits_its_own_vehicle_and_what_it_moves_says_so(stage: Stage) -> None:
    """Anvil's dial runs far ahead: what comes due by distance comes due sooner."""
    was = notes(stage)
    with stage.store.read() as view:
        last = max(view.readings(("AN",)), key=lambda each: each.on)
    given = Given("AN", last.value + 2500, on=TODAY, by="ines", door=Door.PHONE, hold=True)
    record_reading(stage.store, stage.rules, given, now=DEMO_NOW, base_url="https://garage.example")
    hit = hits_since(stage, was)
    assert hit == {"AN": Hit.DATES}
    found = planned_anew(stage, hit)
    own = [each for each in found.changes if each.mark == "AN"]
    assert own
    assert Cause.PRICE not in {each.cause for each in own}


def test_a_mechanic_who_leaves_and_a_visit_that_is_rubbed_out_hit_whose_they_are(stage: Stage) -> None:
    was = notes(stage)
    with stage.store.read() as view:
        hands = [each for each in view.people() if Role.MECHANIC in each.roles]
    leaves = hands[0]
    theirs = {each.mark for each in pencilled(stage) if each.mechanic == leaves.key}
    with stage.store.write(Change("ines", "leaves", DEMO_NOW)) as unit:
        unit.put_person(replace(leaves, roles=tuple(each for each in leaves.roles if each is not Role.MECHANIC)))
    assert {mark for mark, why in hits_since(stage, was).items() if why is Hit.BROKEN} == theirs
    with stage.store.write(Change("ines", "is back", DEMO_NOW)) as unit:
        unit.put_person(leaves)
    assert hits_since(stage, was) == {}
    gone = pencilled(stage)[0]
    with stage.store.write(Change("ines", "not then", DEMO_NOW)) as unit:
        unit.put_bay_visit(replace(gone, state=VisitState.RUBBED_OUT))
    assert hits_since(stage, was)[gone.mark] is Hit.NO_DAY


def test_a_search_that_is_stopped_keeps_what_it_has_and_says_who_was_planned(stage: Stage) -> None:
    marks = sorted(notes(stage).vehicles)
    asked = [0]

    def stopped() -> bool:
        asked[0] += 1
        return asked[0] > 1

    found = replan_bays(
        stage.store, stage.rules, PLACE, calm, now=DEMO_NOW, hit=dict.fromkeys(marks, Hit.UNKNOWN), is_stopped=stopped
    )
    assert found is not None
    assert found.planned == set(marks[:4])
    at_once = replan_bays(
        stage.store, stage.rules, PLACE, calm, now=DEMO_NOW, hit={"AN": Hit.UNKNOWN}, is_stopped=lambda: True
    )
    assert at_once is None


def test_a_search_that_finds_nothing_leaves_its_vehicles_and_goes_on_with_the_others(stage: Stage) -> None:
    """Ended before its first visit, it would leave everything out: nothing of that is offered."""
    marks = sorted(notes(stage).vehicles)
    asked = [0]

    def first_in_vain(problem: BayProblem, standing: Standing) -> Answer:
        asked[0] += 1
        if asked[0] > 1:
            return calm(problem, standing)
        nothing = BayPlan(problem.name, (), tuple(each.name for each in problem.services))
        return Answer(Outcome.FOUND, nothing, 0, None, 0.0)

    found = replan_bays(
        stage.store, stage.rules, PLACE, first_in_vain, now=DEMO_NOW, hit=dict.fromkeys(marks, Hit.UNKNOWN)
    )
    assert found is not None
    assert found.planned == set(marks[4:])
    assert (found.changes, found.gone) == ((), ())


def test_with_two_bays_those_that_stay_take_theirs() -> None:
    stage = demo()
    taken(stage, propose(stage.store, stage.rules, TWO_BAYS, solve, now=DEMO_NOW))
    visit = pencilled(stage)[0]
    book(stage, visit.mark, local_day(visit))
    found = replan_bays(stage.store, stage.rules, TWO_BAYS, calm, now=DEMO_NOW, hit={visit.mark: Hit.BROKEN})
    assert found is not None
    assert visit.key in {(each.mark, each.number) for each in found.changes}
    taken(stage, found)
    with stage.store.read() as view:
        assert all(not each.broken for each in plan_notes(view, TWO_BAYS, now=DEMO_NOW).vehicles.values())


def test_a_vehicle_of_which_nothing_is_left_to_do_loses_what_is_pencilled(stage: Stage) -> None:
    visit = next(each for each in pencilled(stage) if each.mark == "PL")
    with stage.store.write(Change("ines", "inked elsewhere", DEMO_NOW)) as unit:
        later = [replace(s, begins_at=s.begins_at + timedelta(days=70), ends_at=s.ends_at + timedelta(days=70))
                 for s in visit.stretches]  # fmt: skip
        unit.put_bay_visit(replace(visit, number=9, stretches=tuple(later), state=VisitState.INKED))
    found = planned_anew(stage, {"PL": Hit.BROKEN})
    assert visit in found.gone
    assert [each.cause for each in found.changes if each.number == visit.number and each.mark == "PL"] == [Cause.JOINED]
