"""Bay days that are proposed keep what is inked and spoken for, move nothing without need, and are taken whole."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from fleetcare.actions.bay_ground import Workplace
from fleetcare.actions.links import publish_feed
from fleetcare.actions.plan_bays import Wish, accept, propose
from fleetcare.actions.plan_visits import VisitsAhead, visits_ahead
from fleetcare.actions.ports import Change
from fleetcare.actions.proposal import Proposal
from fleetcare.actions.write_letters import write_due_letters
from fleetcare.bayplan.cost import plan_cost
from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.plan_changes import Cause
from fleetcare.bayplan.port import Answer, Limits, Outcome
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.standing import Standing
from fleetcare.digest.values import LetterKind
from fleetcare.errors import BadInput, Clash, NotFound
from fleetcare.fleet.bay_visit import BayVisit, StretchKind, VisitState
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.people import Role
from fleetcare.quantities import DateSpan
from fleetcare.settings.job_files import load_jobs
from fleetcare.settings.places import SHIPPED_JOBS, SHIPPED_WORKSHOP, shipped_config
from fleetcare.settings.workshop_file import load_workshop
from fleetcare.solvers.pick import solver_for
from tests.actions.garages import BASE_URL, DEMO_NOW, Stage, demo

DENVER = ZoneInfo("America/Denver")
TODAY = date(2026, 4, 14)
WORKSHOP = load_workshop(shipped_config() / SHIPPED_WORKSHOP)
WORKPLACE = Workplace(WORKSHOP.prices, WORKSHOP.hours, load_jobs(shipped_config() / SHIPPED_JOBS, Path("none")))
HORIZON = 75


def solve(problem: BayProblem, standing: Standing) -> Answer:
    return solver_for(problem).solve(problem, Limits(20.0, 1), standing=standing)


def proposed(stage: Stage, workplace: Workplace = WORKPLACE) -> Proposal:
    return propose(stage.store, stage.rules, workplace, solve, now=DEMO_NOW, horizon_days=HORIZON)


def taken(stage: Stage, proposal: Proposal) -> int:
    return accept(stage.store, stage.rules, proposal, who="ines", now=DEMO_NOW, base_url=BASE_URL)


@pytest.fixture(scope="module")
def stage() -> Stage:
    """The demo, not written to."""
    return demo()


@pytest.fixture(scope="module")
def found(stage: Stage) -> Proposal:
    """What is proposed for it."""
    return proposed(stage)


def test_the_demo_gets_a_plan_and_how_good_it_is(found: Proposal) -> None:
    assert found.answer is not None
    assert found.answer.outcome in (Outcome.PROVEN, Outcome.FOUND)
    assert found.answer.gap is not None
    assert found.answer.gap < 0.02
    assert len(found.visits) >= 5
    assert all(visit.state is VisitState.PENCILLED and visit.mechanic for visit in found.visits)
    assert all(visit.reason for visit in found.visits)


def test_inked_days_stand_and_their_services_are_not_planned_again(stage: Stage, found: Proposal) -> None:
    with stage.store.read() as view:
        inked = [visit for visit in view.bay_visits() if visit.state is VisitState.INKED]
    assert set(found.kept) == set(inked)
    settled = {line for visit in inked for line in visit.lines}
    assert not settled & {line for visit in found.visits for line in visit.lines}
    for visit in found.visits:
        # One bay: nothing else is in it while an inked visit is.
        assert not any(visit.overlaps(other) for other in inked)


def test_visits_begin_and_end_in_open_hours_from_tomorrow_on(found: Proposal) -> None:
    for visit in found.visits:
        for stretch in visit.stretches:
            if stretch.kind is StretchKind.STANDING:
                continue
            begins, ends = stretch.begins_at.astimezone(DENVER), stretch.ends_at.astimezone(DENVER)
            assert TODAY < begins.date() <= TODAY + timedelta(days=HORIZON)
            assert any(
                begins.weekday() in each.weekdays
                and each.start <= begins.hour * 60 + begins.minute
                and ends.hour * 60 + ends.minute <= each.end
                for each in WORKSHOP.hours
            )


def test_no_vehicle_is_in_the_bay_while_it_is_spoken_for_and_the_bay_holds_one(stage: Stage, found: Proposal) -> None:
    with stage.store.read() as view:
        bookings = view.bookings()
    for visit in found.visits:
        days = {at.astimezone(DENVER).date() for at in (visit.begins_at, visit.free_at)}
        for booking in bookings:
            assert visit.mark not in booking.marks or not any(day in booking.days for day in days)
    for place, visit in enumerate(found.visits):
        assert not any(visit.overlaps(other) for other in found.visits[place + 1 :])


def test_a_job_that_cures_stands_for_its_time(found: Proposal) -> None:
    standing = [each for visit in found.visits for each in visit.stretches if each.kind is StretchKind.STANDING]
    for visit in found.visits:
        assert visit.stretches[0].kind is StretchKind.HANDS_ON
        assert visit.stretches[-1].kind is StretchKind.HANDS_ON
    assert all(each.lasts > timedelta(0) for each in standing)


def test_taken_it_stands_in_calendars_and_planned_again_nothing_moves() -> None:
    stage = demo()
    first = proposed(stage)
    assert taken(stage, first) > 0
    with stage.store.read() as view:
        stored = {visit.key: visit for visit in view.bay_visits()}
    assert all(stored[visit.key] == visit for visit in first.visits)
    assert all(stored[visit.key].state is VisitState.RUBBED_OUT for visit in first.gone)
    feed = publish_feed(stage.store, stage.rules, "ines", now=DEMO_NOW, base_url=BASE_URL).decode()
    assert feed.count("pencilled") >= len(first.visits)
    again = proposed(stage)
    assert again.moved == ()
    assert again.gone == ()
    assert {visit.key: visit.stretches for visit in again.visits} == {
        visit.key: visit.stretches for visit in first.visits
    }


def test_a_visit_that_does_some_of_the_same_keeps_its_number(stage: Stage, found: Proposal) -> None:
    with stage.store.read() as view:
        pencilled = {v.key: v for v in view.bay_visits() if v.state is VisitState.PENCILLED}
    kept = [visit for visit in found.visits if visit.key in pencilled]
    assert kept
    assert all(set(visit.lines) & set(pencilled[visit.key].lines) for visit in kept)
    assert len({visit.key for visit in found.visits}) == len(found.visits)
    # Lantern's second is pencilled for 18 July, beyond the ninety days that are planned: it stays as it is.
    beyond = {("LA", 2)}
    assert {visit.key for visit in found.gone} == set(pencilled) - {visit.key for visit in kept} - beyond
    assert beyond <= set(pencilled)


def test_if_somebody_plans_meanwhile_nothing_is_written() -> None:
    stage = demo()
    found = proposed(stage)
    with stage.store.write(Change("teo", "rubbed out", DEMO_NOW)) as unit:
        visit = next(each for each in unit.bay_visits() if each.takes_place)
        unit.put_bay_visit(replace(visit, state=VisitState.RUBBED_OUT))
    with stage.store.read() as view:
        before = view.version()
    with pytest.raises(Clash, match="meanwhile"):
        taken(stage, found)
    with stage.store.read() as view:
        assert view.version() == before


def test_without_a_mechanic_it_is_said_who_is_missing() -> None:
    stage = demo()
    with stage.store.write(Change("test", "nobody mends", DEMO_NOW)) as unit:
        for person in unit.people():
            unit.put_person(replace(person, roles=(Role.KEEPER,)))
    with pytest.raises(BadInput, match="mechanic"):
        proposed(stage)


def test_without_open_hours_everything_is_left_and_what_is_pencilled_goes(stage: Stage) -> None:
    closed = Workplace(WORKSHOP.prices, (), WORKPLACE.jobs)
    found = proposed(stage, closed)
    assert found.visits == ()
    assert found.left


def test_times_are_those_of_the_garages_clock(found: Proposal) -> None:
    on_the_wall = {visit.begins_at.astimezone(DENVER).time() for visit in found.visits}
    opening = {time(each.start // 60, each.start % 60) for each in WORKSHOP.hours}
    assert on_the_wall & opening


def test_nothing_is_planned_on_a_day_off(stage: Stage, found: Proposal) -> None:
    first = found.visits[0].begins_at.astimezone(DENVER).date()
    closed = replace(WORKPLACE, days_off=lambda _first, _last: {first: "inventory"})
    days = {visit.begins_at.astimezone(DENVER).date() for visit in proposed(stage, closed).visits}
    assert first not in days


def test_with_two_bays_an_inked_visit_takes_one_of_them() -> None:
    """Never more than two vehicles at a time, whatever is inked."""
    stage = demo()
    two = replace(WORKPLACE, prices=replace(WORKPLACE.prices, bays=2))
    ground = proposed(stage, two)
    assert ground.answer is not None
    assert ground.answer.plan is not None
    stays = [(visit.begins_at, visit.free_at) for visit in (*ground.kept, *ground.visits)]
    at_once = [sum(begins <= moment < free for begins, free in stays) for moment, _ in stays]
    assert max(at_once) <= 2
    assert len(ground.kept) >= 3


def wished(stage: Stage, vehicle: str, number: int, on: date) -> Proposal:
    wish = Wish(vehicle, number, on)
    return propose(stage.store, stage.rules, WORKPLACE, solve, now=DEMO_NOW, horizon_days=HORIZON, wish=wish)


def local_day(visit: BayVisit) -> date:
    return visit.begins_at.astimezone(DENVER).date()


@pytest.fixture
def planned() -> tuple[Stage, Proposal]:
    """The demo with its best plan pencilled, so that every change comes from what is wished."""
    stage = demo()
    first = proposed(stage)
    assert first.answer is not None
    assert first.answer.outcome is Outcome.PROVEN
    taken(stage, first)
    return stage, first


def test_a_wish_is_planned_around_and_costs_what_it_costs_more(planned: tuple[Stage, Proposal]) -> None:
    """Each wished day that can be is kept, none is cheaper than the proven plan without it, taken it is inked."""
    stage, first = planned
    asked = next(visit for visit in first.visits if visit.mark == "PL")
    met = []
    for ahead in range(1, 22):
        on = local_day(asked) + timedelta(days=ahead)
        try:
            found = wished(stage, "Plank", asked.number, on)
        except BadInput:
            continue
        met.append(on)
        assert found.granted is not None
        assert found.granted.extra_cents >= 0
        (moved,) = [visit for visit in found.visits if visit.key == asked.key]
        assert local_day(moved) == on
        assert moved.state is VisitState.INKED
        assert set(asked.lines) <= set(moved.lines)
        others = [visit for visit in found.visits if visit.key != asked.key]
        assert all(visit.state is VisitState.PENCILLED for visit in others)
    assert len(met) >= 3
    last = wished(stage, "PL", asked.number, met[-1])
    assert taken(stage, last) >= 1
    with stage.store.read() as view:
        stored = {visit.key: visit for visit in view.bay_visits()}
    assert stored[asked.key].state is VisitState.INKED
    assert local_day(stored[asked.key]) == met[-1]
    after = proposed(stage)
    assert asked.key in {visit.key for visit in after.kept}
    assert after.moved == (), "what was planned around it stays"


def test_an_inked_visit_that_is_wished_elsewhere_says_where_it_was() -> None:
    stage = demo()
    with stage.store.read() as view:
        asked = next(v for v in view.bay_visits() if v.state is VisitState.INKED and v.mark == "AN")
    found = None
    for ahead in range(1, 29):
        try:
            found = wished(stage, "AN", asked.number, local_day(asked) + timedelta(days=ahead))
        except BadInput:
            continue
        break
    assert found is not None
    (moved,) = [visit for visit in found.visits if visit.key == asked.key]
    assert moved.moved_from == local_day(asked)
    assert asked.key not in {visit.key for visit in found.kept}
    with stage.store.read() as view:
        assert asked in view.bay_visits(("AN",)), "nothing is written"


def test_a_wish_that_cannot_be_says_why(stage: Stage) -> None:
    with stage.store.read() as view:
        anvil = next(v for v in view.bay_visits() if v.mark == "AN" and v.state is VisitState.PENCILLED)
    with pytest.raises(BadInput, match="Anvil cannot come in on 1 May"):
        wished(stage, "AN", anvil.number, date(2026, 5, 1))
    with pytest.raises(BadInput, match="nobody is there"):
        wished(stage, "AN", anvil.number, date(2026, 5, 4))
    with pytest.raises(BadInput, match="on that day already"):
        wished(stage, "AN", anvil.number, local_day(anvil))
    with pytest.raises(BadInput, match="from tomorrow on"):
        wished(stage, "AN", anvil.number, TODAY)
    with pytest.raises(BadInput, match="beyond the time"):
        wished(stage, "AN", anvil.number, TODAY + timedelta(days=HORIZON + 7))
    with pytest.raises(NotFound, match="visit of AN"):
        wished(stage, "AN", 99, TODAY + timedelta(days=9))


def test_a_wish_for_which_the_time_was_too_short_is_not_called_impossible(stage: Stage) -> None:
    """It was not looked for long enough, and that is said; a day that no rule allows stays one that cannot be."""
    with stage.store.read() as view:
        anvil = next(v for v in view.bay_visits() if v.mark == "AN" and v.state is VisitState.PENCILLED)

    def hurried(problem: BayProblem, standing: Standing) -> Answer:
        if any(service.is_required for service in problem.services):
            return Answer(Outcome.NOTHING, None, None, None, 0.0)
        return solve(problem, standing)

    def asked(on: date) -> Proposal:
        wish = Wish("AN", anvil.number, on)
        return propose(stage.store, stage.rules, WORKPLACE, hurried, now=DEMO_NOW, horizon_days=HORIZON, wish=wish)

    free = next(on for on in (local_day(anvil) + timedelta(weeks=n) for n in range(1, 9)) if _is_free(stage, anvil, on))
    with pytest.raises(BadInput, match=r"No plan with Anvil on .* there may be one\. Name another day"):
        asked(free)
    with pytest.raises(BadInput, match="cannot come in on 4 May: nobody is there"):
        asked(date(2026, 5, 4))


def _is_free(stage: Stage, visit: BayVisit, on: date) -> bool:
    try:
        wished(stage, visit.mark, visit.number, on)
    except BadInput:
        return False
    return True


def test_what_a_taken_plan_changed_is_kept_and_told_with_its_cause() -> None:
    stage = demo()
    assert ahead_of(stage).last_plan is None
    first = proposed(stage)
    taken(stage, first)
    told = ahead_of(stage).last_plan
    assert told is not None
    assert (told.who, told.at) == ("ines", DEMO_NOW)
    assert told.changes == first.changes
    assert {(each.mark, each.number) for each in first.changes if each.now is None} == {v.key for v in first.gone}
    again = proposed(stage)
    assert again.changes == ()
    taken(stage, again)
    assert ahead_of(stage).last_plan == told, "a plan that changes nothing is no news"


def moved_letters(stage: Stage) -> list[tuple[str, str]]:
    """To whom word of a moved bay day was written, and its subject."""
    write_due_letters(stage.store, stage.rules, stage.desk, now=DEMO_NOW)
    with stage.store.read() as view:
        return [(each.person, each.subject) for each in view.deliveries() if each.kind is LetterKind.BAY_DAY_MOVED]


def ahead_of(stage: Stage) -> VisitsAhead:
    return visits_ahead(stage.store, stage.rules, now=DEMO_NOW)


def test_a_plan_that_moves_a_near_visit_to_another_day_sends_word_of_it(planned: tuple[Stage, Proposal]) -> None:
    """A vehicle is pencilled for Saturday; a booking takes that day, the plan is worked out again, and letters go."""
    stage, first = planned
    near = first.visits[0]
    was_on = local_day(near)
    assert (was_on - TODAY).days <= 14
    assert moved_letters(stage) == []
    booking = Booking("away", "Away after all", DateSpan.of_days(was_on, was_on + timedelta(days=1)), (near.mark,))
    with stage.store.write(Change("ines", "a booking", DEMO_NOW)) as unit:
        unit.put_booking(booking)
    again = proposed(stage)
    (moved,) = [after for before, after in again.moved if before.key == near.key]
    assert moved.moved_from == was_on
    assert [each.cause for each in again.changes if (each.mark, each.number) == near.key] == [Cause.AWAY]
    taken(stage, again)
    sent = moved_letters(stage)
    with stage.store.read() as view:
        (vehicle,) = view.vehicles((near.mark,))
    told = {moved.mechanic, vehicle.keeper}
    assert {person for person, subject in sent if subject.startswith(f"{vehicle.name}’s bay day moved: ")} == told
    # The same plan once more keeps what was told, and nobody is told twice.
    taken(stage, proposed(stage))
    assert moved_letters(stage) == sent


def test_a_search_stopped_before_its_first_visit_rubs_nothing_out() -> None:
    """What it has is a plan that leaves everything out: as good as none."""
    stage = demo()

    def stopped(problem: BayProblem, standing: Standing) -> Answer:
        nothing = BayPlan(problem.name, (), tuple(sorted(problem.service_by_name)))
        return Answer(Outcome.NOTHING, nothing, plan_cost(problem, nothing).total, None, 0.1)

    found = propose(stage.store, stage.rules, WORKPLACE, stopped, now=DEMO_NOW, horizon_days=HORIZON)
    with stage.store.read() as view:
        before = view.bay_visits()
    assert found.answer is not None
    assert found.answer.plan is None
    assert found.gone == ()
    assert set(found.visits) <= set(before)
    assert taken(stage, found) == 0
    with stage.store.read() as view:
        assert view.bay_visits() == before
