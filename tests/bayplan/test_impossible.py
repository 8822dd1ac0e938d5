"""What cannot be planned is said by name, the rest is planned, and of wishes that clash none can be spared."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fleetcare.bayplan.audit import Rule, audit
from fleetcare.bayplan.impossible import Wish, WishKind, hopeless, only, smallest_clash, wish_sentence
from fleetcare.bayplan.port import Limits, Outcome
from fleetcare.bayplan.problem import BayProblem, Stage, Wait
from fleetcare.solvers.exact import ExactSolver
from tests.bayplan.test_audit import SAT, yard

LIMITS = Limits(steps=60)


def with_service(problem: BayProblem, name: str, **changed: object) -> BayProblem:
    """The problem with one service changed."""
    services = tuple(
        replace(one, **changed) if one.name == name else one  # type: ignore[arg-type]
        for one in problem.services
    )
    return replace(problem, services=services)


@pytest.mark.parametrize(
    ("problem", "name", "words"),
    [
        (with_service(yard(), "rotation", stages=(Stage(1_000_000),)), "rotation", "no shift is longer"),
        (with_service(yard(), "rotation", stages=(Stage(20, "weld"),)), "rotation", "nobody has that skill"),
        (with_service(yard(), "sealing", waits=(Wait(3000, 4000),)), "sealing", "no two shifts do"),
        (with_service(yard(), "rotation", not_after=3), "rotation", "nobody is there then"),
        (
            replace(yard(), vehicles=tuple(replace(one, away=((0, 20_000),)) for one in yard().vehicles)),
            "rotation",
            "is away whenever",
        ),
        (replace(yard(), shifts=()), "rotation", "no day with anybody there"),
        (replace(yard(), depots=(replace(yard().depots[0], bays=0),)), "rotation", "no bay"),
    ],
)
def test_a_service_without_a_day_is_named_and_the_rest_is_planned(problem: BayProblem, name: str, words: str) -> None:
    sentences = {one.service: one.sentence for one in hopeless(problem)}
    assert words in sentences[name]
    answer = ExactSolver().solve(problem, LIMITS)
    assert answer.outcome is Outcome.IMPOSSIBLE
    assert answer.plan is not None
    left = {name for broken in audit(problem, answer.plan) for name in broken.names}
    assert left == set(sentences)
    assert {broken.rule for broken in audit(problem, answer.plan)} == {Rule.WHOLE}


def test_a_garage_without_trouble_has_nothing_hopeless_and_no_clash() -> None:
    assert hopeless(yard()) == ()
    assert smallest_clash(yard(), ExactSolver(), LIMITS) == ()


def test_wishes_that_clash_are_the_fewest() -> None:
    """On Saturday there is room for one long job, not for two; a third vehicle has no part in it."""
    services = {one.name: one for one in yard().services}
    long = replace(services["rotation"], stages=(Stage(150),), not_before=5, not_after=5, setups=())
    other = replace(services["filter"], stages=(Stage(150),), name="belt")
    problem = replace(
        yard(),
        people=(yard().people[0],),
        shifts=(replace(yard().shifts[0], people=("ines",)), replace(yard().shifts[1], people=("ines",))),
        services=(long, other, services["wax"]),
    )
    clash = smallest_clash(problem, ExactSolver(), LIMITS)
    assert set(clash) == {
        Wish(WishKind.SERVICE, "rotation"),
        Wish(WishKind.SERVICE, "belt"),
        Wish(WishKind.WINDOW, "rotation"),
        Wish(WishKind.BOOKING, "bellows", 0),
    }
    for wish in clash:
        fewer = only(problem, [one for one in clash if one != wish])
        assert ExactSolver().solve(fewer, LIMITS).outcome is Outcome.PROVEN
    words = [wish_sentence(problem, wish) for wish in clash]
    assert "rotation is to be done on day 5" in words
    assert "bellows is away from day 6 to day 6" in words
    assert problem.vehicle_by_name["bellows"].away[0][0] > SAT
