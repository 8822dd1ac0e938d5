"""Duties and the numbers of the forecast come from their files, with the line of whatever is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from fleetcare.errors import BadFile, BadSettings
from fleetcare.settings.duty_files import load_duties, parse_duties
from fleetcare.settings.forecast_file import load_priors, numbers_set_in
from fleetcare.settings.places import SHIPPED_DUTIES, SHIPPED_FORECAST, shipped_config
from fleetcare.usage.priors import Priors


def test_the_shipped_duties_are_read() -> None:
    duties = load_duties(shipped_config() / SHIPPED_DUTIES)
    assert {"daily", "towing", "track"} <= duties.keys()
    assert duties["towing"].severe
    assert not duties["daily"].severe
    assert all(duty.source for duty in duties.values())


def test_a_garages_own_duty_takes_the_place_of_the_shipped_one(tmp_path: Path) -> None:
    own = tmp_path / "duties.toml"
    own.write_text('[duties.salt]\ntitle = "on salt"\nsevere = true\npattern = "waves"\n', encoding="utf-8")
    shipped = shipped_config() / SHIPPED_DUTIES
    assert load_duties(shipped, own).keys() == load_duties(shipped).keys() | {"salt"}
    assert load_duties(shipped, tmp_path / "gone.toml") == load_duties(shipped)


@pytest.mark.parametrize(
    ("text", "line", "instead"),
    [
        ('[duties.a]\ntitle = "a"\npatern = "dots"\n', 3, "Did you mean pattern?"),
        ('[duties.a]\ntitle = "a"\npattern = "dot"\n', 3, "Did you mean dots?"),
        ('[duties.a]\ntitle = "a"\nsevere = "yes"\n', 3, "Write true or false."),
        ("[duties.A]\n", 1, "lower case"),
        ("[duties]\na = 1\n", 2, "[duties.some-key]"),
        ('[duty.a]\ntitle = "a"\n', 1, "Did you mean duties?"),
        ("", 0, "[duties.daily]"),
    ],
)
def test_what_is_wrong_with_a_duty_is_said_on_its_line(text: str, line: int, instead: str) -> None:
    with pytest.raises(BadFile) as caught:
        parse_duties(text, "duties.toml")
    assert caught.value.faults[0].line == line
    assert instead in caught.value.faults[0].instead


def test_the_shipped_numbers_of_the_forecast_are_those_the_code_starts_from() -> None:
    assert load_priors(shipped_config() / SHIPPED_FORECAST) == Priors()


def test_a_garage_changes_only_the_numbers_it_names(tmp_path: Path) -> None:
    own = tmp_path / "forecast.toml"
    own.write_text("[anything]\ntau = 55.5\nseason = [1,1,1,1,1,1,1,1,1,1,1,1]\n", encoding="utf-8")
    priors = load_priors(shipped_config() / SHIPPED_FORECAST, own)
    assert (priors.tau, priors.season, priors.psi) == (55.5, (1.0,) * 12, Priors().psi)


def test_it_is_known_which_numbers_a_garage_set_itself(tmp_path: Path) -> None:
    own = tmp_path / "forecast.toml"
    assert numbers_set_in(own) == frozenset()
    own.write_text("nu = 9.0\n[pace]\ntau = 55.5\n", encoding="utf-8")
    assert numbers_set_in(own) == {"nu", "tau"}
    own.write_text("fitted_words = 'by hand'\n", encoding="utf-8")
    with pytest.raises(BadFile):
        numbers_set_in(own)


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("[pace]\ntau = 1.0\ntua = 2.0\n", 3),
        ("[pace]\ntau = -1.0\n", 2),
        ("[pace]\ntau = 1.0\n[own]\ntau = 2.0\n", 4),
        ("[season]\nseason = [1.0]\n", 2),
    ],
)
def test_what_is_wrong_with_a_number_is_said_on_its_line(tmp_path: Path, text: str, line: int) -> None:
    own = tmp_path / "forecast.toml"
    own.write_text(text, encoding="utf-8")
    with pytest.raises(BadFile) as caught:
        load_priors(shipped_config() / SHIPPED_FORECAST, own)
    (fault,) = caught.value.faults
    assert (fault.file, fault.line) == ("forecast.toml", line)


def test_numbers_that_only_together_cannot_be_are_refused_too(tmp_path: Path) -> None:
    own = tmp_path / "forecast.toml"
    own.write_text("look_likely_days = 29\n", encoding="utf-8")
    shipped = tmp_path / "shipped.toml"
    shipped.write_text("look_late_days = 20\n", encoding="utf-8")
    with pytest.raises(BadSettings):
        load_priors(shipped, own)
