"""The home is where one says it is; what is shipped is found from the package."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from fleetcare.errors import BadSettings
from fleetcare.settings import places


def test_the_home_is_the_given_one_else_the_variable_else_the_platforms(tmp_path: Path) -> None:
    environ = {"FLEETCARE_HOME": str(tmp_path / "named")}
    assert places.home_folder(tmp_path / "given", environ) == tmp_path / "given"
    assert places.home_folder(None, environ) == tmp_path / "named"
    assert places.home_folder(None, {"FLEETCARE_HOME": " "}).name == "fleetcare"
    assert places.home_folder(Path("here"), {}).is_absolute()
    assert places.home_folder(Path("~/garage"), {}) == Path.home() / "garage"


def test_what_is_shipped_is_in_the_package_or_beside_it(tmp_path: Path) -> None:
    assert (places.shipped_config() / places.SHIPPED_BOOK).is_file()
    assert places.shipped_demo().is_dir()
    package = tmp_path / "fleetcare"
    (tmp_path / "config").mkdir()
    package.mkdir()
    assert places._shipped("config", package) == tmp_path / "config"
    (package / "_shipped" / "config").mkdir(parents=True)
    assert places._shipped("config", package) == package / "_shipped" / "config"
    with pytest.raises(BadSettings, match="Install fleetcare again"):
        places._shipped("demo_fleet", package)


def test_the_environment_is_a_copy() -> None:
    environ = places.environment()
    environ["FLEETCARE_HOME"] = "changed"
    assert places.environment().get("FLEETCARE_HOME") != "changed"


def test_finding_the_home_needs_no_pydantic() -> None:
    """Commands that only look for the home start without the half of the start-up time that pydantic costs."""
    code = "import sys, fleetcare.settings.places; print('pydantic' in sys.modules, 'platformdirs' in sys.modules)"
    root = Path(places.__file__).resolve().parents[2]
    done = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "False"]
