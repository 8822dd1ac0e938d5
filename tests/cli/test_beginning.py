"""The command `init`: a home, and with somebody to keep it a garage that goes on by pages."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest

from fleetcare.assemble import assemble
from fleetcare.web.app import create_app
from fleetcare.web.server import open_socket, port_of
from tests.cli.conftest import run_in, version_of
from tests.cli.small_garage import write_garage
from tests.house.tree import ROOT
from tests.web.conftest import answering

BEGUN = ("init", "--keeper", "Ines Calloway", "--mail", "ines@karstridge.example", "--zone", "America/Denver")


@contextmanager
def served(home: Path) -> Iterator[str]:
    """The address of that home, served as it is."""
    sock = open_socket("127.0.0.1", 0)
    with assemble(home, {}) as parts, answering(create_app(parts), sock):
        yield f"http://127.0.0.1:{port_of(sock)}"


def test_a_home_alone_says_both_ways_on(tmp_path: Path) -> None:
    said = run_in(tmp_path / "home", "init").out
    assert "fleetcare init --keeper" in said
    assert "fleetcare import FOLDER" in said


def test_who_begins_comes_in_by_the_link_and_puts_a_vehicle_on_the_road_by_page(tmp_path: Path) -> None:
    """A garage of which no file was written: the link opens its pages, and the first vehicle can be added."""
    home = tmp_path / "home"
    begun = run_in(home, *BEGUN, "--garage", "Karst Ridge", "--unit", "mi")
    assert begun.status == 0, begun.err
    assert "Ines Calloway keeps the list." in begun.out
    link = re.search(r"http://\S+(/sign-in/\S+)", begun.out)
    assert link is not None
    with served(home) as address, httpx.Client(base_url=address, follow_redirects=True, trust_env=False) as person:
        assert "Karst Ridge" in person.post(link[1]).text
        assert person.get("/new-vehicle").status_code == 200
        assert "Ines Calloway" in person.get("/people").text
    assert run_in(home, "vehicle", "add", "Quarry", "--kind", "van", "--dial", "84210", "--keeper", "Ines").status == 0
    assert run_in(home, "due", "--json").data
    assert run_in(home, "check").status == 0


def test_begun_twice_nothing_changes(tmp_path: Path) -> None:
    home = tmp_path / "home"
    assert run_in(home, *BEGUN).status == 0
    before = version_of(home)
    again = run_in(home, "init", "--keeper", "Teo Lindqvist")
    assert (again.status, again.out) == (2, "")
    assert "There is a garage here already, Ines Calloway’s garage." in again.sentence
    assert version_of(home) == before


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--mail", "ines@karstridge.example"), "Nothing says who keeps the garage."),
        (("--keeper", "Ines", "--mail", "ines"), "“ines” is no mail address."),
        (("--keeper", "Ines", "--zone", "Karst/Ridge"), "“Karst/Ridge” is no time zone."),
        (("--keeper", "Ines", "--unit", "leagues"), "leagues"),
        (("--keeper", "Ines", "--zone", "../../etc/passwd"), "is no time zone."),
    ],
)
def test_what_cannot_be_is_refused_and_begins_nothing(tmp_path: Path, words: tuple[str, ...], why: str) -> None:
    home = tmp_path / "home"
    refused = run_in(home, "init", *words)
    assert refused.status == 2
    assert why in refused.sentence
    assert "no garage here yet" in run_in(home, "due").sentence


def test_without_a_zone_it_is_the_machines(tmp_path: Path) -> None:
    """In a process of its own, as the zone of a machine is looked up once."""
    home = tmp_path / "home"
    words = ("-c", "from fleetcare.cli import main; main()", "init", "--keeper", "Ines Calloway", "--home", str(home))
    environ = {**os.environ, "PYTHONPATH": str(ROOT), "TZ": "Asia/Kathmandu"}
    subprocess.run([sys.executable, *words], env=environ, check=True, capture_output=True)
    assert run_in(home, "export", str(tmp_path / "out")).status == 0
    assert 'zone = "Asia/Kathmandu"' in (tmp_path / "out" / "garage.toml").read_text(encoding="utf-8")


def test_files_go_on_from_a_garage_that_was_begun(tmp_path: Path) -> None:
    home = tmp_path / "home"
    assert run_in(home, *BEGUN).status == 0
    assert run_in(home, "import", str(write_garage(tmp_path / "files"))).status == 0
    assert run_in(home, "check").status == 0


def test_who_begins_in_german_is_answered_in_german(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LC_ALL", "de_AT.UTF-8")
    home = tmp_path / "home"
    begun = run_in(home, *BEGUN)
    assert "Ines Calloway führt die Liste." in begun.out
    assert run_in(home, "export", str(tmp_path / "out")).status == 0
    assert 'language = "de"' in (tmp_path / "out" / "people.toml").read_text(encoding="utf-8")


def test_a_garage_that_has_not_begun_says_on_its_page_how_it_does(tmp_path: Path) -> None:
    home = tmp_path / "home"
    assert run_in(home, "init").status == 0
    with served(home) as address:
        page = httpx.get(f"{address}/sign-in", trust_env=False).text
    assert "Nobody belongs to this garage yet." in page
    assert "fleetcare init --keeper" in page
