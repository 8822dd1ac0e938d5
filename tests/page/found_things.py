"""Pages that find things: something of every kind, nothing, and nothing sought yet."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from fleetcare.due.looked_for import FindingHit, Hits, LineHit, LookedFor
from fleetcare.due.outlook import NoDate
from fleetcare.page.cards.find import find_card
from fleetcare.page.render import Pages
from fleetcare.work.order import OrderedService, WorkOrder
from tests.page.karst_ridge import ANVIL, AXLE_FLUID, BELLOWS, GARAGE, INES, TODAY, VENTS

ORDER = WorkOrder(147, "AN", (OrderedService(AXLE_FLUID.key),), TODAY, title="Rear axle fluid, cover reseal")
EVERYTHING = LookedFor(
    GARAGE,
    TODAY,
    ("axle",),
    vehicles=Hits((ANVIL, replace(BELLOWS, name="Constellation of the Hollow Lake", out_of_fleet_on=TODAY)), True),
    services=Hits((AXLE_FLUID.row, VENTS.row)),
    lines=Hits(
        (
            LineHit(ANVIL, AXLE_FLUID.key, AXLE_FLUID.row, AXLE_FLUID.window),
            LineHit(ANVIL, VENTS.key, VENTS.row, NoDate.NO_READING),
        )
    ),
    sheets=Hits(((ORDER, ANVIL),)),
    findings=Hits(
        (
            FindingHit(ANVIL, date(2026, 4, 2), "Debris on the magnet: flakes", 147, False),
            FindingHit(ANVIL, date(2025, 4, 2), "Cover pitted, " * 12, 0, True),
        )
    ),
    people=Hits((INES, replace(INES, key="marit", name="Marit Solheim"))),
)


def find_pages(made: Pages) -> dict[str, str]:
    """The pages by a short name."""
    nothing = LookedFor(GARAGE, TODAY, ("xylophone",))
    return {
        "find": made.find(find_card(EVERYTHING, typed="axle", reader=INES, can_enter=True)),
        "find-nothing": made.find(find_card(nothing, typed="xylophone", reader=None, can_enter=False)),
        "find-empty": made.find(find_card(replace(nothing, words=()), typed="", reader=INES, can_enter=True)),
    }
