"""Grades of gear oil: bounds of SAE J306, grades that cannot be, and what old manuals meant."""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise

import pytest

from fleetcare.errors import BadFile
from fleetcare.fleet.component import Component
from fleetcare.fleet.tag_bands import checked_tag
from fleetcare.fleet.vehicle import VehicleKind
from fleetcare.settings.gear_oil_file import load_gear_oils, parse_gear_oils
from fleetcare.settings.places import SHIPPED_GEAR_OILS, shipped_config

FILE = shipped_config() / SHIPPED_GEAR_OILS
OILS = load_gear_oils(FILE)

# SAE J306 (February 2019), typed a second time: mm2/s at 100 C, lower end and upper end of the summer grades.
SUMMER = (
    "65 3.8-5.0; 70 5.0-6.5; 75 6.5-8.5; 80 8.5-11.0; 85 11.0-13.5; 90 13.5-18.5; 110 18.5-24.0; 140 24.0-32.5; "
    "190 32.5-41.0"
)
# And the winter grades: highest temperature for 150,000 cP, lowest viscosity at 100 C.
WINTER = "70W -55 3.8; 75W -40 3.8; 80W -26 8.5; 85W -12 11.0"


def test_the_bounds_are_those_of_the_standard() -> None:
    for part in SUMMER.split("; "):
        name, ends = part.split()
        low, high = ends.split("-")
        assert (OILS.summer[name].at_least, OILS.summer[name].below) == (Decimal(low), Decimal(high))
    assert (OILS.summer["250"].at_least, OILS.summer["250"].below) == (Decimal("41.0"), None)
    assert len(OILS.summer) == len(SUMMER.split("; ")) + 1
    for part in WINTER.split("; "):
        name, cold, least = part.split()
        assert (OILS.winter[name].coldest_c, OILS.winter[name].at_least) == (int(cold), Decimal(least))
    assert len(OILS.winter) == len(WINTER.split("; "))


def test_summer_grades_meet_without_a_gap() -> None:
    for thinner, thicker in pairwise(OILS.summer.values()):
        assert thinner.below == thicker.at_least


@pytest.mark.parametrize(
    "fluid", ["75W-140 GL-5", "75W-90", "80W-90 GL-5", "85W-140", "75W-85", "80W", "", "DOT 4", "as printed"]
)
def test_grades_that_are_sold_are_taken(fluid: str) -> None:
    assert OILS.doubt(fluid) == ""


@pytest.mark.parametrize(
    ("fluid", "said"),
    [
        ("75W-104 GL-5", "104 is no grade of gear oil"),
        ("73W-90", "73W is no winter grade"),
        ("85W-75", "85W-75 cannot be: 85W has at least 11.0 mm²/s at 100 °C, 75 less than 8.5."),
        ("90 GL-5", "so it may be today’s 110"),  # abstract of SAE J306, 2005: 90 ran to 24.0
        ("SAE 140", "so it may be today’s 190"),  # the same: 140 ran to 41.0
    ],
)
def test_an_odd_grade_is_asked_about(fluid: str, said: str) -> None:
    assert said in OILS.doubt(fluid)


def test_a_multigrade_can_be_only_where_its_two_grades_meet() -> None:
    for winter, cold in OILS.winter.items():
        for summer, warm in OILS.summer.items():
            meets = warm.below is None or max(cold.at_least, warm.at_least) < warm.below
            assert (OILS.doubt(f"{winter}-{summer}") == "") == meets


def test_an_odd_grade_on_a_tag_is_a_warning_for_an_axle_and_nothing_for_an_engine() -> None:
    axle = Component("rear-axle", "rear axle", "Rear axle", "75W-104", Decimal("2.6"))
    (doubt,) = checked_tag(axle, VehicleKind.LIGHT_TRUCK, (), OILS)
    assert not doubt.is_fault
    engine = Component("engine", "engine", "Engine", "5W-40", Decimal("5.7"))
    assert checked_tag(engine, VehicleKind.CAR, (), OILS) == ()


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("[winter]\nsource", "[winters]\nsource"),
        ("at_least = 13.5", "at_least = 19.5"),
        ('status = "published, second hand"', 'status = "heard"'),
    ],
)
def test_a_file_with_a_fault_is_refused(old: str, new: str) -> None:
    text = FILE.read_text(encoding="utf-8")
    assert old in text
    with pytest.raises(BadFile):
        parse_gear_oils(text.replace(old, new, 1), "gear_oil.toml")
