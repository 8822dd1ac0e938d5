"""Pages that ask for a vehicle, and what came of it, in the invented garage."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from fleetcare.due.more_services import services_of
from fleetcare.fleet.vehicle import VehicleKind
from fleetcare.page.cards.edit_vehicle import back_card, edit_card, sell_card
from fleetcare.page.cards.fit_part import fit_card
from fleetcare.page.cards.frame import Link
from fleetcare.page.cards.move_part import move_card
from fleetcare.page.cards.new_vehicle import Around, before_saving, done_when, its_dial, its_parts, what_it_is
from fleetcare.page.cards.service_changes import add_service_card, dial_card, drop_service_card
from fleetcare.page.cards.typed import Typed
from fleetcare.page.cards.vehicle_told import moved_lines, vehicle_told_card
from fleetcare.page.render import Pages
from fleetcare.quantities import MeterUnit
from fleetcare.settings.book_files import load_book
from fleetcare.settings.places import SHIPPED_BOOK, shipped_config
from fleetcare.work.new_vehicle import Answer, Past, Said, components_of, parts_chosen, parts_offered
from tests.page.karst_ridge import ANVIL, ANVIL_OUTLOOK, BELLOWS, DUTIES, GARAGE, INES, PLANK, TODAY, vehicle_card

TEO = replace(INES, key="teo", name="Teo Lindqvist")
AROUND = Around(GARAGE, INES, TODAY, (INES, TEO), (ANVIL, BELLOWS, PLANK))
TYPED = Typed(
    (
        ("name", "Quarry"),
        ("kind", "light truck"),
        ("keeper", "ines"),
        ("mark", "QU"),
        ("unit", "mi"),
        ("dial", "84 210"),
        ("part", "engine"),
        ("past.engine.engine-oil", "done"),
    )
)


def asking_pages(made: Pages) -> dict[str, str]:
    """Each step, with a problem where one can be, and the page after the last."""
    book = load_book(shipped_config() / SHIPPED_BOOK, duties=())
    parts = parts_chosen(book, VehicleKind.LIGHT_TRUCK, ["engine", "brakes"])
    said = Said(TODAY, Decimal(84210), {("engine", "engine-oil"): Answer(Past.DONE, TODAY)}, "ines")
    quarry = replace(ANVIL, mark="QU", name="Quarry", in_service_on=TODAY, components=components_of(parts, said))
    odd = replace(TYPED, problem="Done when? Give the day.", problem_field="past.engine.engine-oil")
    moved = [(line, None, line.window) for line in ANVIL_OUTLOOK.lines if line.window]
    dial = {"name": "Quarry", "mark": "QU", "duties": DUTIES}
    change = {
        "garage": GARAGE,
        "today": TODAY,
        "people": (INES, TEO),
        "keepers": (INES, TEO),
        "others": (BELLOWS,),
        "duties": DUTIES,
        "parts": {"towing": 2, "daily": 1},
        "stand": "abc",
    }
    wrong = Typed((("name", ""), ("part_towing", "1")), "The name is empty.", "name")
    gone = replace(ANVIL, out_of_fleet_on=TODAY)
    one = {"garage": GARAGE, "today": TODAY, "stand": "abc"}
    there = replace(ANVIL, components=components_of(parts, said))
    services = services_of(there, book)
    own = Typed((("service", "engine.own"), ("past", "done")), "It would never fall due.", "distance")
    return {
        "service-more": made.ask(
            add_service_card(there, Typed(), services=services, may_add_row=False, **one),  # type: ignore[arg-type]
            "s3al",
        ),
        "service-more-own": made.ask(
            add_service_card(there, own, services=services, may_add_row=True, **one),  # type: ignore[arg-type]
            "s3al",
        ),
        "service-less": made.ask(
            drop_service_card(there, Typed(), services=services, **one),  # type: ignore[arg-type]
            "s3al",
        ),
        "dial-more": made.ask(dial_card(there, Typed(), unread=("odometer",), **one), "s3al"),  # type: ignore[arg-type]
        "vehicle-edit": made.ask(edit_card(ANVIL, Typed(), **change), "s3al"),  # type: ignore[arg-type]
        "vehicle-edit-problem": made.ask(edit_card(PLANK, wrong, **change), "s3al"),  # type: ignore[arg-type]
        "vehicle-sell": made.ask(sell_card(ANVIL, Typed(), garage=GARAGE, today=TODAY, visits=2), "s3al"),
        "vehicle-back": made.ask(back_card(gone, Typed(), garage=GARAGE, today=TODAY), "s3al"),
        "vehicle-move": made.ask(
            move_card(
                ANVIL_OUTLOOK.vehicle,
                Typed((("component", "axles"),), "Choose where it goes.", "to"),
                garage=GARAGE,
                today=TODAY,
                others=(BELLOWS,),
                shelf=[line.component for line in ANVIL_OUTLOOK.lines[:1]],
                stand="abc",
            ),
            "s3al",
        ),
        "vehicle-fit": made.ask(
            fit_card(
                ANVIL_OUTLOOK.vehicle,
                Typed((("part", "battery"), ("age", "used"), ("old", "shelf")), "That day is still to come.", "on"),
                garage=GARAGE,
                today=TODAY,
                offered=parts_offered(book, VehicleKind.LIGHT_TRUCK),
                stand="abc",
            ),
            "s3al",
        ),
        "vehicle-gone": made.vehicle(vehicle_card(replace(ANVIL_OUTLOOK, vehicle=gone), may_lay_up=True)),
        "new-vehicle": made.ask(what_it_is(AROUND, Typed()), "s3al"),
        "new-vehicle-problem": made.ask(
            what_it_is(AROUND, replace(TYPED, problem="The name is empty.", problem_field="name")), "s3al"
        ),
        "new-vehicle-dial": made.ask(its_dial(AROUND, TYPED, kind=VehicleKind.LIGHT_TRUCK, **dial), "s3al"),  # type: ignore[arg-type]
        "new-vehicle-trailer": made.ask(its_dial(AROUND, Typed(), kind=VehicleKind.TRAILER, **dial), "s3al"),  # type: ignore[arg-type]
        "new-vehicle-parts": made.ask(
            its_parts(AROUND, TYPED, name="Quarry", parts=parts_offered(book, VehicleKind.HEAVY_TRUCK)), "s3al"
        ),
        "new-vehicle-when": made.ask(done_when(AROUND, odd, name="Quarry", parts=parts, unit=MeterUnit.MI), "s3al"),
        "new-vehicle-review": made.ask(
            before_saving(
                AROUND, TYPED, vehicle=quarry, said=said, duties={d.key: d for d in DUTIES}, once=("once", "k3y")
            ),
            "s3al",
        ),
        "new-vehicle-made": made.vehicle_told(
            vehicle_told_card(
                garage=GARAGE,
                vehicle=ANVIL,
                today=TODAY,
                heading="Anvil is on the road",
                told=["It stands in the list."],
                changed=["Name: was Hammer, is Anvil."],
                lines_title="Its services",
                lines=moved_lines([ANVIL_OUTLOOK], moved, TODAY),
                links=[Link("To Anvil", "/vehicles/AN", is_main=True)],
            )
        ),
    }
