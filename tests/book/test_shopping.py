"""The shopping list: everything once, units added up, the shelf taken off and never counted twice."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.book.bench import Need
from fleetcare.book.shopping import ShelfItem, ToBuy, Wanted, drawn_down, shopping_list
from fleetcare.errors import BadInput

MAY, JUNE = date(2026, 5, 9), date(2026, 6, 13)


def want(what: str, amount: str | None, unit: str = "L", *, by: date = MAY, mark: str = "AN", pack: str = "") -> Wanted:
    need = Need(what, None if amount is None else Decimal(amount), unit, Decimal(pack) if pack else None)
    return Wanted(need, mark, "rear axle fluid", by)


def only(wanted: list[Wanted], shelf: list[ShelfItem] | None = None) -> ToBuy:
    (line,) = shopping_list(wanted, shelf or [])
    return line


def test_the_fluid_for_anvils_rear_axle_is_two_bottles_of_what_the_club_buys() -> None:
    """2.6 L in bottles of two US quarts (1.893 L) are two; in bottles of a litre three."""
    fluid = want("Axle fluid, 75W-140 GL-5", "2.6", pack="1")
    assert only([fluid]).packs == 3
    line = only([fluid], [ShelfItem("75W-140 GL-5", Decimal(0), "L", Decimal("1.893"))])
    assert (line.needed, line.buy, line.packs) == (Decimal("2.6"), Decimal("2.6"), 2)


def test_the_same_thing_for_several_vehicles_is_one_line_with_the_first_day() -> None:
    line = only([want("Lint-free wipes", "14", "pieces", by=JUNE), want("Lint-free wipes", "8", "pieces", mark="BE")])
    assert (line.needed, line.by) == (Decimal(22), MAY)
    assert [mark for mark, _ in line.used_for] == ["BE", "AN"]


def test_litres_and_millilitres_are_added_up() -> None:
    line = only(
        [want("Brake fluid", "0.25"), want("brake fluid", "250", "mL")], [ShelfItem("Brake fluid", Decimal(100), "mL")]
    )
    assert (line.needed, line.unit, line.on_shelf, line.buy) == (Decimal("0.5"), "L", Decimal("0.1"), Decimal("0.4"))


def test_an_amount_that_no_tag_knows_stays_unknown() -> None:
    line = only([want("Gearbox fluid", None), want("Gearbox fluid", "5.6")])
    assert (line.needed, line.buy, line.packs) == (None, None, None)


def test_one_bottle_on_the_shelf_is_not_given_away_twice() -> None:
    shelf = [ShelfItem("75W-90", Decimal(2), "L")]
    axle, case = shopping_list([want("Axle fluid, 75W-90", "1.5"), want("Transfer case fluid, 75W-90", "1.5")], shelf)
    assert (axle.on_shelf, axle.buy) == (Decimal(2), Decimal(0))
    assert (case.on_shelf, case.buy) == (Decimal("0.5"), Decimal(1))


def test_a_shelf_in_another_kind_of_unit_does_not_help() -> None:
    assert only([want("Grease", "150", "g")], [ShelfItem("Grease", Decimal(2), "L")]).on_shelf == 0


def test_what_was_used_leaves_the_shelf_and_what_was_not_there_is_said() -> None:
    shelf = (ShelfItem("75W-140 GL-5", Decimal("1.9"), "L"), ShelfItem("Wipes", Decimal(40)))
    after, short = drawn_down(
        shelf, [Need("Axle fluid, 75W-140 GL-5", Decimal("2.6"), "L"), Need("Wipes", None, "pieces")]
    )
    assert [item.amount for item in after] == [Decimal(0), Decimal(40)]
    assert [(need.what, need.amount) for need in short] == [("Axle fluid, 75W-140 GL-5", Decimal("0.7"))]


@pytest.mark.parametrize(("amount", "pack"), [("-1", None), ("NaN", None), ("1", "0"), ("1", "-2")])
def test_what_cannot_lie_on_a_shelf_is_refused(amount: str, pack: str | None) -> None:
    with pytest.raises(BadInput):
        ShelfItem("Oil", Decimal(amount), "L", None if pack is None else Decimal(pack))


amounts = st.decimals(min_value="0", max_value="50", places=2)
units = st.sampled_from(["L", "mL", "pieces", "g", "kg"])
names = st.sampled_from(["Oil, 5W-30", "Oil, 75W-90", "Case oil, 75W-90", "Wipes"])
wants = st.lists(
    st.builds(
        Wanted,
        st.builds(
            Need, names, st.none() | amounts, units, st.none() | st.decimals(min_value="0.5", max_value="5", places=1)
        ),
        st.sampled_from(["AN", "BE"]),
        st.just("s"),
        st.sampled_from([MAY, JUNE]),
    ),
    max_size=10,
)
shelves = st.lists(
    st.builds(ShelfItem, st.sampled_from(["5W-30", "75W-90", "Wipes", "Oil, 5W-30"]), amounts, units),
    max_size=4,
    unique_by=lambda item: item.key,
)


@given(wants, shelves)
def test_bought_and_on_the_shelf_is_what_is_needed(wanted: list[Wanted], shelf: list[ShelfItem]) -> None:
    found = shopping_list(wanted, shelf)
    for line in found:
        assert (line.buy is None) == (line.needed is None)
        if line.buy is not None and line.needed is not None:
            assert line.buy == max(Decimal(0), line.needed - min(line.on_shelf, line.needed))
            assert line.packs is None or line.pack is None or line.packs * line.pack >= line.buy
    assert shopping_list(list(reversed(wanted)), shelf) == found
    for line in shopping_list(wanted, []):
        assert line.on_shelf == 0


@given(wants, shelves)
def test_a_fuller_shelf_never_asks_for_more(wanted: list[Wanted], shelf: list[ShelfItem]) -> None:
    fuller = [ShelfItem(item.what, item.amount + 1, item.unit, item.pack) for item in shelf]
    pairs = zip(shopping_list(wanted, shelf), shopping_list(wanted, fuller), strict=True)
    assert all(one.buy is None or (two.buy or Decimal(0)) <= one.buy for one, two in pairs)
