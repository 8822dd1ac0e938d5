"""Work orders, findings and moves go out as orders.toml and come back as they were; what cannot be is named."""

from __future__ import annotations

import unicodedata
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.errors import Fault, NotFound
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.intake.order_files import orders_in
from fleetcare.intake.order_text import orders_as_text
from fleetcare.settings.toml_text import TomlText
from fleetcare.work.found import Found
from fleetcare.work.moves import Move
from fleetcare.work.order import Filled, OrderState, WorkOrder
from tests.contracts.karst_ridge import ANVIL, BELLOWS
from tests.contracts.test_store_work import FLAKES, FULL, MOVE, NEW, PADS

CLOCKED = replace(
    FULL, started_at=datetime(2026, 4, 14, 15, tzinfo=UTC), closed_at=datetime(2026, 4, 14, 16, 0, 1, tzinfo=UTC)
)


def vehicle_of(called: str) -> Vehicle:
    for vehicle in (ANVIL, BELLOWS):
        if called in (vehicle.mark, vehicle.name):
            return vehicle
    raise NotFound("vehicle", called, ["Anvil"])


def read(text: str) -> tuple[tuple[WorkOrder, ...], tuple[Found, ...], tuple[Move, ...], list[Fault]]:
    faults: list[Fault] = []
    orders, found, moves = orders_in([TomlText(text, "orders.toml")], vehicle_of, faults)
    return orders, found, moves, faults


def test_everything_comes_back_as_it_went_out() -> None:
    text = orders_as_text((CLOCKED, NEW), (PADS, FLAKES), (MOVE,))
    assert read(text) == ((NEW, CLOCKED), (FLAKES, PADS), (MOVE,), [])
    assert orders_as_text(*read(text)[:3]) == text
    assert orders_as_text((), (), ()) == ""


printable = st.text(st.characters(categories=["L", "N", "P", "S"], exclude_characters="\ufffe\uffff"), max_size=30)


@settings(deadline=None)
@given(
    words=printable,
    litres=st.decimals(0, 200, places=3),
    state=st.sampled_from([OrderState.PLANNED, OrderState.IN_HAND, OrderState.STANDING]),
    days=st.integers(0, 3000),
)
def test_any_words_and_figures_come_back(words: str, litres: Decimal, state: OrderState, days: int) -> None:
    order = replace(NEW, title=words, bay=words, state=state, note=f"{words}\n{words}" if words else "")
    order = replace(order, fills=(Filled("rear-axle", words, litres),), planned_on=date.fromordinal(730_000 + days))
    back, _, _, faults = read(orders_as_text((order,), (), ()))
    assert faults == []
    # Words come back in Unicode normal form C, as everything typed is kept.
    plain = unicodedata.normalize("NFC", words)
    assert back == (
        replace(
            order,
            title=plain,
            bay=plain,
            note=f"{plain}\n{plain}" if words else "",
            fills=(Filled("rear-axle", plain, litres),),
        ),
    )


GOOD = orders_as_text((NEW,), (), ())


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        (GOOD.replace('vehicle = "AN"', 'vehicle = "ZZ"'), 1, "no vehicle called “ZZ”"),
        (GOOD.replace('state = "planned"', 'state = "lost"'), 4, "state cannot be “lost”"),
        (GOOD.replace("number = 147", "number = 0"), 2, "number is “0”"),
        (GOOD.replace("number = 147", "number = 147\ncolour = 3"), 3, "no key “colour”"),
        (GOOD + GOOD, 9, "two sheets 0147"),
        (GOOD + 'fills = [{ component = "rear-axle", litres = 2600 }]\n', 1, "2600 L cannot be"),
        (GOOD + "started_at = 2026-04-14T09:00:00\n", 1, "has no zone"),
        (GOOD + 'photos = ["../settings.toml"]\n', 1, "no such name"),
        (GOOD + 'note = "a\\u0000b"\n', 1, "control character"),
        (
            orders_as_text((FULL,), (FLAKES,), ()).replace("days = 28, ", "").replace("distance = 1000, ", ""),
            1,
            "needs a distance or days",
        ),
        (orders_as_text((), (), (MOVE,)).replace('to_vehicle = "BE"', 'to_vehicle = "AN"'), 1, "cannot move to where"),
    ],
)
def test_what_cannot_be_is_named_with_its_line(text: str, line: int, said: str) -> None:
    *_, faults = read(text)
    assert len(faults) == 1, faults
    assert said in faults[0].what
    assert faults[0].line == line
