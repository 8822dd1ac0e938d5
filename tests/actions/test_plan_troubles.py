"""What cannot be planned is said by name, on the demo garage, and the rest is planned all the same."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from fleetcare.actions.bay_ground import Workplace
from fleetcare.actions.plan_bays import Wish, propose
from fleetcare.actions.ports import Change
from fleetcare.actions.proposal import Proposal
from fleetcare.bayplan.impossible import NoDayKind
from fleetcare.bayplan.orders import Order
from fleetcare.bayplan.workshop import OpenHours
from fleetcare.book.jobs import Stage, StageKind
from fleetcare.book.rows import Status
from fleetcare.errors import BadInput
from fleetcare.fleet.bay_visit import VisitState
from fleetcare.fleet.booking import Booking
from fleetcare.page.cards.no_day import clash_sentences, doubt_sentences, no_day_sentences
from fleetcare.quantities import DateSpan
from tests.actions.garages import DEMO_NOW, demo
from tests.actions.garages import Stage as Garage
from tests.actions.test_plan_bays import DENVER, HORIZON, TODAY, WORKPLACE, proposed, solve, taken


def told(found: Proposal) -> str:
    return " ".join(no_day_sentences(found.barred, found.outlooks))


def kinds(found: Proposal) -> set[NoDayKind]:
    return {why.kind for why in found.barred.values()}


@pytest.fixture(scope="module")
def stage() -> Garage:
    """The demo, not written to."""
    return demo()


def with_hours(*hours: OpenHours, **changes: object) -> Workplace:
    return replace(WORKPLACE, hours=hours, **changes)  # type: ignore[arg-type]


def test_without_an_open_day_it_is_said_once(stage: Garage) -> None:
    found = proposed(stage, with_hours())
    assert kinds(found) == {NoDayKind.NOBODY}
    assert told(found) == "On no day of the time that is planned is anybody there with a bay free."


def test_a_job_longer_than_any_day_is_named_and_shorter_ones_are_planned(stage: Garage) -> None:
    """Half an hour's work of a few services fits into an hour and a half; an axle's does not."""
    found = proposed(stage, with_hours(OpenHours((5,), 540, 640)))
    assert NoDayKind.TOO_LONG in kinds(found)
    assert "at a stretch, and no day is open for longer than 1 h 25." in told(found)
    assert found.visits
    assert not {line for visit in found.visits for line in visit.lines} & set(found.barred)


def with_oil_stages(stages: tuple[Stage, ...]) -> Workplace:
    """The workplace in which engine oil is done in these stages."""
    jobs = WORKPLACE.jobs
    key, oil = next((key, job) for key, job in jobs.jobs.items() if "engine oil" in job.services)
    return replace(WORKPLACE, jobs=replace(jobs, jobs={**jobs.jobs, key: replace(oil, stages=stages)}))


def test_a_stage_of_sixty_days_is_named_and_a_million_minutes_are_refused(stage: Garage) -> None:
    long = Stage("long", "A long stage", minutes=60 * 24 * 60)
    found = proposed(stage, with_oil_stages((long,)))
    assert {line.service for line, why in found.barred.items() if why.kind is NoDayKind.TOO_LONG} >= {"engine-oil"}
    assert found.visits
    with pytest.raises(BadInput, match="1000000 min is no such time"):
        replace(long, minutes=1_000_000)


def test_a_chain_over_night_has_no_day_where_only_single_days_are_open(stage: Garage) -> None:
    first, last = (Stage(key, "By hand", minutes=30) for key in ("first", "last"))
    cures = Stage("cures", "It cures", StageKind.STANDING, least_minutes=1200, most_minutes=2000)
    cures = replace(cures, source="a test", status=Status.MEMORY)
    chained = with_oil_stages((first, cures, last))
    found = proposed(stage, replace(chained, hours=(OpenHours((5,), 540, 1020),)))
    assert {line.service for line, why in found.barred.items() if why.kind is NoDayKind.CHAIN} >= {"engine-oil"}
    assert "its stages lie 20 h or more apart, and no two open days fit that." in told(found)
    assert found.visits


def test_a_skill_that_nobody_has_is_said_by_name_and_who_has_it_does_the_work(stage: Garage) -> None:
    found = proposed(stage, replace(WORKPLACE, skills={"ines": ["welding"]}))
    assert {why.skill for why in found.barred.values()} >= {"brakes"}
    assert "somebody who knows brakes, and nobody here is down for that" in told(found)
    assert found.visits
    able = proposed(stage, replace(WORKPLACE, skills={"ines": ["brakes"], "teo": []}))
    assert "brakes" not in {why.skill for why in able.barred.values()}
    jobs, outlooks = WORKPLACE.jobs, able.outlooks
    brakes = [
        visit
        for visit in able.visits
        for line in outlooks[visit.mark].lines
        if line.key in visit.lines
        for job in [jobs.job_for(line.row, line.component.kind)]
        if job is not None and "brakes" in job.skills
    ]
    assert brakes
    assert {visit.mechanic for visit in brakes} == {"ines"}


def test_a_vehicle_that_is_spoken_for_all_the_time_is_named() -> None:
    stage = demo()
    days = DateSpan.of_days(TODAY, TODAY + timedelta(days=HORIZON + 30))
    with stage.store.write(Change("ines", "a booking", DEMO_NOW)) as unit:
        unit.put_booking(Booking("long", "Away for the season", days, ("PO",)))
    found = proposed(stage)
    assert {line.mark for line, why in found.barred.items() if why.kind is NoDayKind.AWAY} == {"PO"}
    assert "Pocket is spoken for whenever somebody is there" in told(found)
    assert "PO" not in {visit.mark for visit in found.visits}


def test_inked_visits_that_cannot_all_be_are_the_fewest_that_clash() -> None:
    stage = demo()
    with stage.store.write(Change("ines", "inked twice", DEMO_NOW)) as unit:
        anvil = next(v for v in unit.bay_visits() if v.mark == "AN" and v.state is VisitState.INKED)
        unit.put_bay_visit(replace(anvil, mark="PO", number=77, lines=(unit.lines(("PO",))[0],), mechanic=""))
    found = proposed(stage)
    (clash,) = found.clashes
    assert {visit.mark for visit in clash} == {"AN", "PO"}
    (sentence,) = clash_sentences(found.clashes, found.outlooks, bays=1, zone=DENVER, today=TODAY)
    assert "Anvil on " in sentence
    assert "Pocket on " in sentence
    assert found.visits
    assert proposed(stage, replace(WORKPLACE, prices=replace(WORKPLACE.prices, bays=2))).clashes == ()


def test_a_wish_that_several_services_together_spoil_names_them() -> None:
    """On an evening too short for the whole visit, the fewest services that do not fit together are named."""
    stage = demo()
    short = with_hours(OpenHours((5,), 540, 1020), OpenHours((1,), 1080, 1080 + 130))
    taken(stage, proposed(stage, short))
    with stage.store.read() as view:
        visits = [v for v in view.bay_visits() if v.state is VisitState.PENCILLED and v.mark in ("PO", "RA")]
    assert {len(visit.lines) for visit in visits} == {1, 2}
    said = []
    for visit in visits:
        wish = Wish(visit.mark, visit.number, date(2026, 5, 26))
        try:
            propose(stage.store, stage.rules, short, solve, now=DEMO_NOW, horizon_days=HORIZON, wish=wish)
        except BadInput as refused:
            said.append(str(refused))
    assert any("there is no room for wheel bearings on 26 May, even alone" in each for each in said), said
    assert any("these cannot all be: drive belt on 26 May and engine oil on 26 May" in each for each in said), said


def test_what_leads_nowhere_in_the_workshops_figures_is_said_and_the_rest_is_planned(stage: Garage) -> None:
    """Two orders in a circle, one for a service nobody has, and a job that wants to stand on what has no row."""
    orders = (Order("engine oil", "brake fluid"), Order("brake fluid", "engine oil"), Order("engine oil", "moon dust"))
    jobs = WORKPLACE.jobs
    key, oil = next((key, job) for key, job in jobs.jobs.items() if "engine oil" in job.services)
    asked = replace(jobs, jobs={**jobs.jobs, key: replace(oil, set_ups=("on a ramp",))})
    found = proposed(stage, replace(WORKPLACE, prices=replace(WORKPLACE.prices, orders=orders), jobs=asked))
    assert found.visits
    circle, unknown, unpriced = doubt_sentences(found.doubts)
    assert circle.startswith("The order of brake fluid and engine oil goes round in a circle and is not kept.")
    assert "names moon dust" in unknown
    assert "the set-up on a ramp, which has no row" in unpriced
    assert doubt_sentences(proposed(stage).doubts) == ()
