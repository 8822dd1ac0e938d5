"""A vehicle is changed by hand: what is stored and logged, which dates move, and what is refused."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import date

import pytest

from fleetcare.actions.check_promises import check_promises
from fleetcare.actions.edit_vehicle import Edited, edit_vehicle
from fleetcare.errors import BadInput, Clash, FleetcareError, NotFound
from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.vehicle import Vehicle, VehicleKind
from fleetcare.fleet.vehicle_changes import SAME, Changes, changed_vehicle, differences, stand_of
from tests.actions.garages import BASE_URL, DEMO_NOW, Stage, demo, log_of
from tests.web.stored import everything


def edits(stage: Stage, changes: Changes, *, vehicle: str = "AN", stand: str = "") -> Edited:
    return edit_vehicle(
        stage.store, stage.rules, changes, vehicle=vehicle, now=DEMO_NOW, who="ines", base_url=BASE_URL, stand=stand
    )


def anvil(stage: Stage) -> Vehicle:
    with stage.store.read() as view:
        return view.vehicles(("AN",))[0]


EVERY = Changes(
    name="Hammer",
    kind=VehicleKind.HEAVY_TRUCK,
    called="recovery truck",
    keeper="teo",
    drivers=("teo", "noor"),
    vin="1M8GDM9AXKP042788",
    in_service_on=date(2013, 1, 2),
    yearly_km=12_345.0,
    usual_split=DutySplit.from_parts({"towing": 1, "track": 3}),
    towed_by=("BE",),
    description="Another one.",
)


@pytest.mark.parametrize("field", [each.name for each in fields(Changes)])
def test_each_field_is_stored_alone_logged_and_said_twice_counts_once(field: str) -> None:
    stage = demo()
    before = anvil(stage)
    only = replace(Changes(), **{field: getattr(EVERY, field)})
    came = edits(stage, only)
    assert anvil(stage) == replace(before, **{field: getattr(EVERY, field)}) != before
    assert [each.field for each in came.changed] == [field]
    assert log_of(stage.store, field.replace("_", " "))[-1].subject == "AN"
    assert check_promises(stage.store, stage.rules, now=DEMO_NOW).broken == ()
    stored = everything(stage.store)
    assert edits(stage, only).changed == ()
    assert everything(stage.store) == stored


def test_what_moves_by_it_is_what_the_windows_say() -> None:
    stage = demo()
    with stage.store.read() as view:
        before = view.windows(("AN",))
    came = edits(stage, Changes(usual_split=EVERY.usual_split))
    with stage.store.read() as view:
        after = view.windows(("AN",))
    moved = {key for key in after if after[key] != before[key]}
    assert moved == {each.line.key for each in came.settled.moved} != set()


def test_what_nobody_wants_to_change_stays() -> None:
    vehicle = anvil(demo())
    assert changed_vehicle(vehicle, Changes()) == vehicle
    assert differences(vehicle, vehicle) == ()
    assert all(getattr(Changes(), each.name) is SAME for each in fields(Changes))


@pytest.mark.parametrize(
    ("changes", "error"),
    [
        (Changes(name="Bellows"), Clash),
        (Changes(name="be"), Clash),
        (Changes(keeper="nobody"), NotFound),
        (Changes(drivers=("nobody",)), NotFound),
        (Changes(towed_by=("AN",)), NotFound),
        (Changes(in_service_on=date(2026, 4, 15)), BadInput),
    ],
)
def test_what_cannot_be_changes_nothing(changes: Changes, error: type[FleetcareError]) -> None:
    stage = demo()
    before = everything(stage.store)
    with pytest.raises(error):
        edits(stage, changes)
    assert everything(stage.store) == before


def test_a_form_of_an_older_state_does_not_undo_what_somebody_else_changed() -> None:
    stage = demo()
    stand = stand_of(anvil(stage))
    edits(stage, Changes(called="recovery truck"))
    with pytest.raises(Clash, match="meanwhile"):
        edits(stage, Changes(name="Hammer"), stand=stand)
    assert edits(stage, Changes(name="Hammer"), stand=stand_of(anvil(stage))).changed
