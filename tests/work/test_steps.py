"""A work order takes the steps it can and refuses the others, each by a sentence that says what to do."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.errors import BadInput, BadStep
from fleetcare.fleet.component import LineKey
from fleetcare.quantities import MeterUnit, TorqueUnit
from fleetcare.work.order import (
    DialValue,
    Filled,
    Hands,
    OrderedService,
    OrderState,
    PartUsed,
    TorqueSet,
    WorkOrder,
)
from fleetcare.work.steps import HandIn, abandoned, closed, deferred, may, put_back, stage_begun, standing, started

TODAY = date(2026, 4, 14)
NOW = datetime(2026, 4, 14, 15, tzinfo=UTC)
HOUR = timedelta(hours=1)
FLUID, RESEAL = LineKey("AN", "rear-axle", "rear-axle-fluid"), LineKey("AN", "rear-axle", "cover-reseal")
PLANNED = WorkOrder(147, "AN", (OrderedService(FLUID), OrderedService(RESEAL)), TODAY)
IN_HAND = started(PLANNED, at=NOW, mechanics=("teo",), start=DialValue(Decimal(112640), MeterUnit.MI))
BOTH = HandIn(TODAY, frozenset({FLUID, RESEAL}), signed_by="Teo")


def miles(value: int | str) -> DialValue:
    return DialValue(Decimal(value), MeterUnit.MI)


def stand(order: WorkOrder) -> WorkOrder:
    return standing(order, at=NOW, until=NOW + 24 * HOUR)


STANDING = stand(IN_HAND)
DEFERRED = deferred(PLANNED, until=TODAY + timedelta(7), reason="no sealant", today=TODAY)
ABANDONED = abandoned(PLANNED, reason="sold")
CLOSED = closed(IN_HAND, BOTH, at=NOW + HOUR, key="k")
ALL = (PLANNED, IN_HAND, STANDING, DEFERRED, ABANDONED, CLOSED)


def test_the_states_that_lead_to_each_other_are_these_and_no_others() -> None:
    reached = {order.state: {state for state in OrderState if may(order, state)} for order in ALL}
    assert reached == {
        OrderState.PLANNED: {OrderState.IN_HAND, OrderState.DEFERRED, OrderState.ABANDONED, OrderState.CLOSED},
        OrderState.IN_HAND: {OrderState.STANDING, OrderState.DEFERRED, OrderState.ABANDONED, OrderState.CLOSED},
        OrderState.STANDING: {OrderState.IN_HAND, OrderState.DEFERRED, OrderState.ABANDONED, OrderState.CLOSED},
        OrderState.DEFERRED: {OrderState.IN_HAND, OrderState.ABANDONED, OrderState.CLOSED},
        OrderState.ABANDONED: set(),
        OrderState.CLOSED: set(),
    }


STEPS = {
    OrderState.IN_HAND: lambda order: started(order, at=NOW + 48 * HOUR),
    OrderState.STANDING: lambda order: standing(order, at=NOW, until=NOW + HOUR),
    OrderState.DEFERRED: lambda order: deferred(order, until=TODAY + timedelta(3), reason="rain", today=TODAY),
    OrderState.ABANDONED: lambda order: abandoned(order, reason="sold"),
    OrderState.CLOSED: lambda order: closed(order, BOTH, at=NOW + 48 * HOUR, key="k"),
}


@pytest.mark.parametrize("order", ALL, ids=lambda order: order.state.value)
@pytest.mark.parametrize("state", STEPS, ids=lambda state: state.value)
def test_every_step_ends_where_it_says_or_is_refused_with_a_remedy(order: WorkOrder, state: OrderState) -> None:
    if may(order, state):
        assert STEPS[state](order).state is state
    else:
        with pytest.raises(BadStep) as refused:
            STEPS[state](order)
        assert "0147" in str(refused.value)


def test_several_mechanics_are_named_once_each_and_the_first_start_counts() -> None:
    again = started(stand(IN_HAND), at=NOW + 25 * HOUR, mechanics=("ines", "teo"))
    assert again.mechanics == ("teo", "ines")
    assert again.started_at == NOW
    assert again.start == miles(112640)


def test_no_hand_goes_on_before_the_wait_is_over_unless_somebody_says_why() -> None:
    with pytest.raises(BadStep, match="stands until 2026-04-15 15:00 UTC"):
        started(STANDING, at=NOW + 23 * HOUR)
    with pytest.raises(BadStep, match="cannot be finished before"):
        closed(STANDING, BOTH, at=NOW + 23 * HOUR, key="k")
    assert started(STANDING, at=NOW + 24 * HOUR).state is OrderState.IN_HAND
    early = started(STANDING, at=NOW + HOUR, although="wiped off again, gasket instead")
    assert early.note == "Gone on before the wait was over: wiped off again, gasket instead"
    assert early.stands_until is None


def test_a_deferral_needs_a_reason_and_a_day_ahead_and_giving_up_needs_a_reason() -> None:
    for until, reason in ((TODAY, "rain"), (TODAY - timedelta(1), "rain"), (TODAY + timedelta(1), " ")):
        with pytest.raises(BadStep):
            deferred(PLANNED, until=until, reason=reason, today=TODAY)
    with pytest.raises(BadStep, match="reason"):
        abandoned(PLANNED, reason="")
    assert (DEFERRED.until, DEFERRED.reason) == (TODAY + timedelta(7), "no sealant")
    assert started(DEFERRED, at=NOW).reason == ""


def test_part_of_a_sheet_may_be_done_if_the_rest_says_why_it_was_left() -> None:
    half = HandIn(TODAY, frozenset({FLUID}), {RESEAL: "cover is dry"}, end=miles(112641))
    order = closed(IN_HAND, half, at=NOW, key="k")
    assert order.services == (OrderedService(FLUID, True), OrderedService(RESEAL, False, "cover is dry"))
    assert order.done == (FLUID,)
    with pytest.raises(BadStep, match="Nothing is said of rear-axle, cover-reseal"):
        closed(IN_HAND, replace(half, left={}), at=NOW, key="k")
    with pytest.raises(BadStep, match="both done and left"):
        closed(IN_HAND, replace(half, done=frozenset({FLUID, RESEAL})), at=NOW, key="k")
    with pytest.raises(BadStep, match="not on sheet 0147"):
        closed(IN_HAND, replace(half, done=frozenset({FLUID, LineKey("AN", "engine", "oil")})), at=NOW, key="k")


def test_a_sheet_that_ends_below_its_start_is_refused() -> None:
    with pytest.raises(BadStep, match="112639 mi at the end and 112640 at the start") as refused:
        closed(IN_HAND, replace(BOTH, end=miles(112639)), at=NOW, key="k")
    assert refused.value.field == "end"
    with pytest.raises(BadStep, match="one unit"):
        closed(IN_HAND, replace(BOTH, end=DialValue(Decimal(200000), MeterUnit.KM)), at=NOW, key="k")
    with pytest.raises(BadStep, match="began with 112640 mi"):
        closed(IN_HAND, replace(BOTH, start=miles(112000), end=miles(112641)), at=NOW, key="k")
    assert closed(IN_HAND, replace(BOTH, end=miles(112640)), at=NOW, key="k").end == miles(112640)


def test_a_torque_outside_of_its_range_wants_a_word() -> None:
    torque = TorqueSet("rear-axle", "cover bolts", Decimal(55), TorqueUnit.NM, Decimal(34), Decimal(46))
    with pytest.raises(BadStep, match=r"cover bolts: 55 N·m is outside of 34 to 46"):
        closed(IN_HAND, replace(BOTH, torques=(torque,)), at=NOW, key="k")
    told = replace(torque, note="stretched bolt, renewed tomorrow")
    assert closed(IN_HAND, replace(BOTH, torques=(told,)), at=NOW, key="k").torques == (told,)
    assert [replace(torque, value=Decimal(v)).is_outside for v in (33, 34, 40, 46, 47)] == [
        True,
        False,
        False,
        False,
        True,
    ]


def test_what_is_put_back_stands_where_it_stood_and_can_be_handed_in_again() -> None:
    back = put_back(CLOSED)
    assert back == replace(IN_HAND, started_at=NOW)
    assert closed(back, BOTH, at=NOW + HOUR, key="k") == CLOSED
    for order in ALL[:-1]:
        with pytest.raises(BadStep, match="Only a closed one"):
            put_back(order)


def test_a_stage_is_begun_once_and_only_while_somebody_is_at_it() -> None:
    begun = stage_begun(IN_HAND, "axle-fluid", "drain", NOW)
    assert stage_begun(begun, "axle-fluid", "drain", NOW + HOUR) == begun
    with pytest.raises(BadStep, match="Start it first"):
        stage_begun(PLANNED, "axle-fluid", "drain", NOW)


@pytest.mark.parametrize(
    "make",
    [
        lambda: WorkOrder(1, "AN", (), TODAY),
        lambda: WorkOrder(0, "AN", (OrderedService(FLUID),), TODAY),
        lambda: WorkOrder(1, "BE", (OrderedService(FLUID),), TODAY),
        lambda: WorkOrder(1, "AN", (OrderedService(FLUID), OrderedService(FLUID)), TODAY),
        lambda: Filled("rear-axle", "75W-140", Decimal("-1")),
        lambda: Filled("rear-axle", "75W-140", Decimal("2600")),
        lambda: TorqueSet("rear-axle", "cover bolts", Decimal(40), TorqueUnit.NM, Decimal(46), Decimal(34)),
        lambda: TorqueSet("rear-axle", "cover bolts", Decimal("NaN"), TorqueUnit.NM),
        lambda: PartUsed(" "),
        lambda: PartUsed("washer", Decimal(0)),
        lambda: PartUsed("washer", cost=Decimal(-1)),
        lambda: Hands("teo", 0),
        lambda: DialValue(Decimal("-1"), MeterUnit.MI),
        lambda: DialValue(Decimal("1.25"), MeterUnit.MI),
    ],
)
def test_what_no_sheet_holds_is_refused(make: object) -> None:
    with pytest.raises(BadInput):
        make()  # type: ignore[operator]


@settings(deadline=None)
@given(st.lists(st.sampled_from(sorted(STEPS)), max_size=8))
def test_whatever_steps_are_tried_an_order_is_never_closed_twice_nor_leaves_what_it_gave_up(
    steps: list[OrderState],
) -> None:
    order, states = PLANNED, [PLANNED.state]
    for step in steps:
        try:
            order = STEPS[step](order)
        except BadStep:
            continue
        states.append(order.state)
    assert states.count(OrderState.CLOSED) <= 1
    assert states.count(OrderState.ABANDONED) <= 1
    for end in (OrderState.CLOSED, OrderState.ABANDONED):
        if end in states:
            assert states[-1] is end


def test_the_cost_of_a_sheet_is_the_sum_of_what_was_noted() -> None:
    parts = (PartUsed("sealant", cost=Decimal("12.90")), PartUsed("wipes"), PartUsed("fluid", cost=Decimal("31.20")))
    order = closed(IN_HAND, replace(BOTH, parts=parts, hands=(Hands("teo", 140), Hands("ines", 25))), at=NOW, key="k")
    assert order.cost == Decimal("44.10")
    assert order.minutes == 165
    assert order.mechanics == ("teo", "ines")
    assert IN_HAND.cost is None
