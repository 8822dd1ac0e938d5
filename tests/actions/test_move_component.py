"""A component that moves keeps its history and goes on where it was; what is fitted in its place begins anew."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from fleetcare.actions.check_promises import check_promises
from fleetcare.actions.close_work import close_work
from fleetcare.actions.gather import outlooks_of
from fleetcare.actions.hand_in_sheet import Filling, hand_in
from fleetcare.actions.move_component import Moving, history_of_component, move_component
from fleetcare.actions.note_event import note_event
from fleetcare.actions.order_work import Opening, open_order
from fleetcare.actions.ports import Change
from fleetcare.due.outlook import LineOutlook, NoDate
from fleetcare.errors import BadInput, BadStep, Clash, NotFound
from fleetcare.fleet.booking import UseEvent
from fleetcare.fleet.component import LineKey, LineStart
from fleetcare.fleet.vehicle_changes import stand_of
from fleetcare.settings.finding_files import load_findings
from fleetcare.settings.places import shipped_config
from fleetcare.work.found import Seen
from fleetcare.work.moves import Move, Stay, begun_there, stays_of, where_now
from tests.actions.garages import BASE_URL, DEMO_NOW, Stage, demo
from tests.web.stored import everything

TODAY = date(2026, 4, 14)
BY: dict[str, Any] = {"now": DEMO_NOW, "who": "ines", "base_url": BASE_URL}


def line(stage: Stage, key: LineKey) -> LineOutlook:
    with stage.store.read() as view:
        (outlook,) = outlooks_of(view, stage.rules, TODAY, (key.mark,))
    return next(each for each in outlook.lines if each.key == key)


def moved(stage: Stage, given: Moving) -> tuple[Move, ...]:
    return move_component(stage.store, stage.rules, given, **BY)[0]


def test_an_axle_goes_on_with_the_wear_it_had() -> None:
    stage = demo()
    before = line(stage, LineKey("AN", "rear-axle", "rear-axle-fluid"))
    (move,) = moved(stage, Moving("Anvil", "rear-axle", "Bellows", key="spare-axle"))
    after = line(stage, LineKey("BE", "spare-axle", "rear-axle-fluid"))
    assert move.carried_for("rear-axle-fluid") is not None
    assert before.q_now is not None
    assert after.q_now is not None
    # Anvil's use since its last reading is reckoned, so is what it takes along.
    assert after.q_now == pytest.approx(before.q_now, rel=0.02)
    assert any("when it was on AN" in step.text for step in after.steps)
    with stage.store.read() as view:
        anvil, bellows = view.vehicles(("AN",))[0], view.vehicles(("BE",))[0]
        assert anvil.component("rear-axle") is None
        part = bellows.component("spare-axle")
        assert part is not None
        assert (part.fluid_grade, part.fitted_on) == ("75W-140 GL-5", TODAY)
        assert not [key for key in view.windows(("AN",)) if key.component == "rear-axle"]


def test_its_history_tells_of_both_vehicles_and_its_open_looks_go_along() -> None:
    stage = demo()
    order = open_order(
        stage.store, stage.rules, Opening("AN", ("rear axle fluid",)), now=DEMO_NOW, who="ines", base_url=BASE_URL
    )
    book = load_findings(shipped_config() / "findings.toml")
    given = Filling(end=Decimal(113_051), seen=(Seen("rear-axle", "magnet", "flakes"),))
    hand_in(stage.store, stage.rules, book, order.number, given, **{**BY, "who": "teo"})
    later: dict[str, Any] = {**BY, "now": DEMO_NOW + timedelta(days=2)}
    move_component(stage.store, stage.rules, Moving("AN", "rear-axle", "BE", key="spare-axle"), **later)
    look = LineKey("BE", "spare-axle", f"look-{order.sheet}-1")
    with stage.store.read() as view:
        assert look in view.windows(("BE",))
        told = history_of_component(view, stage.rules.book, view.vehicles(("BE",))[0], "spare-axle")
    words = [(each.mark, each.what) for each in told]
    assert ("AN", "found: Debris on the magnet: slivers or flakes") in words
    assert words[-1] == ("BE", "came to BE")
    assert sum(1 for mark, _ in words if mark == "AN") >= 3
    close_work(stage.store, stage.rules, vehicle_name="BE", service=look.service, **{**later, "who": "teo"})
    with stage.store.read() as view:
        assert look not in view.windows(("BE",))


def test_what_is_fitted_in_its_place_does_not_count_from_work_on_the_old_one() -> None:
    stage = demo()
    with stage.store.read() as view:
        old = view.vehicles(("AN",))[0].component("rear-axle")
    assert old is not None
    moved(stage, Moving("AN", "rear-axle", "BE", key="spare-axle"))
    with stage.store.write(Change("test", "a new axle", DEMO_NOW)) as unit:
        anvil = unit.vehicles(("AN",))[0]
        unit.put_vehicle(replace(anvil, components=(*anvil.components, old)))
    assert line(stage, LineKey("AN", "rear-axle", "rear-axle-fluid")).last_done_on is None


def test_two_axles_change_places_and_back() -> None:
    stage = demo()
    with stage.store.read() as view:
        before = {mark: view.vehicles((mark,))[0].component("rear-axle") for mark in ("AN", "BE")}
    moves = moved(stage, Moving("AN", "rear-axle", "BE", swap=True))
    assert [(m.from_mark, m.to_mark) for m in moves] == [("AN", "BE"), ("BE", "AN")]
    with stage.store.read() as view:
        anvil, bellows = (view.vehicles((mark,))[0].component("rear-axle") for mark in ("AN", "BE"))
    assert anvil is not None
    assert bellows is not None
    assert before["AN"] is not None
    assert before["BE"] is not None
    assert (bellows.facts, anvil.facts) == (before["AN"].facts, before["BE"].facts)
    next_day: dict[str, Any] = {**BY, "now": DEMO_NOW + timedelta(days=1)}
    move_component(stage.store, stage.rules, Moving("AN", "rear-axle", "BE", swap=True), **next_day)
    with stage.store.read() as view:
        assert [stay.mark for stay in stays_of("AN", "rear-axle", view.moves())] == ["AN", "BE", "AN"]


def test_an_axle_that_was_under_water_is_not_forgiven_by_a_move() -> None:
    stage = demo()
    note_event(stage.store, stage.rules, UseEvent("AN", "immersion", TODAY, "rear-axle"), **BY)
    with stage.store.write(Change("test", "a line for it", DEMO_NOW)) as unit:
        anvil = unit.vehicles(("AN",))[0]
        axle = anvil.component("rear-axle")
        assert axle is not None
        wet = replace(axle, lines=(*axle.lines, LineStart("axle-after-immersion")))
        unit.put_vehicle(replace(anvil, components=tuple(wet if c.key == "rear-axle" else c for c in anvil.components)))
    moved(stage, Moving("AN", "rear-axle", "BE", key="spare-axle"))
    due = line(stage, LineKey("BE", "spare-axle", "axle-after-immersion"))
    assert due.window is not None
    assert due.window.likely == TODAY


@pytest.mark.parametrize(
    ("given", "kind", "said"),
    [
        (Moving("AN", "rear-axle", "BE"), BadInput, "Bellows has a component called rear-axle already"),
        (Moving("AN", "third-axle", "BE"), NotFound, "component on Anvil"),
        (Moving("AN", "rear-axle", "AN"), BadInput, "is on Anvil already"),
        (Moving("AN", "rear-axle", "Zed"), NotFound, "vehicle"),
        (Moving("AN", "rear-axle", "BE", TODAY + timedelta(1), key="x"), BadInput, "still to come"),
        (Moving("AN", "rear-axle", "RA", swap=True), NotFound, "component on Raft"),
    ],
)
def test_what_cannot_be_is_refused_and_changes_nothing(given: Moving, kind: type[Exception], said: str) -> None:
    stage = demo()
    before = everything(stage.store)
    with pytest.raises(kind, match=said):
        moved(stage, given)
    assert everything(stage.store) == before


def test_a_component_on_an_open_sheet_stays_until_it_is_handed_in() -> None:
    stage = demo()
    open_order(
        stage.store, stage.rules, Opening("AN", ("rear axle fluid",)), now=DEMO_NOW, who="ines", base_url=BASE_URL
    )
    with pytest.raises(BadStep, match="stands on sheet 0001"):
        moved(stage, Moving("AN", "rear-axle", "BE", key="spare-axle"))


def test_stays_follow_a_component_through_several_vehicles() -> None:
    first, second = date(2025, 3, 1), date(2026, 2, 1)
    moves = (Move(first, "AN", "rear-axle", "BE", "spare"), Move(second, "BE", "spare", "LA", "rear-axle"))
    assert stays_of("LA", "rear-axle", moves) == (
        Stay("AN", "rear-axle", None, first),
        Stay("BE", "spare", first, second),
        Stay("LA", "rear-axle", second, None),
    )
    assert where_now("AN", "rear-axle", date(2025, 1, 1), moves) == ("LA", "rear-axle")
    assert where_now("AN", "rear-axle", date(2025, 6, 1), moves) == ("AN", "rear-axle")
    assert begun_there("AN", "rear-axle", moves) == first
    assert begun_there("BE", "spare", moves) == second


def test_by_way_of_the_shelf_it_arrives_with_what_it_had() -> None:
    straight = demo()
    moved(straight, Moving("AN", "rear-axle", "BE", key="spare-axle"))
    stage = demo()
    (move,) = moved(stage, Moving("AN", "rear-axle", "shelf"))
    assert (move.to_mark, move.to_component) == ("SHELF", "rear-axle")
    with stage.store.read() as view:
        shelf = view.windows(("SHELF",))
    assert set(shelf.values()) == {NoDate.OUT_OF_FLEET}
    moved(stage, Moving("shelf", "rear-axle", "BE", key="spare-axle"))
    for service in ("rear-axle-fluid", "axle-vents"):
        key = LineKey("BE", "spare-axle", service)
        one, other = line(straight, key), line(stage, key)
        assert one.q_now == pytest.approx(other.q_now)
        assert one.window == other.window
    assert check_promises(stage.store, stage.rules, now=DEMO_NOW).broken == ()


def test_two_of_a_kind_lie_on_the_shelf_side_by_side() -> None:
    stage = demo()
    moved(stage, Moving("AN", "rear-axle", "shelf"))
    (second,) = moved(stage, Moving("BE", "rear-axle", "SHELF"))
    assert second.to_component == "rear-axle-2"


def test_what_the_dials_showed_is_a_reading_of_each_and_one_that_cannot_be_changes_nothing() -> None:
    stage = demo()
    moved(stage, Moving("AN", "rear-axle", "BE", key="spare-axle", dial=Decimal(113_000), dial_there=Decimal(84_300)))
    with stage.store.read() as view:
        assert view.readings(("AN",))[-1].value == Decimal(113_000)
        assert view.readings(("BE",))[-1].value == Decimal(84_300)
    stage = demo()
    before = everything(stage.store)
    wrong = Moving("AN", "gearbox", "BE", key="spare", dial=Decimal(1000))
    for odd in (wrong, Moving("AN", "gearbox", "PL", dial_there=Decimal(5))):
        with pytest.raises(BadInput):
            moved(stage, odd)
    assert everything(stage.store) == before


def test_a_move_of_an_older_look_is_refused_so_that_a_swap_sent_twice_swaps_once() -> None:
    stage = demo()
    with stage.store.read() as view:
        stand = stand_of(view.vehicles(("AN",))[0])
    swap = Moving("AN", "rear-axle", "BE", swap=True, stand=stand)
    moved(stage, swap)
    before = everything(stage.store)
    with pytest.raises(Clash):
        moved(stage, swap)
    assert everything(stage.store) == before
