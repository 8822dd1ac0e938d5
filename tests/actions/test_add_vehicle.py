"""A vehicle is put on the road: what is stored, worked out and logged in one write, and what changes nothing."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from fleetcare.actions.add_vehicle import Added, NewVehicle, add_vehicle
from fleetcare.actions.check_promises import check_promises
from fleetcare.actions.receipts import Answer as Receipt
from fleetcare.actions.receipts import Once
from fleetcare.due.outlook import DueWindow
from fleetcare.errors import BadInput, BadReading, Clash, FleetcareError, NotFound
from fleetcare.fleet.vehicle import ODOMETER, Meter, Vehicle, VehicleKind
from fleetcare.meter.reading import Door
from fleetcare.quantities import DistanceUnit, MeterUnit
from fleetcare.work.new_vehicle import Answer, Past, Said, components_of, parts_chosen
from tests.actions.garages import BASE_URL, DEMO_NOW, Stage, demo, log_of
from tests.web.stored import everything

TODAY = date(2026, 4, 14)
OIL = ("engine", "engine-oil")
PADS = ("brakes", "brake-pads")
SAID = Said(
    TODAY,
    Decimal(84210),
    {OIL: Answer(Past.DONE, date(2026, 2, 1), Decimal(82000)), PADS: Answer(Past.DONE, date(2025, 10, 1))},
    "ines",
)


def quarry(stage: Stage, said: Said = SAID) -> NewVehicle:
    parts = parts_chosen(stage.rules.book, VehicleKind.LIGHT_TRUCK, ["engine", "brakes", "tyres"])
    vehicle = Vehicle(
        "QU",
        "Quarry",
        VehicleKind.LIGHT_TRUCK,
        "tow rig",
        DistanceUnit.MI,
        keeper="ines",
        in_service_on=date(2019, 5, 2),
        meters=(Meter(ODOMETER, MeterUnit.MI),),
        components=components_of(parts, said),
    )
    return NewVehicle(vehicle, said, Door.PHONE)


def adds(stage: Stage, given: NewVehicle | None = None) -> Added:
    return add_vehicle(stage.store, stage.rules, given or quarry(stage), now=DEMO_NOW, who="ines", base_url=BASE_URL)


def test_a_vehicle_its_reading_and_its_records_are_stored_and_worked_out_in_one_write() -> None:
    stage = demo()
    came = adds(stage)
    with stage.store.read() as view:
        (stored,), (reading,), work = view.vehicles(("QU",)), view.readings(("QU",)), view.work(("QU",))
        windows = view.windows(("QU",))
    assert stored == came.vehicle
    assert stored.entered_on == TODAY
    assert (reading.value, reading.on, reading.by, reading.door) == (Decimal(84210), TODAY, "ines", Door.PHONE)
    assert {(w.line.service, w.on, w.at) for w in work} == {
        ("engine-oil", date(2026, 2, 1), Decimal(82000)),
        ("brake-pads", date(2025, 10, 1), None),
    }
    assert set(windows) == {each.line.key for each in came.settled.moved}
    assert any(isinstance(window, DueWindow) and window.likely > TODAY for window in windows.values())
    assert log_of(stage.store, "vehicle")[-1].after == "Quarry"
    assert check_promises(stage.store, stage.rules, now=DEMO_NOW).broken == ()


def test_sent_twice_under_one_key_it_is_one_vehicle_and_one_answer() -> None:
    stage = demo()
    once: Once[Added] = Once("key", "body", lambda added: Receipt(200, added.vehicle.name.encode()))
    given = {"now": DEMO_NOW, "who": "ines", "base_url": BASE_URL, "once": once}
    first = add_vehicle(stage.store, stage.rules, quarry(stage), **given)  # type: ignore[call-overload]
    before = everything(stage.store)
    assert add_vehicle(stage.store, stage.rules, quarry(stage), **given) == first  # type: ignore[call-overload]
    assert everything(stage.store) == before


@pytest.mark.parametrize(
    ("changed", "error"),
    [
        ({"mark": "AN"}, Clash),
        ({"name": "anvil"}, Clash),
        ({"name": "AN"}, Clash),
        ({"mark": "q"}, BadInput),
        ({"keeper": "nobody"}, NotFound),
        ({"in_service_on": date(2026, 5, 1)}, BadInput),
        ({"towed_by": ("XX",)}, NotFound),
        ({"meters": (Meter(ODOMETER, MeterUnit.MI, digits=4),)}, BadReading),
        ({"meters": ()}, BadInput),
    ],
)
def test_what_cannot_be_taken_changes_nothing(changed: dict[str, object], error: type[FleetcareError]) -> None:
    stage = demo()
    before = everything(stage.store)
    given = quarry(stage)
    odd = replace(given, vehicle=replace(given.vehicle, **changed))  # type: ignore[arg-type]
    with pytest.raises(error):
        adds(stage, odd)
    assert everything(stage.store) == before


def test_without_a_reading_lines_by_date_have_dates_and_the_others_wait() -> None:
    stage = demo()
    said = replace(SAID, dial=None)
    came = adds(stage, quarry(stage, said))
    assert came.reading is None
    assert any(isinstance(each.after, DueWindow) for each in came.settled.moved)
