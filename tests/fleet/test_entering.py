"""How a vehicle comes in: its mark, what no other may be called, the days it can have."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.errors import BadInput, Clash, NotFound
from fleetcare.fleet.entering import (
    checked_mark,
    may_add,
    proposed_mark,
    refuse_mixed_up,
    refuse_odd_days,
    refuse_strangers,
    refuse_taken,
)
from fleetcare.fleet.people import Garage, Person, Role
from fleetcare.fleet.vehicle import Vehicle, VehicleKind
from fleetcare.quantities import DistanceUnit

TODAY = date(2026, 4, 14)
QUARRY = Vehicle("QU", "Quarry", VehicleKind.LIGHT_TRUCK, "tow rig", DistanceUnit.MI)


@given(name=st.text(max_size=40), taken=st.sets(st.from_regex(r"[A-Z0-9]{2}", fullmatch=True), max_size=40))
def test_a_proposed_mark_can_be_one_and_is_nobody_elses(name: str, taken: set[str]) -> None:
    mark = proposed_mark(name, taken)
    assert checked_mark(mark) == mark
    assert mark not in taken


def test_a_mark_is_made_of_the_first_letters_of_the_name() -> None:
    assert proposed_mark("Quarry", ()) == "QU"
    assert proposed_mark("Quarry", {"QU"}) == "QA"
    assert proposed_mark("Q", ()) == "Q2"


@pytest.mark.parametrize("text", ["", "q", "qu", "QUARRIES", "Q U"])
def test_what_is_no_mark_is_refused_at_its_field(text: str) -> None:
    with pytest.raises(BadInput) as told:
        checked_mark(text)
    assert told.value.field == "mark"


def test_neither_name_nor_mark_may_mean_another_vehicle() -> None:
    with pytest.raises(Clash):
        refuse_taken(replace(QUARRY, mark="QX", name="quarry"), (QUARRY,))
    with pytest.raises(Clash):
        refuse_mixed_up(replace(QUARRY, mark="QX", name="QU"), (QUARRY,))
    refuse_taken(QUARRY, (QUARRY,))
    refuse_mixed_up(QUARRY, (QUARRY,))


def test_days_that_cannot_be_are_refused() -> None:
    with pytest.raises(BadInput):
        refuse_odd_days(replace(QUARRY, in_service_on=date(2026, 4, 15)), TODAY)
    with pytest.raises(BadInput):
        refuse_odd_days(replace(QUARRY, in_service_on=TODAY, out_of_fleet_on=date(2026, 4, 13)), TODAY)
    refuse_odd_days(replace(QUARRY, in_service_on=TODAY, out_of_fleet_on=TODAY), TODAY)


def test_whoever_is_not_here_keeps_drives_and_tows_nothing() -> None:
    for odd in (
        replace(QUARRY, keeper="nobody"),
        replace(QUARRY, drivers=("nobody",)),
        replace(QUARRY, towed_by=("X1",)),
    ):
        with pytest.raises(NotFound):
            refuse_strangers(odd, {"ines"}, {"AN"})
    refuse_strangers(replace(QUARRY, keeper="ines", drivers=("ines",), towed_by=("AN",)), {"ines"}, {"AN"})


def test_keepers_add_vehicles_and_onlookers_never() -> None:
    garage = Garage("Karst Ridge Motor Club", "UTC", DistanceUnit.MI, list_keeper="ines")
    assert may_add(Person("ines", "Ines"), garage)
    assert may_add(Person("teo", "Teo", roles=(Role.KEEPER,)), garage)
    assert not may_add(Person("noor", "Noor", roles=(Role.DRIVER, Role.MECHANIC)), garage)
    assert not may_add(Person("ines", "Ines", roles=(Role.ONLOOKER,)), garage)
