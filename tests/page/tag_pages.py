"""Tags of the invented garage as pages that change them: with values, for a stranger, a value not taken, none."""

from __future__ import annotations

from dataclasses import replace

from fleetcare.fleet.component import Component, TagFact
from fleetcare.page.cards.changed import Changed
from fleetcare.page.cards.tag_page import TagPageCard, TriedValue, tag_page_card
from fleetcare.page.render import Pages
from tests.page.karst_ridge import ANVIL, GARAGE, INES, TODAY

AXLE = Component(
    "rear-axle", "rear axle", "Rear axle", fluid_grade="75W-140 GL-5",
    facts=(TagFact("ratio", "4.10", "stamped"), TagFact("cover bolts", "40 N·m"), TagFact("vent", "", "unknown")),
)  # fmt: skip
BARE = Component("brakes", "brakes", "Brakes")
WRITTEN = Changed("Anvil, tag of rear-axle: ratio: 4.10, as stamped.", still="No date moved by it.")


def card(*, may: bool = True, said: str = "", tried: TriedValue | None = None, none: bool = False) -> TagPageCard:
    """Anvil's page."""
    return tag_page_card(
        garage=GARAGE,
        reader=INES if may else None,
        today=TODAY,
        vehicle=replace(ANVIL, components=() if none else (AXLE, BARE)),
        may_write=may,
        can_enter=may,
        done=Changed("Anvil, tag of rear-axle: ratio: 4.10, as stamped.", still="No date moved by it.")
        if said
        else None,
        said=said,
        tried=tried,
    )


def tag_pages(made: Pages) -> dict[str, str]:
    """The pages by a short name."""
    wrong = TriedValue(AXLE.key, "ratio", "four", "stamped", "That is no ratio.", True)
    return {
        "tags": made.tags(card(said="Written down. That is more than such an axle takes."), "s3al"),
        "tags-stranger": made.tags(card(may=False)),
        "tags-problem": made.tags(card(tried=wrong), "s3al"),
        "tags-none": made.tags(card(none=True), "s3al"),
    }
