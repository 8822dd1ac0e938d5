"""A sheet handed in counts the shelf down by what really went in, once, and putting it back puts it there again."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from fleetcare.actions.go_shopping import put_on_shelf, shelf_of, take_off_shelf
from fleetcare.actions.hand_in_sheet import Filling, hand_in
from fleetcare.actions.order_work import Opening, open_order
from fleetcare.actions.put_back_sheet import put_back_sheet
from fleetcare.book.shopping import ShelfItem
from fleetcare.errors import NotFound
from fleetcare.settings.finding_files import load_findings
from fleetcare.settings.places import shipped_config
from fleetcare.work.order import Filled, PartUsed
from tests.actions.garages import BASE_URL, DEMO_NOW, SHOP, Stage, demo

BOOK = load_findings(shipped_config() / "findings.toml")
FILLING = Filling(
    end=Decimal(113040),
    fills=(Filled("rear-axle", "Axle fluid", Decimal("2.6")),),
    parts=(PartUsed("Lint-free wipes", Decimal(9)), PartUsed("Copper ring")),
)


def stage_with(*items: ShelfItem) -> tuple[Stage, int]:
    """The demo garage with these things on the shelf and an open sheet for Anvil's rear axle."""
    stage = demo()
    for item in items:
        put_on_shelf(stage.store, item.what, item.amount, now=DEMO_NOW, who="ines", unit=item.unit, pack=item.pack)
    given = Opening("Anvil", ("rear-axle-fluid",))
    return stage, open_order(stage.store, stage.rules, given, now=DEMO_NOW, who="ines", base_url=BASE_URL).number


def handed(stage: Stage, sheet: int, given: Filling = FILLING) -> None:
    hand_in(stage.store, stage.rules, BOOK, sheet, given, now=DEMO_NOW, who="teo", base_url=BASE_URL)


def amount(stage: Stage, name: str) -> Decimal:
    return next(item.amount for item in shelf_of(stage.store) if item.key == name)


def test_what_went_in_leaves_the_shelf_by_its_grade_and_its_name() -> None:
    stage, sheet = stage_with(
        ShelfItem("75W-140 GL-5", Decimal("3.786"), "L"), ShelfItem("Lint-free wipes", Decimal(40))
    )
    handed(stage, sheet)
    assert amount(stage, "75w-140 gl-5") == Decimal("1.186")
    assert amount(stage, "lint-free wipes") == Decimal(31)
    with stage.store.read() as view:
        assert {entry.what for entry in view.log("shelf", 2)} == {"75W-140 GL-5", "Lint-free wipes"}


def test_the_same_sheet_handed_in_twice_counts_once() -> None:
    stage, sheet = stage_with(ShelfItem("75W-140 GL-5", Decimal(5), "L"))
    handed(stage, sheet)
    handed(stage, sheet)
    assert amount(stage, "75w-140 gl-5") == Decimal("2.4")


@pytest.mark.parametrize("there", ["5", "1.9", "0"])
def test_put_back_it_lies_there_again_and_never_more_than_before(there: str) -> None:
    stage, sheet = stage_with(ShelfItem("75W-140 GL-5", Decimal(there), "L"))
    before = shelf_of(stage.store)
    handed(stage, sheet)
    assert amount(stage, "75w-140 gl-5") == max(Decimal(0), Decimal(there) - Decimal("2.6"))
    put_back_sheet(stage.store, stage.rules, sheet, now=DEMO_NOW, who="teo", shop=SHOP)
    assert shelf_of(stage.store) == before
    handed(stage, sheet, replace(FILLING, fills=()))
    assert amount(stage, "75w-140 gl-5") == Decimal(there)


def test_what_was_taken_off_for_good_stays_away() -> None:
    stage, sheet = stage_with(ShelfItem("75W-140 GL-5", Decimal(5), "L"))
    handed(stage, sheet)
    take_off_shelf(stage.store, "75W-140 GL-5", now=DEMO_NOW, who="ines")
    put_back_sheet(stage.store, stage.rules, sheet, now=DEMO_NOW, who="teo", shop=SHOP)
    assert all(item.key != "75w-140 gl-5" for item in shelf_of(stage.store))
    with pytest.raises(NotFound):
        take_off_shelf(stage.store, "75W-140 GL-5", now=DEMO_NOW, who="ines")
