"""Where things lie: the home folder, the shipped configuration, the demo garage; and the environment."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

from fleetcare.errors import BadSettings
from fleetcare.language import saying

SETTINGS_FILE = "settings.toml"
OWN_BOOK = Path("config") / "interval_book.toml"
"""Of a home: the rows of the interval book that this garage changes or adds."""

SHIPPED_BOOK = "interval_book.toml"
SHIPPED_DUTIES = "duty_cycles.toml"
SHIPPED_FORECAST = "forecast.toml"
SHIPPED_FEEDS = "calendar_feed.toml"
SHIPPED_FINDINGS = "findings.toml"
SHIPPED_TAG_BANDS = "tag_bands.toml"
SHIPPED_GEAR_OILS = "gear_oil.toml"
SHIPPED_JOBS = "jobs"
OWN_JOBS = "jobs.toml"
SHIPPED_WORKSHOP = "workshop.toml"


def environment() -> dict[str, str]:
    """The environment variables of this process, as they are now."""
    return dict(os.environ)


def home_folder(given: Path | None, environ: Mapping[str, str]) -> Path:
    """The home: `given` (`--home`), else FLEETCARE_HOME, else the user data folder of the platform. Made absolute."""
    if given is not None:
        return given.expanduser().absolute()
    named = environ.get("FLEETCARE_HOME", "").strip()
    if named:
        return Path(named).expanduser().absolute()
    import platformdirs

    return Path(platformdirs.user_data_dir("fleetcare", appauthor=False))


def shipped_config() -> Path:
    """The folder with the shipped interval book, duty cycles and forecast numbers. Raises BadSettings if it is gone."""
    return _shipped("config")


def shipped_demo() -> Path:
    """The folder with the demo garage. Raises BadSettings if it is gone."""
    return _shipped("demo_fleet")


def _shipped(name: str, package: Path | None = None) -> Path:
    """In an installed package `fleetcare/_shipped/NAME`, else NAME beside the package in the source tree."""
    package = package or Path(__file__).resolve().parent.parent
    for folder in (package / "_shipped" / name, package.parent / name):
        if folder.is_dir():
            return folder
    raise BadSettings(
        saying("The folder {name} that is part of fleetcare is missing.", name=name), remedy="Install fleetcare again."
    )
