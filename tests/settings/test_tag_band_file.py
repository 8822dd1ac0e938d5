"""Bands of tag values are read strictly, and a garage's own go first."""

from __future__ import annotations

from pathlib import Path

import pytest

from fleetcare.errors import BadFile
from fleetcare.fleet.vehicle import VehicleKind
from fleetcare.settings.places import SHIPPED_TAG_BANDS, shipped_config
from fleetcare.settings.tag_band_file import load_tag_bands, parse_tag_bands

SHIPPED = shipped_config() / SHIPPED_TAG_BANDS
BAND = """[band.axle-fluid-light]
names = ["capacity"]
components = ["rear axle"]
low = 1
high = 9
unit = "L"
source = "our own axle"
status = "set by this garage"
"""


def test_every_shipped_band_has_a_source_and_a_status() -> None:
    bands = load_tag_bands(SHIPPED)
    assert len(bands) >= 15
    assert all(band.source and band.status for band in bands)


def test_a_garages_own_band_takes_the_place_of_the_shipped_one(tmp_path: Path) -> None:
    own = tmp_path / "tag_bands.toml"
    own.write_text(BAND, encoding="utf-8")
    bands = load_tag_bands(SHIPPED, own)
    found = next(band for band in bands if band.fits("capacity", "rear axle", VehicleKind.CAR))
    assert found.high == 9
    assert sum(band.key == "axle-fluid-light" for band in bands) == 1


@pytest.mark.parametrize(
    ("old", "new", "said", "line"),
    [
        ('source = "our own axle"\n', "", "The key source is missing.", 1),
        ("low = 1", "low = 10", "upside down", 4),
        ('unit = "L"', 'unit = "pint"', "in pint", 6),
        ("names", "name", "There is no key", 2),
        ("band.", "bands.", "There is no table", 1),
    ],
)
def test_a_fault_is_named_with_its_line(old: str, new: str, said: str, line: int) -> None:
    with pytest.raises(BadFile) as raised:
        parse_tag_bands(BAND.replace(old, new), "tag_bands.toml")
    assert any(said in fault.what and fault.line == line for fault in raised.value.faults), raised.value
