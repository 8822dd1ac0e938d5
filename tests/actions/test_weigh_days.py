"""A visit weighed against other days: the prices are those of whole plans, and what cannot be says why."""

from __future__ import annotations

from typing import Any

import pytest

from fleetcare.actions import weigh_days
from fleetcare.actions.plan_bays import accept, propose
from fleetcare.actions.proposal import Proposal
from fleetcare.actions.weigh_days import Lay, Weighed, weigh
from fleetcare.bayplan.explain import Forbidden
from fleetcare.bayplan.plan import Visit
from fleetcare.bayplan.port import Answer, Limits, Outcome
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.standing import Standing
from fleetcare.errors import BadInput, NotFound
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.solvers.days import ExactDays, place_on_day
from fleetcare.solvers.pick import solver_for
from tests.actions.garages import BASE_URL, DEMO_NOW, Stage, demo
from tests.actions.test_plan_bays import WORKPLACE


def solve(problem: BayProblem, standing: Standing) -> Answer:
    return solver_for(problem).solve(problem, Limits(40.0, 1), standing=standing)


def weighed(stage: Stage, vehicle: str, number: int) -> Weighed:
    return weigh(
        stage.store, stage.rules, WORKPLACE, place_on_day, ExactDays(), vehicle=vehicle, number=number, now=DEMO_NOW
    )


@pytest.fixture(scope="module")
def planned() -> tuple[Stage, Proposal]:
    """The demo with a plan that is proven to be the cheapest, pencilled."""
    stage = demo()
    found = propose(stage.store, stage.rules, WORKPLACE, solve, now=DEMO_NOW)
    assert found.answer is not None
    assert found.answer.outcome is Outcome.PROVEN
    accept(stage.store, stage.rules, found, who="ines", now=DEMO_NOW, base_url=BASE_URL)
    return stage, found


def test_no_other_day_of_a_visit_is_cheaper_on_a_proven_plan(planned: tuple[Stage, Proposal]) -> None:
    stage, found = planned
    compared = 0
    for visit in found.visits:
        told = weighed(stage, visit.mark, visit.number)
        if told.explained is None or told.is_as_written:
            continue
        compared += 1
        for price in told.explained.other_days:
            assert (price.extra_cents is None) == (price.forbidden is not None)
            assert price.extra_cents is None or price.extra_cents >= 0, (visit.key, price)
    assert compared >= len(found.visits) - 1


def test_a_visit_whose_times_somebody_wrote_is_weighed_with_them() -> None:
    """Anvil's long visit as the club wrote it (2:20, 25 hours standing, 1:20) fits its weekend; by the job book, of
    whose shifts a part is kept free, its second day would run over."""
    told = weighed(demo(), "AN", 1)
    assert told.explained is not None
    assert told.is_as_written
    possible = {price.day: price.extra_cents for price in told.explained.other_days if price.extra_cents is not None}
    # A wait of 25 hours needs open hours on the day after as well: Saturday into Sunday, and no Tuesday alone.
    assert possible
    assert not weighed(demo(), "LA", 1).is_as_written


def test_what_is_too_far_off_to_matter_is_not_laid_out_and_changes_no_price(
    planned: tuple[Stage, Proposal], monkeypatch: pytest.MonkeyPatch
) -> None:
    stage, found = planned
    spared = 0
    for visit in found.visits:
        laid: list[str] = []

        def lay(*asked: Any, laid: list[str] = laid) -> Visit | None:
            laid.append(asked[2])
            return place_on_day(*asked)

        def told(lay: Lay, visit: BayVisit = visit) -> Weighed:
            return weigh(
                stage.store,
                stage.rules,
                WORKPLACE,
                lay,
                ExactDays(),
                vehicle=visit.mark,
                number=visit.number,
                now=DEMO_NOW,
            )

        near = told(lay).explained
        few = len(laid)
        with monkeypatch.context() as patched:
            patched.setattr(weigh_days, "NEAR_DAYS", 10_000)
            assert told(lay).explained == near
        spared += len(laid) - 2 * few
    assert spared > 0


def test_days_on_which_it_is_spoken_for_say_so() -> None:
    told = weighed(demo(), "Anvil", 2)
    assert told.explained is not None
    rules = {price.forbidden for price in told.explained.other_days}
    assert Forbidden.AWAY in rules
    assert told.cap_cents > 0


def test_an_inked_visit_is_weighed_as_if_it_could_move() -> None:
    stage = demo()
    told = weighed(stage, "Raft", 1)
    assert told.visit.number == 1
    with stage.store.read() as view:
        assert told.visit in view.bay_visits(("RA",)), "nothing is written"


def test_what_is_not_there_is_said() -> None:
    with pytest.raises(NotFound, match="visit of AN"):
        weighed(demo(), "Anvil", 99)
    with pytest.raises(NotFound):
        weighed(demo(), "Anvyl", 1)
    stage = demo()
    with pytest.raises(BadInput, match="has begun"):
        weigh(
            stage.store, stage.rules, WORKPLACE, place_on_day, ExactDays(), vehicle="Raft", number=1,
            now=DEMO_NOW.replace(month=6),
        )  # fmt: skip
