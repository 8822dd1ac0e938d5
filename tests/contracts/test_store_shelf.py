"""Every store keeps what lies on the shelf as it was given."""

from __future__ import annotations

from decimal import Decimal

import pytest

from fleetcare.actions.ports import Store
from fleetcare.book.shopping import ShelfItem
from fleetcare.errors import BadInput
from tests.contracts.karst_ridge import CHANGE

FLUID = ShelfItem("75W-140 GL-5", Decimal("1.893"), "L", Decimal("1.893"), "two quarts, top shelf “left”")
WIPES = ShelfItem("Lint-free  wipes", Decimal(0))
BIG = ShelfItem("Coolant", Decimal("1E+3"), "L")


def test_what_is_put_on_the_shelf_lies_there_by_name(store: Store) -> None:
    with store.write(CHANGE) as unit:
        assert unit.shelf() == ()
        unit.put_on_shelf([WIPES, FLUID, BIG])
    with store.read() as view:
        assert view.shelf() == (FLUID, BIG, WIPES)
        assert view.version() == 1


def test_an_item_of_the_same_name_takes_its_place_whatever_its_case(store: Store) -> None:
    now = ShelfItem("75w-140  gl-5", Decimal(4), "L")
    with store.write(CHANGE) as unit:
        unit.put_on_shelf([FLUID])
        unit.put_on_shelf([now])
        assert unit.shelf() == (now,)


def test_what_is_taken_off_is_gone(store: Store) -> None:
    with store.write(CHANGE) as unit:
        unit.put_on_shelf([FLUID, WIPES])
    with store.write(CHANGE) as unit:
        assert unit.take_off_shelf([WIPES.key, "nothing"]) == 1
    with store.read() as view:
        assert view.shelf() == (FLUID,)


def test_a_name_that_no_database_takes_is_refused_and_nothing_is_kept(store: Store) -> None:
    with pytest.raises(BadInput), store.write(CHANGE) as unit:
        unit.put_on_shelf([FLUID, ShelfItem("a\0b", Decimal(1))])
    with store.read() as view:
        assert view.shelf() == ()


def test_what_a_sheet_took_is_kept_by_itself_until_it_takes_something_else(store: Store) -> None:
    with store.write(CHANGE) as unit:
        unit.put_drawn(147, {FLUID.key: Decimal("1.893"), "wipes": Decimal(9)})
        unit.put_drawn(148, {"wipes": Decimal(1)})
    with store.write(CHANGE) as unit:
        assert unit.drawn(147) == {FLUID.key: Decimal("1.893"), "wipes": Decimal(9)}
        unit.put_drawn(147, {"wipes": Decimal(2)})
        assert unit.drawn(147) == {"wipes": Decimal(2)}
        unit.put_drawn(147, {})
    with store.read() as view:
        assert view.drawn(147) == {}
        assert view.drawn(148) == {"wipes": Decimal(1)}
