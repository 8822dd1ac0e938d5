"""Plates of components: torques with the middle to aim for, and what nobody knows yet as blanks."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from fleetcare.fleet.component import Component, TagFact
from fleetcare.page.cards.tags import component_tags, tag_values
from fleetcare.page.render import Pages
from tests.page.karst_ridge import ANVIL, outlook, vehicle_card
from tests.page.test_markup import Reader

AXLE = Component(
    "rear-axle",
    "rear axle",
    "Rear axle",
    "75W-140 GL-5",
    Decimal("2.6"),
    (
        TagFact("ratio", "4.10", "stamped"),
        TagFact("cover bolts", "34 to 46 N·m, M8", "manual"),
        TagFact("fill plug", "", "unknown"),
        TagFact("drain plug", "", "unknown"),
        TagFact("vent", "cap on the left tube", "measured"),
    ),
)


def test_a_torque_range_stands_with_its_aim_and_a_single_figure_as_it_is() -> None:
    values = {each.name: each.value for each in tag_values(AXLE)}
    assert values["cover bolts"] == "34 to 46 N·m, M8; aim 40 N·m"
    single = replace(AXLE, facts=(TagFact("cover bolts", "25 N·m"),))
    assert {each.name: each.value for each in tag_values(single)}["cover bolts"] == "25 N·m"


def test_what_nobody_knows_is_a_blank_and_no_value() -> None:
    (tag,) = component_tags(replace(ANVIL, components=(AXLE,)))
    assert tag.blanks == (
        "ring gear",
        "stamped",
        "fill",
        "friction modifier",
        "closure",
        "fill plug",
        "magnet",
        "drain plug",
    )
    assert all(each.value for each in tag.values)
    assert not any(each.name.startswith("fill plug") for each in tag.values)


def test_the_page_says_what_is_still_blank() -> None:
    card = vehicle_card(outlook(replace(ANVIL, components=(AXLE,))))
    text = Reader(Pages().vehicle(card)).text
    assert "Still blank: ring gear, stamped, fill, friction modifier, closure, fill plug, magnet, drain plug" in text
    assert "aim 40 N·m" in text
