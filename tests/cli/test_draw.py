"""Drawings written into files: whole or not at all, and one line that says what to do if they cannot be."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree as Tree

import pytest

from tests.cli.conftest import Run


def test_the_road_is_written_with_the_name_of_the_garage(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "road.svg"
    answer = run("draw", "road", "--out", str(file), "--json")
    assert answer.data == {"file": str(file), "bytes": file.stat().st_size}
    title = Tree.fromstring(file.read_text("utf-8")).find("{http://www.w3.org/2000/svg}title")
    assert title is not None
    assert (title.text or "").startswith("Karst Ridge Motor Club, road ahead, ")


def test_a_vehicle_is_found_by_name_and_by_mark(run: Run, tmp_path: Path) -> None:
    for name in ("Anvil", "an"):
        assert run("draw", "vehicle", name, "--out", str(tmp_path / f"{name}.svg")).status == 0
    assert (tmp_path / "Anvil.svg").read_bytes() == (tmp_path / "an.svg").read_bytes()


def test_a_picture_in_dots_is_one(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "anvil.PNG"
    assert run("draw", "vehicle", "Anvil", "--night", "--out", str(file)).status == 0
    # Source: PNG specification (W3C, third edition), 5.2: the first eight bytes.
    assert file.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("draw", "vehicle", "Anvyl", "--out", "x.svg"), "Did you mean Anvil?"),
        (("draw", "vehicle", "Plank", "--out", "x.svg"), "fleetcare draw road"),
        (("draw", "vehicle", "--out", "x.svg"), "fleetcare draw vehicle Anvil"),
        (("draw", "road", "Anvil", "--out", "x.svg"), "fleetcare draw vehicle Anvil"),
        (("draw", "moon", "--out", "x.svg"), "Say “road”"),
        (("draw", "road"), "--out road.svg"),
        (("draw", "road", "--out", "x.gif"), "--out road.svg"),
        (("draw", "road", "--out", "x"), "--out road.svg"),
        (("draw", "road", "--out", "nowhere/x.svg"), "a folder that is there"),
    ],
)
def test_what_cannot_be_drawn_is_said_in_one_line_and_nothing_is_written(
    run: Run, tmp_path: Path, words: tuple[str, ...], told: str
) -> None:
    folder = tmp_path / "pictures"
    folder.mkdir()
    placed = [str(folder / word) if before == "--out" else word for before, word in zip(("", *words), words)]  # noqa: B905
    assert told in run(*placed).sentence
    assert list(folder.iterdir()) == []


def test_a_folder_is_not_written_over_and_leaves_nothing_behind(run: Run, tmp_path: Path) -> None:
    taken = tmp_path / "taken.svg"
    taken.mkdir()
    before = sorted(tmp_path.iterdir())
    assert "it is a folder" in run("draw", "road", "--out", str(taken)).sentence
    assert sorted(tmp_path.iterdir()) == before


def test_the_engine_of_dots_is_not_loaded_for_help() -> None:
    code = "import sys; from fleetcare.cli.frame import all_commands; all_commands(); print('resvg_py' in sys.modules)"
    answer = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert answer.stdout.strip() == "False"
