"""Figures of a tag outside their plausible band are refused, and the slip that explains them is named."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from fleetcare.errors import BadInput
from fleetcare.fleet.component import Component, TagFact
from fleetcare.fleet.tag_bands import TagBand, checked_tag
from fleetcare.fleet.vehicle import VehicleKind
from fleetcare.settings.places import SHIPPED_TAG_BANDS, shipped_config
from fleetcare.settings.tag_band_file import load_tag_bands

BANDS = load_tag_bands(shipped_config() / SHIPPED_TAG_BANDS)


def doubts(kind: VehicleKind = VehicleKind.LIGHT_TRUCK, litres: str = "2.6", **facts: str) -> list[tuple[str, str]]:
    given = tuple(TagFact(name.replace("_", " "), value) for name, value in facts.items())
    component = Component("rear-axle", "rear axle", "Rear axle", "75W-140", Decimal(litres), given)
    found = checked_tag(component, kind, BANDS)
    assert all(doubt.is_fault for doubt in found)
    return [(doubt.what, doubt.instead) for doubt in found]


def test_pints_taken_as_litres_are_found() -> None:
    ((what, instead),) = doubts(litres="5.5")
    assert "5.5 L is not what a rear axle has (0.3 to 4.5 L)" in what
    assert "5.5 US pt, write 2.6 L" in instead  # 5.5 x 0.473 176 473 = 2.602


def test_millilitres_taken_as_litres_are_found() -> None:
    ((_, instead),) = doubts(litres="2600")
    assert "2600 mL, write 2.6 L" in instead


def test_pound_inches_taken_as_newton_metres_are_found() -> None:
    ((what, instead),) = doubts(cover_bolts="220 to 310 N·m")
    assert "220 to 310 N·m" in what
    assert "lb·in, write 24.9 to 35 N·m" in instead  # x 0.112 984 8


def test_what_is_not_explained_by_a_unit_asks_for_another_look() -> None:
    ((what, instead),) = doubts(ratio="41.0")
    assert "41" in what
    assert "widen that band" in instead


def test_a_heavy_axle_holds_more_than_a_light_one() -> None:
    assert doubts(VehicleKind.HEAVY_TRUCK, litres="14") == []
    assert doubts(VehicleKind.LIGHT_TRUCK, litres="14") != []


def test_nothing_is_said_of_a_tag_that_can_be() -> None:
    assert (
        doubts(ratio="4.10", cover_bolts="34 to 46 N·m", fill_plug="25 to 34 lb·ft", friction_modifier="118 mL") == []
    )


@pytest.mark.parametrize("change", [{"low": Decimal(9)}, {"unit": "pint"}, {"source": ""}])
def test_a_band_that_is_none_is_refused(change: dict[str, object]) -> None:
    band = TagBand("b", ("ratio",), Decimal(2), Decimal(8), "", "somewhere", "from memory")
    with pytest.raises(BadInput):
        replace(band, **change)  # type: ignore[arg-type]
