"""Tags in vehicles.toml: what cannot be is refused with its line, what cannot be read is kept and said."""

from __future__ import annotations

import pytest

from fleetcare.errors import BadFile
from fleetcare.fleet.component import TagFact
from fleetcare.fleet.tag_bands import checked_tag
from fleetcare.intake.garage_files import Incoming, read_texts
from fleetcare.intake.known import KnownNames
from fleetcare.settings.places import SHIPPED_TAG_BANDS, shipped_config
from fleetcare.settings.tag_band_file import load_tag_bands
from fleetcare.settings.toml_text import TomlText
from tests.intake.garage_texts import BOOK, DUTIES, ENTERED_AT, GARAGE, PEOPLE, VEHICLES, ZONES

BANDS = load_tag_bands(shipped_config() / SHIPPED_TAG_BANDS)


def come_in(vehicles: str) -> Incoming:
    return read_texts(
        {"garage.toml": GARAGE, "people.toml": PEOPLE, "vehicles.toml": vehicles},
        known=KnownNames(duties=DUTIES, book=BOOK),
        entered_at=ENTERED_AT,
        read_toml=TomlText,
        tag_doubts=lambda component, kind: checked_tag(component, kind, BANDS),
        zones=ZONES,
    )


def with_fact(fact: str) -> str:
    return VEHICLES.replace("fluid_capacity_l = 2.6\n", f"fluid_capacity_l = 2.6\nfacts = [\n  {fact},\n]\n")


def line_of(text: str, part: str) -> int:
    return next(number for number, line in enumerate(text.splitlines(), start=1) if part in line)


def test_a_torque_upside_down_is_refused_with_its_line() -> None:
    text = with_fact('{ name = "cover bolts", value = "46 to 34 N·m" }')
    with pytest.raises(BadFile) as raised:
        come_in(text)
    (fault,) = raised.value.faults
    assert fault.line == line_of(text, "cover bolts")
    assert "Anvil, rear-axle" in fault.what
    assert "upside down" in fault.what


def test_a_capacity_in_pints_is_refused_with_its_line() -> None:
    text = VEHICLES.replace("fluid_capacity_l = 2.6", "fluid_capacity_l = 5.5")
    with pytest.raises(BadFile) as raised:
        come_in(text)
    (fault,) = raised.value.faults
    assert fault.line == line_of(text, "5.5")
    assert "US pt" in fault.instead


def test_old_words_come_in_as_they_are_with_a_warning() -> None:
    incoming = come_in(with_fact('{ name = "closure", value = "eight bolts and a prayer" }'))
    vehicle = incoming.vehicles[0]
    facts = next(component.facts for component in vehicle.components if component.key == "rear-axle")
    assert facts == (TagFact("closure", "eight bolts and a prayer", "manual"),)
    assert any("cannot be reckoned with" in warning.what for warning in incoming.warnings)
