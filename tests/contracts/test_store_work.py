"""Every store keeps work orders, findings and moves as they were given, and takes back what a sheet made."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleetcare.actions.ports import Store
from fleetcare.errors import BadInput, NotFound
from fleetcare.fleet.component import LineKey
from fleetcare.quantities import DistanceUnit, MeterUnit, TorqueUnit
from fleetcare.work.findings import Follow, FollowKind
from fleetcare.work.found import Found, settled
from fleetcare.work.moves import Carried, Move
from fleetcare.work.order import (
    DialValue,
    Filled,
    Hands,
    OrderedService,
    OrderState,
    PartUsed,
    StageBegun,
    TorqueSet,
    WorkOrder,
)
from tests.contracts import karst_ridge as kr
from tests.contracts.karst_ridge import CHANGE, LINE, MINUTE, NOW, TODAY, settle_in

VENTS = LineKey("AN", "rear-axle", "axle-vents")
NEW = WorkOrder(147, "AN", (OrderedService(LINE),), TODAY)
FULL = WorkOrder(
    number=148,
    mark="AN",
    services=(OrderedService(LINE, True, recorded=True), OrderedService(VENTS, False, "“no hose” 二")),
    opened_on=TODAY,
    state=OrderState.CLOSED,
    title="Rear axle fluid",
    opened_by="ines",
    planned_on=TODAY + timedelta(3),
    bay="bay 1",
    mechanics=("teo", "ines"),
    started_at=NOW,
    stages=(StageBegun("axle-fluid", "drain", NOW), StageBegun("axle-fluid", "cure", NOW + MINUTE)),
    stands_until=NOW + timedelta(days=1),
    until=TODAY + timedelta(9),
    reason="waits for sealant",
    start=DialValue(Decimal("84210.5"), MeterUnit.MI),
    end=DialValue(Decimal("84212"), MeterUnit.MI),
    closed_on=TODAY,
    closed_at=NOW + 3 * MINUTE,
    fills=(Filled("rear-axle", "75W-140 GL-5", Decimal("2.6"), Decimal("2.45")),),
    torques=(
        TorqueSet("rear-axle", "cover bolts", Decimal("40.5"), TorqueUnit.NM, Decimal(34), Decimal(46)),
        TorqueSet("rear-axle", "fill plug", Decimal(31), TorqueUnit.LBF_FT, note="by feel"),
    ),
    parts=(PartUsed("Sealant", Decimal(1), "tube", Decimal("12.90")), PartUsed("Wipes", Decimal(8))),
    hands=(Hands("teo", 140), Hands("ines", 25)),
    note="before\nit began",
    told="old fluid dark",
    signed_by="Teo Lindqvist",
    handed_in="k" * 32,
    photos=("a" * 64,),
    was=OrderState.STANDING,
    events=(("gears renewed", "rear-axle"),),
)
FLAKES = Found(
    mark="AN",
    component="rear-axle",
    kind="magnet",
    grade="flakes",
    words="Debris on the magnet: flakes",
    on=TODAY,
    follow=Follow(FollowKind.LOOK_AGAIN, Decimal("1000"), DistanceUnit.MI, 28, todo="drain again"),
    at=Decimal("84212"),
    meter=MeterUnit.MI,
    by="teo",
    note="three of them",
    decided="new gears",
    photos=("b" * 64,),
    order=148,
    position=1,
)
PADS = replace(
    FLAKES,
    kind="pads",
    grade="near",
    place="front left",
    value=Decimal("4.5"),
    unit="mm",
    low=Decimal("3.0"),
    follow=Follow(FollowKind.SHORTEN, factor=Decimal("0.5")),
    position=2,
)
MOVE = Move(
    TODAY,
    "AN",
    "rear-axle",
    "BE",
    "rear-axle",
    (
        Carried("axle-fluid", date(2024, 2, 29), (("daily", 12000.5), ("towing", 19312.128)), None, False, True),
        Carried("axle-vents", date(2016, 2, 29), None, 12.5, True, False),
    ),
    "swapped whole",
)
ON_ONE_STORE = settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)


def test_an_empty_store_has_no_sheets(store: Store) -> None:
    with store.read() as view:
        assert (view.orders(), view.found(), view.moves(), view.newest_sheet()) == ((), (), (), 0)
        assert view.order(1) is None


def test_work_orders_come_back_whole_by_number_and_the_latest_counts(store: Store) -> None:
    settle_in(store)
    with store.write(CHANGE) as unit:
        unit.put_order(FULL)
        unit.put_order(NEW)
    with store.read() as view:
        assert view.orders() == (NEW, FULL)
        assert view.orders(["BE"]) == ()
        assert view.order(148) == FULL
        assert view.order(10**12) is None
        assert view.newest_sheet() == 148
    begun = replace(NEW, state=OrderState.IN_HAND)
    with store.write(CHANGE) as unit:
        unit.put_order(begun)
        assert unit.order(147) == begun
    with store.read() as view:
        assert view.orders() == (begun, FULL)


def test_an_order_of_a_vehicle_that_is_not_here_is_refused(store: Store) -> None:
    settle_in(store)
    ghost = WorkOrder(1, "ZZ", (OrderedService(LineKey("ZZ", "rear-axle", "axle-fluid")),), TODAY)
    with pytest.raises(NotFound), store.write(CHANGE) as unit:
        unit.put_order(ghost)
    with store.read() as view:
        assert view.orders() == ()


def test_findings_come_back_whole_and_only_how_they_were_settled_changes(store: Store) -> None:
    settle_in(store)
    with store.write(CHANGE) as unit:
        unit.put_order(FULL)
        assert unit.add_found((PADS, FLAKES)) == 2
        assert unit.add_found((FLAKES,)) == 0
    with store.read() as view:
        assert view.found() == (FLAKES, PADS)
        assert view.found(["BE"]) == ()
    looked = settled(FLAKES, on=TODAY + timedelta(5), by="ines", note="clean")
    with store.write(CHANGE) as unit:
        unit.settle_found(replace(looked, words="something else"))
    with store.read() as view:
        assert view.found() == (looked, PADS)
    with pytest.raises(NotFound), store.write(CHANGE) as unit:
        unit.settle_found(replace(looked, position=9))
    with pytest.raises(NotFound), store.write(CHANGE) as unit:
        unit.add_found((replace(FLAKES, order=999),))


def test_what_a_sheet_made_can_be_taken_back(store: Store) -> None:
    settle_in(store)
    with store.write(CHANGE) as unit:
        unit.put_order(FULL)
        unit.add_found((FLAKES, PADS))
        unit.add_work((kr.work(), kr.work(on=TODAY - timedelta(1))))
        unit.add_events((kr.event(), kr.event("gears renewed", component="rear-axle")))
    with store.read() as view:
        first, second = view.work()
    with store.write(CHANGE) as unit:
        assert unit.drop_found(148) == 2
        assert unit.take_back_work([second.id or 0, 999]) == 1
        assert unit.take_back_events([kr.event("gears renewed", component="rear-axle")]) == 1
    with store.read() as view:
        assert view.found() == ()
        assert view.work() == (first,)
        assert view.events() == (kr.event(),)
    with store.write(CHANGE) as unit:
        assert unit.add_work((kr.work(),)) == 1
    with store.read() as view:
        assert [replace(each, id=None) for each in view.work()] == [kr.work(on=TODAY - timedelta(1)), kr.work()]


def test_moves_come_back_whole_by_day_and_two_to_one_place_on_a_day_are_refused(store: Store) -> None:
    settle_in(store)
    earlier = replace(MOVE, on=TODAY - timedelta(400), carried=())
    with store.write(CHANGE) as unit:
        unit.put_move(MOVE)
        unit.put_move(earlier)
    with pytest.raises(BadInput), store.write(CHANGE) as unit:
        unit.put_move(replace(MOVE, from_mark="RA"))
    with store.read() as view:
        assert view.moves() == (earlier, MOVE)
        assert view.moves(["AN"]) == (earlier, MOVE)
        assert view.moves(["RA"]) == ()


@ON_ONE_STORE
@given(
    litres=st.decimals(0, 200, places=3),
    value=st.decimals("0.001", 5000, places=3),
    words=kr.text,
    minutes=st.integers(1, 80_000),
)
def test_any_figures_and_words_come_back(
    store: Store, litres: Decimal, value: Decimal, words: str, minutes: int
) -> None:
    with store.read() as view:
        number = view.newest_sheet() + 1
        if not view.vehicles():
            settle_in(store)
    given_ = replace(
        NEW,
        number=number,
        note=words,
        services=(OrderedService(LINE, False, words),),
        fills=(Filled("rear-axle", words, litres),),
        torques=(TorqueSet("rear-axle", "plug", value, TorqueUnit.NM, None, value, words),),
        hands=(Hands("teo", minutes),),
    )
    with store.write(CHANGE) as unit:
        unit.put_order(given_)
    with store.read() as view:
        assert view.order(number) == given_
