"""Closed days: public holidays by country and region, and days of the workshop's own."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from fleetcare.errors import BadFile, BadInput
from fleetcare.settings.days_off import DaysOff
from fleetcare.settings.places import SHIPPED_WORKSHOP, shipped_config
from fleetcare.settings.workshop_file import load_workshop

YEAR = (date(2026, 1, 1), date(2026, 12, 31))


def test_holidays_are_those_of_the_law() -> None:
    # Source: 5 U.S.C. 6103 (federal holidays of the United States), from memory: 1 January, 4 July (in 2026 a Saturday,
    # so that Friday 3 July is given), the fourth Thursday in November, 25 December.
    american = DaysOff("US").between(*YEAR)
    federal = {date(2026, 1, 1), date(2026, 7, 3), date(2026, 11, 26), date(2026, 12, 25)}
    assert federal <= set(american)
    # Source: Bavarian law on Sundays and holidays (FTG), article 1, from memory: Epiphany and Corpus Christi are
    # holidays in Bavaria; in Hamburg they are none. Easter Sunday 2026 is 5 April, so Corpus Christi is 4 June.
    bavaria, hamburg = DaysOff("DE", "BY").between(*YEAR), DaysOff("DE", "HH").between(*YEAR)
    assert {date(2026, 1, 6), date(2026, 6, 4)} <= set(bavaria)
    assert not {date(2026, 1, 6), date(2026, 6, 4)} & set(hamburg)
    assert date(2026, 10, 3) in hamburg


def test_a_workshop_closes_on_days_of_its_own_and_opens_on_some_holidays() -> None:
    own = DaysOff("DE", "BY", ((date(2026, 12, 24), "inventory"),), (date(2026, 6, 4),))
    found = own.between(*YEAR)
    assert found[date(2026, 12, 24)] == "inventory"
    assert date(2026, 6, 4) not in found
    assert own.between(date(2026, 12, 24), date(2026, 12, 24)) == {date(2026, 12, 24): "inventory"}
    assert DaysOff().between(*YEAR) == {}


@pytest.mark.parametrize(("country", "region"), [("XX", ""), ("DE", "ZZ"), ("", "BY")])
def test_a_country_that_is_not_known_is_refused(country: str, region: str) -> None:
    with pytest.raises(BadInput) as bad:
        DaysOff(country, region)
    assert bad.value.remedy


def workshop(tmp_path: Path, text: str) -> DaysOff:
    own = tmp_path / "workshop.toml"
    own.write_text(text, encoding="utf-8")
    return load_workshop(shipped_config() / SHIPPED_WORKSHOP, own).days_off


def test_the_file_says_which(tmp_path: Path) -> None:
    text = '[closed]\ncountry = "de"\nregion = "by"\nalso = { 2026-12-24 = "inventory" }\nopen_on = [2026-06-04]\n'
    inventory = (date(2026, 12, 24), "inventory")
    assert workshop(tmp_path, text) == DaysOff("DE", "BY", (inventory,), (date(2026, 6, 4),))


@pytest.mark.parametrize(
    "text",
    [
        '[closed]\ncountry = "Atlantis"\n',
        "[closed]\ncountry = 3\n",
        "[closed]\nalso = [1]\n",
        '[closed]\nalso = { Christmas = "x" }\n',
        "[closed]\nopen_on = [3]\n",
        "[closed]\nland = 1\n",
        "closed = true\n",
    ],
)
def test_what_cannot_be_is_said_with_its_line(tmp_path: Path, text: str) -> None:
    with pytest.raises(BadFile) as bad:
        workshop(tmp_path, text)
    assert bad.value.faults[0].file == "workshop.toml"
