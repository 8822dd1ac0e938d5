"""The command that proposes days in the bay."""

from __future__ import annotations

from pathlib import Path

from tests.cli.conftest import run_in
from tests.cli.small_garage import write_garage


def test_a_plan_is_shown_then_pencilled_then_stands(tmp_path: Path) -> None:
    home = tmp_path / "home"
    assert run_in(home, "init").status == 0
    assert run_in(home, "import", str(write_garage(tmp_path / "files"))).status == 0
    shown = run_in(home, "plan", "--json")
    if shown.status == 2:
        assert "mechanic" in shown.err
        return
    assert shown.data["accepted"] is False
    assert run_in(home, "bay", "list", "--json").data == []
    done = run_in(home, "plan", "--accept", "--json").data
    listed = run_in(home, "bay", "list", "--json").data
    assert [visit["begins"] for visit in listed] == [visit["begins"] for visit in done["visits"]]
    again = run_in(home, "plan", "--json").data
    assert again["moved"] == []
