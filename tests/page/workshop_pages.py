"""The workshop of the invented garage as pages: as shipped, with values of its own, and each form, one refused."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from fleetcare.bayplan.orders import Order
from fleetcare.page.cards.changed import Changed
from fleetcare.page.cards.typed import Typed
from fleetcare.page.cards.workshop import Shop, workshop_card
from fleetcare.page.cards.workshop_forms import (
    Around,
    closed_form,
    hours_form,
    orders_form,
    prices_form,
    skills_form,
)
from fleetcare.page.render import Pages
from fleetcare.settings.own_workshop import workshop_with
from tests.page.karst_ridge import GARAGE, INES, NOOR, TODAY

OWN = """\
[opening_day]
value = 25.00
[[order]]
first = "axle oil"
then = "hubs"
gap_days = 7
[[setup]]
name = "pit"
minutes = 5
cost = 1.00
"""


def shop(text: str = "") -> Shop:
    """What is in force with these values of the garage's own."""
    there = workshop_with(text)
    return Shop(
        prices=there.prices,
        figures=there.figures,
        hours=there.hours,
        skills={} if not text else {"ines": ("brakes", "whistling"), "noor": ()},
        profile=there.profile,
        country="" if not text else "US",
        region="",
        default=workshop_with("").prices,
        own={"opening_day"} if text else (),
        off={} if not text else {date(2026, 5, 25): "Memorial Day"},
        known_skills=("brakes",),
        names={"ines": INES.name, "noor": NOOR.name},
    )


def workshop_pages(made: Pages) -> dict[str, str]:
    """The pages by a short name."""
    around = Around(GARAGE, INES, TODAY, "5tate")
    no, mine = Typed(), shop(OWN)
    late = Typed((("days.0", "5"), ("from.0", "17:00"), ("until.0", "09:00")), "It would close before.", "until.0")
    gone = Typed(problem="Somebody changed the workshop meanwhile.")
    done = Changed("Opening for a day: 25.00, it was 15.00.", still="Pencilled days are looked at anew by it.")
    orders = (Order("axle oil", "hubs", 7),)
    given = {"garage": GARAGE, "today": TODAY, "can_enter": True}
    return {
        "workshop": made.workshop(workshop_card(shop(), reader=NOOR, may_change=False, **given)),  # type: ignore[arg-type]
        "workshop-own": made.workshop(workshop_card(mine, reader=INES, may_change=True, done=done, **given)),  # type: ignore[arg-type]
        "workshop-hours": made.ask(hours_form(mine, around, no), "s3al"),
        "workshop-hours-problem": made.ask(hours_form(mine, around, late), "s3al"),
        "workshop-closed": made.ask(closed_form(mine, around, {}, no), "s3al"),
        "workshop-skills": made.ask(skills_form(mine, around, (INES, NOOR), no), "s3al"),
        "workshop-prices": made.ask(prices_form(replace(mine, profile="small_shop"), around, no), "s3al"),
        "workshop-prices-gone": made.ask(prices_form(mine, around, gone), "s3al"),
        "workshop-orders": made.ask(orders_form(orders, around, ("axle oil", "hubs"), no), "s3al"),
    }
