"""What a plan that is not written down yet is said to be worth, and what it leaves, in words."""

from __future__ import annotations

import pytest

from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.port import Answer, Outcome
from fleetcare.fleet.component import LineKey
from fleetcare.page.cards.proposal import ProposalCard, left_sentence, proposal_card
from tests.page.karst_ridge import ANVIL_OUTLOOK, GARAGE, INES, TODAY

FIRST, SECOND = ANVIL_OUTLOOK.lines[:2]
EMPTY = BayPlan("x", ())
GONE = LineKey("AN", "winch", "winch-rope")
"""Nothing of the outlook; it was taken off meanwhile."""


def card(outcome: Outcome, bound: int | None, plan: BayPlan | None = EMPTY) -> ProposalCard:
    return proposal_card(
        garage=GARAGE,
        reader=INES,
        today=TODAY,
        can_enter=True,
        visits=(),
        gone=(),
        before=(),
        left=(FIRST.key,),
        answer=Answer(outcome, plan, None if plan is None else 20_000, bound, 3.0),
        outlooks={"AN": ANVIL_OUTLOOK},
        stand="abc",
    )


@pytest.mark.parametrize(
    ("outcome", "bound", "told"),
    [
        (Outcome.PROVEN, 20_000, "no plan costs less"),
        (Outcome.FOUND, 19_000, "at most 5 % above the best there is"),
        (Outcome.FOUND, None, "how much less another could cost is not known"),
    ],
)
def test_a_plan_is_called_as_good_as_is_known_and_no_better(outcome: Outcome, bound: int | None, told: str) -> None:
    assert card(outcome, bound).cost.endswith(f"; {told}.")


def test_what_is_left_is_said_by_name() -> None:
    assert left_sentence((), {}) == ""
    told = left_sentence((FIRST.key, SECOND.key, GONE), {"AN": ANVIL_OUTLOOK})
    assert told == f"Left for a later plan: Anvil, {FIRST.row.short}; Anvil, {SECOND.row.short}; Anvil, winch-rope."


def test_where_no_plan_was_found_nothing_is_called_left_for_a_later_one() -> None:
    assert card(Outcome.PROVEN, 20_000).left == f"Left for a later plan: Anvil, {FIRST.row.short}."
    none = card(Outcome.NOTHING, None, None)
    assert none.lead == "No plan was found in the time it was given; what is pencilled stays."
    assert (none.left, none.cost, none.can_take) == ("", "", False)
