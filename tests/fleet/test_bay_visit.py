"""A visit to the bay is one chain of hands-on and standing time, and anything else is refused with what to do."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.errors import BadInput
from fleetcare.fleet.bay_visit import BayVisit, Stretch, StretchKind, laid_end_to_end, moved_to, next_number
from fleetcare.fleet.component import LineKey

HANDS, STANDS = StretchKind.HANDS_ON, StretchKind.STANDING
NINE = datetime(2026, 4, 25, 15, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)
LINE = LineKey("AN", "rear-axle", "axle-fluid")


def visit(*parts: tuple[StretchKind, timedelta], begins: datetime = NINE, **changes: Any) -> BayVisit:
    given: dict[str, Any] = {"mark": "AN", "number": 1, "lines": (LINE,)}
    stretches = laid_end_to_end(begins, parts or ((HANDS, HOUR),))
    return BayVisit(**({"stretches": stretches} | given | changes))


def test_a_vehicle_is_free_when_the_last_wait_is_over() -> None:
    resealed = visit((HANDS, HOUR), (STANDS, 24 * HOUR), (HANDS, HOUR), (STANDS, 2 * HOUR))
    assert resealed.begins_at == NINE
    assert resealed.free_at == NINE + 28 * HOUR
    assert resealed.hands_on == 2 * HOUR


@pytest.mark.parametrize(
    "changes",
    [
        {"number": 0},
        {"lines": ()},
        {"lines": (LINE, LINE)},
        {"lines": (LINE._replace(mark="BE"),)},
        {"stretches": ()},
        {"stretches": (Stretch(STANDS, NINE, NINE + HOUR),)},
        {"stretches": (Stretch(HANDS, NINE, NINE),)},
        {"stretches": (Stretch(HANDS, NINE + HOUR, NINE),)},
        {"stretches": (Stretch(HANDS, NINE, NINE + timedelta(days=15)),)},
        {"stretches": laid_end_to_end(NINE, [(HANDS, HOUR), (HANDS, HOUR)])},
        {"stretches": (Stretch(HANDS, NINE, NINE + HOUR), Stretch(STANDS, NINE + 2 * HOUR, NINE + 3 * HOUR))},
        {"stretches": laid_end_to_end(NINE, [(HANDS, HOUR), (STANDS, timedelta(days=13))] * 5)},
        {"stretches": laid_end_to_end(NINE, [(HANDS, HOUR), (STANDS, HOUR)] * 11)},
    ],
)
def test_what_cannot_be_is_refused(changes: dict[str, Any]) -> None:
    with pytest.raises(BadInput):
        visit(**changes)


def test_a_time_without_a_zone_is_a_mistake_of_the_program() -> None:
    naive = datetime(2026, 4, 25, 9, 0)  # noqa: DTZ001
    with pytest.raises(ValueError, match="zone"):
        visit(begins=naive)


def test_visits_meet_only_if_they_share_time() -> None:
    first = visit((HANDS, HOUR))
    assert not first.overlaps(visit((HANDS, HOUR), begins=NINE + HOUR))
    assert first.overlaps(visit((HANDS, HOUR), begins=NINE + HOUR - timedelta(minutes=1)))


def test_numbers_are_never_given_twice() -> None:
    assert next_number((), "AN") == 1
    assert next_number((visit(number=4), visit(number=2)), "AN") == 5
    assert next_number((visit(number=4),), "BE") == 1


parts = st.lists(st.integers(1, 5000), min_size=1, max_size=9).map(
    lambda minutes: [((HANDS, STANDS)[at % 2], timedelta(minutes=each)) for at, each in enumerate(minutes)]
)


@given(parts, st.integers(-(10**6), 10**6))
def test_moving_keeps_every_length_and_moving_back_is_as_before(
    chain: list[tuple[StretchKind, timedelta]], minutes: int
) -> None:
    stretches = visit(*chain).stretches
    there = moved_to(stretches, NINE + timedelta(minutes=minutes))
    assert [(each.kind, each.lasts) for each in there] == chain
    assert moved_to(there, NINE) == stretches
