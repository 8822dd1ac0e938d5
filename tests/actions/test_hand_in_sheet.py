"""A sheet handed in restarts the right lines from the measured value, once, and can be put back for a while."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from fleetcare.actions.close_work import close_work
from fleetcare.actions.hand_in_sheet import Filling, HandedIn, hand_in, look_over
from fleetcare.actions.order_work import (
    Opening,
    abandon_order,
    begin_stage,
    defer_order,
    leave_standing,
    open_order,
    start_order,
)
from fleetcare.actions.put_back_sheet import put_back_sheet
from fleetcare.actions.record_reading import Given, record_reading
from fleetcare.actions.settle_finding import settle_finding
from fleetcare.due.outlook import DueWindow
from fleetcare.errors import BadFinding, BadInput, BadStep, FleetcareError, NotFound
from fleetcare.fleet.component import LineKey
from fleetcare.meter.reading import Door
from fleetcare.quantities import DistanceUnit, TorqueUnit
from fleetcare.settings.finding_files import load_findings
from fleetcare.settings.places import shipped_config
from fleetcare.work.findings import Follow, FollowKind
from fleetcare.work.found import Seen
from fleetcare.work.order import Filled, OrderState, TorqueSet
from fleetcare.work.record import Finding
from tests.actions.garages import BASE_URL, DEMO_NOW, SHOP, BreakingStore, Broken, Stage, demo
from tests.stand_ins import MemoryStore
from tests.web.stored import everything

BOOK = load_findings(shipped_config() / "findings.toml")
TODAY = date(2026, 4, 14)
FLUID = LineKey("AN", "rear-axle", "rear-axle-fluid")
VENTS = LineKey("AN", "rear-axle", "axle-vents")
BY: dict[str, Any] = {"now": DEMO_NOW, "who": "teo", "base_url": BASE_URL}
BACK: dict[str, Any] = {"now": DEMO_NOW, "who": "teo", "shop": SHOP}
FLAKES = Seen("rear-axle", "magnet", "flakes")


def opened(stage: Stage, *services: str) -> int:
    given = Opening("Anvil", services or ("rear-axle-fluid", "axle-vents"), mechanics=("Teo", "ines"))
    return open_order(stage.store, stage.rules, given, now=DEMO_NOW, who="ines", base_url=BASE_URL).number


def handed(stage: Stage, sheet: int, given: Filling) -> HandedIn:
    return hand_in(stage.store, stage.rules, BOOK, sheet, given, **BY)


def windows(stage: Stage) -> dict[LineKey, object]:
    with stage.store.read() as view:
        return dict(view.windows(("AN",)))


def facts(stage: Stage) -> object:
    with stage.store.read() as view:
        return (view.work(("AN",)), view.events(("AN",)), view.found(), view.windows(("AN",)), view.vehicles(("AN",)))


def test_a_sheet_is_opened_with_the_next_number_and_each_service_stands_on_one_open_sheet() -> None:
    stage = demo()
    first = opened(stage, "rear axle fluid")
    assert opened(stage, "axle vents") == first + 1
    with pytest.raises(BadStep, match=f"stands on sheet {first:04d} already"):
        opened(stage, "rear axle fluid")
    abandon_order(stage.store, stage.rules, first, reason="wrong axle", now=DEMO_NOW, who="ines", shop=SHOP)
    assert opened(stage, "rear axle fluid") == first + 2
    with pytest.raises(NotFound, match="service on Anvil"):
        opened(stage, "wings")
    with stage.store.read() as view:
        told = [(entry.before, entry.after) for entry in view.log("sheet 0001")]
        assert told == [("planned", "abandoned (wrong axle)"), ("", "planned: Anvil, Rear axle fluid, cover reseal")]
        assert next(order.mechanics for order in view.orders()) == ("teo", "ines")


def test_handing_in_restarts_what_was_done_from_the_measured_value_and_leaves_the_rest() -> None:
    stage = demo()
    sheet = opened(stage)
    before = windows(stage)
    start_order(stage.store, stage.rules, sheet, now=DEMO_NOW, who="teo", shop=SHOP, at=Decimal(113_050))
    given = Filling(
        done=("rear axle fluid",),
        left={"axle vents": "no hose"},
        end=Decimal(113_051),
        fills=(Filled("rear-axle", "75W-140 GL-5", Decimal("2.6"), Decimal("2.5")),),
        torques=(TorqueSet("rear-axle", "cover bolts", Decimal(40), TorqueUnit.NM),),
        hands={"Teo": 140, "ines": 25},
        signed_by="Teo Lindqvist",
    )
    came = handed(stage, sheet, given)
    assert (came.known, came.order.state) == (False, OrderState.CLOSED)
    assert came.order.torques[0].low == 34, "the range of the tag stands beside the torque that was reached"
    after = windows(stage)
    assert after[FLUID] != before[FLUID]
    assert after[VENTS] == before[VENTS]
    # Second method: the same work noted as a bare record, and the dial read by itself.
    other = demo()
    record_reading(
        other.store, other.rules, Given("AN", Decimal(113_051), "teo", Door.COMMAND), now=DEMO_NOW, base_url=BASE_URL
    )
    close_work(other.store, other.rules, vehicle_name="AN", service="rear-axle-fluid", at=Decimal(113_051), **BY)
    assert after[FLUID] == windows(other)[FLUID]
    with stage.store.read() as view:
        record = next(w for w in view.work(("AN",)) if w.line == FLUID and w.on == TODAY)
        assert (record.at, record.by, record.note) == (Decimal(113_051), "teo", f"sheet {sheet:04d}")


def test_what_the_dial_showed_at_the_end_is_a_reading_until_the_sheet_is_put_back() -> None:
    stage = demo()
    sheet, same_day = opened(stage, "rear-axle-fluid"), opened(stage, "axle-vents")

    def states() -> list[str]:
        with stage.store.read() as view:
            return [f"{r.value} {r.state.value}" for r in view.readings(("AN",)) if r.on == TODAY and "sheet" in r.note]

    before = facts(stage)
    handed(stage, sheet, Filling(end=Decimal(113_051)))
    assert states() == ["113051 used"]
    put_back_sheet(stage.store, stage.rules, sheet, **BACK)
    assert states() == ["113051 taken back"]
    assert facts(stage) == before
    handed(stage, sheet, Filling(end=Decimal(113_051)))
    handed(stage, same_day, Filling(end=Decimal(113_051)))
    assert states() == ["113051 used"], "two sheets of one moment are one reading"
    put_back_sheet(stage.store, stage.rules, sheet, **BACK)
    assert states() == ["113051 used"], "the other sheet says it still"


def test_the_same_sheet_handed_in_twice_counts_once_and_another_is_refused() -> None:
    stage = demo()
    sheet = opened(stage)
    given = Filling(end=Decimal(113_051), seen=(FLAKES,), key="form-1")
    handed(stage, sheet, given)
    once, log = facts(stage), everything(stage.store)
    assert handed(stage, sheet, given).known
    assert handed(stage, sheet, replace(given, note="sent again by a phone that was not sure")).known
    assert facts(stage) == once
    assert everything(stage.store) == log
    with pytest.raises(BadStep, match="handed in already"):
        handed(stage, sheet, replace(given, key="form-2"))
    plain = demo()
    number = opened(plain)
    handed(plain, number, replace(given, key=""))
    assert handed(plain, number, replace(given, key="")).known


def test_what_follows_is_shown_before_it_is_saved_and_nothing_is_saved_by_looking() -> None:
    stage = demo()
    sheet = opened(stage)
    before = everything(stage.store)
    seen = look_over(stage.store, stage.rules, BOOK, sheet, Filling(seen=(FLAKES,)), now=DEMO_NOW, who="teo")
    assert seen.judged[0].by_book.kind is FollowKind.LOOK_AGAIN
    assert seen.settled is None
    assert everything(stage.store) == before
    much = Filling(fills=(Filled("rear-axle", "75W-140", Decimal("4.1")),))
    told = look_over(stage.store, stage.rules, BOOK, sheet, much, now=DEMO_NOW, who="teo")
    assert told.remarks == (
        "Rear axle, limited slip: 4.1 L went in, more than the 2.6 L of its tag. Look at the level again.",
    )


def test_a_finding_becomes_a_line_and_is_settled_when_somebody_looked() -> None:
    stage = demo()
    sheet = opened(stage)
    handed(stage, sheet, Filling(end=Decimal(113_051), seen=(FLAKES, Seen("rear-axle", "vent", "free"))))
    look = LineKey("AN", "rear-axle", f"look-{sheet:04d}-1")
    assert isinstance(windows(stage)[look], DueWindow)
    assert LineKey("AN", "rear-axle", f"look-{sheet:04d}-2") not in windows(stage), "a free vent asks nothing"
    later = DEMO_NOW + timedelta(days=3)
    again = open_order(
        stage.store, stage.rules, Opening("Anvil", (look.service,)), now=later, who="ines", base_url=BASE_URL
    )
    paste = Filling(end=Decimal(113_100), seen=(Seen("rear-axle", "magnet", "paste"),))
    hand_in(stage.store, stage.rules, BOOK, again.number, paste, now=later, who="teo", base_url=BASE_URL)
    assert look not in windows(stage)
    with stage.store.read() as view:
        flakes = view.found()[0]
        assert (flakes.settled_on, flakes.settled_by) == (TODAY + timedelta(days=3), "teo")
        assert all(record.line != look for record in view.work(("AN",)))
    back, _ = put_back_sheet(stage.store, stage.rules, again.number, now=later, who="teo", shop=SHOP)
    assert back.state is OrderState.PLANNED
    assert look in windows(stage)


def test_a_look_may_be_settled_by_a_word_or_by_done_and_wants_a_word() -> None:
    stage = demo()
    sheet = opened(stage)
    handed(stage, sheet, Filling(seen=(FLAKES, Seen("rear-axle", "seal-pinion", "damp"))))
    with pytest.raises(BadFinding, match="Say it in a few words"):
        settle_finding(stage.store, stage.rules, sheet, 1, note=" ", **BY)
    found, _ = settle_finding(stage.store, stage.rules, sheet, 1, note="clean at the second drain", **BY)
    assert settle_finding(stage.store, stage.rules, sheet, 1, note="again", **BY)[0] == found
    with pytest.raises(NotFound, match=f"{sheet:04d}-2"):
        settle_finding(stage.store, stage.rules, sheet, 9, note="x", **BY)
    done = close_work(
        stage.store,
        stage.rules,
        vehicle_name="AN",
        service=f"look-{sheet:04d}-2",
        findings=(Finding("dry now"),),
        **BY,
    )
    assert done.known is False
    with stage.store.read() as view:
        assert view.found()[1].settled_note == "dry now"
    assert not [line for line in windows(stage) if line.service.startswith("look-")]


def test_what_was_handed_in_is_put_back_to_the_byte_of_every_fact_but_the_log() -> None:
    stage = demo()
    sheet = opened(stage)
    before = facts(stage)
    given = Filling(end=Decimal(113_051), seen=(FLAKES,), note="as planned")
    handed(stage, sheet, given)
    assert facts(stage) != before
    put_back_sheet(stage.store, stage.rules, sheet, **BACK)
    assert facts(stage) == before
    with pytest.raises(BadStep, match="Only a closed one"):
        put_back_sheet(stage.store, stage.rules, sheet, **BACK)
    handed(stage, sheet, given)
    assert facts(stage) != before


def test_a_record_that_stood_there_before_the_sheet_stays_when_it_is_put_back() -> None:
    stage = demo()
    sheet = opened(stage, "rear axle fluid")
    close_work(stage.store, stage.rules, vehicle_name="AN", service="rear-axle-fluid", at=Decimal(113_051), **BY)
    before = facts(stage)
    handed(stage, sheet, Filling(end=Decimal(113_051)))
    put_back_sheet(stage.store, stage.rules, sheet, **BACK)
    assert facts(stage) == before


def test_a_sheet_stays_once_something_builds_on_it() -> None:
    stage = demo()
    sheet = opened(stage)
    handed(stage, sheet, Filling(end=Decimal(113_051), seen=(FLAKES,)))
    later = DEMO_NOW + timedelta(days=2)
    for_look = open_order(
        stage.store, stage.rules, Opening("AN", (f"look-{sheet:04d}-1",)), now=later, who="ines", base_url=BASE_URL
    )
    with pytest.raises(BadStep, match=f"sheet {for_look.sheet} looks again"):
        put_back_sheet(stage.store, stage.rules, sheet, **BACK)
    settle_finding(stage.store, stage.rules, sheet, 1, note="clean", **BY)
    with pytest.raises(BadStep, match="was settled on 2026-04-14"):
        put_back_sheet(stage.store, stage.rules, sheet, **BACK)
    other = demo()
    number = opened(other, "rear axle fluid")
    handed(other, number, Filling(end=Decimal(113_051)))
    again: dict[str, Any] = {**BY, "now": later}
    close_work(other.store, other.rules, vehicle_name="AN", service="rear-axle-fluid", at=Decimal(113_060), **again)
    with pytest.raises(BadStep, match="was done again on 2026-04-16"):
        put_back_sheet(other.store, other.rules, number, **{**BACK, "now": later})


def test_new_gears_begin_a_line_that_runs_them_in() -> None:
    stage = demo()
    sheet = opened(stage)
    handed(stage, sheet, Filling(end=Decimal(113_051), renewed=("rear-axle",)))
    window = windows(stage)[LineKey("AN", "rear-axle", "axle-fluid-new-gears")]
    assert isinstance(window, DueWindow)
    assert window.cause.value == "event"
    with stage.store.read() as view:
        assert [e.component for e in view.events(("AN",)) if e.kind == "gears renewed"] == ["rear-axle"]


# Each of these is refused with a sentence, and nothing is stored.
BAD = {
    "a finding without a place": Filling(seen=(Seen("", "magnet", "flakes"),)),
    "a place that is not there": Filling(seen=(Seen("rear-axle", "pattern", "toe"),)),
    "a component that is not there": Filling(seen=(Seen("third-axle", "magnet", "flakes"),)),
    "a kind that is not there": Filling(seen=(Seen("rear-axle", "noise", "loud"),)),
    "an end below the start": Filling(start=Decimal(113_050), end=Decimal(113_049)),
    "an end far beyond what a vehicle can run": Filling(end=Decimal(913_051)),
    "an end below last month's reading": Filling(end=Decimal(100_000)),
    "a day to come": Filling(on=TODAY + timedelta(days=1)),
    "a service that is not on the sheet": Filling(done=("engine oil",)),
    "a service that nothing is said of": Filling(done=("rear axle fluid",)),
    "a torque out of the range of the tag": Filling(
        torques=(TorqueSet("rear-axle", "cover bolts", Decimal(55), TorqueUnit.NM),)
    ),
    "a torque in the wrong unit": Filling(
        torques=(TorqueSet("rear-axle", "cover bolts", Decimal(40), TorqueUnit.LBF_FT),)
    ),
    "new gears in what is not on the sheet": Filling(renewed=("front-axle",)),
    "a mechanic nobody knows": Filling(hands={"Zed": 10}),
    "another decision without a reason": Filling(
        seen=(replace(FLAKES, otherwise=Follow(FollowKind.LOOK_AGAIN, Decimal(9), DistanceUnit.MI)),)
    ),
}


@pytest.mark.parametrize("what", BAD)
def test_a_bad_sheet_is_refused_and_changes_nothing(what: str) -> None:
    stage = demo()
    sheet = opened(stage)
    before = everything(stage.store)
    with pytest.raises(FleetcareError) as refused:
        handed(stage, sheet, BAD[what])
    assert isinstance(refused.value, BadInput | NotFound)
    assert len(str(refused.value)) > 20
    assert everything(stage.store) == before


def test_a_sheet_there_is_not_is_not_found() -> None:
    stage = demo()
    opened(stage)
    with pytest.raises(NotFound, match="sheet"):
        handed(stage, 999, Filling())
    with pytest.raises(NotFound):
        defer_order(stage.store, stage.rules, 999, until=TODAY, reason="x", now=DEMO_NOW, who="teo", shop=SHOP)


def test_a_standing_sheet_is_told_when_the_next_hand_may_follow() -> None:
    stage = demo()
    sheet = opened(stage)
    start_order(stage.store, stage.rules, sheet, now=DEMO_NOW, who="teo", shop=SHOP, mechanics=("ines",))
    begin_stage(stage.store, stage.rules, sheet, job="axle-fluid", stage="cure", now=DEMO_NOW, who="teo", shop=SHOP)
    stands = leave_standing(
        stage.store,
        stage.rules,
        sheet,
        until=DEMO_NOW + timedelta(hours=24),
        now=DEMO_NOW,
        who="teo",
        shop=SHOP,
    )
    assert (stands.state, stands.stages[0].stage) == (OrderState.STANDING, "cure")
    with pytest.raises(BadStep, match="cannot be finished before"):
        handed(stage, sheet, Filling())
    with pytest.raises(BadInput, match="Anvil"):
        start_order(stage.store, stage.rules, sheet, now=DEMO_NOW, who="teo", shop=SHOP, at=Decimal(1), although="x")
    late = defer_order(
        stage.store,
        stage.rules,
        sheet,
        until=TODAY + timedelta(days=9),
        reason="no sealant",
        now=DEMO_NOW,
        who="teo",
        shop=SHOP,
    )
    assert late.state is OrderState.DEFERRED


def test_a_sheet_whose_handing_in_breaks_off_anywhere_leaves_nothing_behind() -> None:
    stage = demo()
    sheet = opened(stage)
    given = Filling(end=Decimal(113_051), seen=(FLAKES,), renewed=("rear-axle",))
    counting = BreakingStore(_copy_of(stage), breaks_at=0)
    hand_in(counting, stage.rules, BOOK, sheet, given, **BY)
    before = everything(stage.store)
    assert counting.writes > 10
    for breaks_at in range(1, counting.writes + 1):
        with pytest.raises(Broken):
            hand_in(BreakingStore(stage.store, breaks_at), stage.rules, BOOK, sheet, given, **BY)
        assert everything(stage.store) == before, breaks_at


def _copy_of(stage: Stage) -> MemoryStore:
    store = MemoryStore()
    store._memory = stage.store._memory
    return store
