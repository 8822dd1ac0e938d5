"""The command that proposes days in the bay."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

from tests.cli.conftest import run_in
from tests.cli.small_garage import write_garage


def test_a_plan_is_shown_then_pencilled_then_stands(tmp_path: Path) -> None:
    home = tmp_path / "home"
    assert run_in(home, "init").status == 0
    files = write_garage(tmp_path / "files")
    assert run_in(home, "import", str(files)).status == 0
    alone = run_in(home, "plan")
    assert (alone.status, alone.out) == (2, "")
    assert "Nobody here is a mechanic." in alone.err
    people = files / "people.toml"
    text = people.read_text(encoding="utf-8")
    assert "roles" not in text
    people.write_text(text.rstrip() + '\nroles = ["mechanic"]\n', encoding="utf-8")
    assert run_in(home, "import", str(people)).status == 0
    assert run_in(home, "plan", "--json").data["accepted"] is False
    assert run_in(home, "bay", "list", "--json").data == []
    done = run_in(home, "plan", "--accept", "--json").data
    listed = run_in(home, "bay", "list", "--json").data
    assert [visit["begins"] for visit in listed] == [visit["begins"] for visit in done["visits"]]
    again = run_in(home, "plan", "--json").data
    assert again["moved"] == []
    assert again["outcome"] in ("proven", "found")
    assert listed
    visit = listed[0]
    began = date.fromisoformat(visit["begins"][:10])
    name = f"{visit['vehicle']}/{visit['number']}"
    found, on = None, ""
    for ahead in range(1, 15):
        on = (began + timedelta(days=ahead)).isoformat()
        found = run_in(home, "plan", "--move", name, "--to", on, "--json")
        if found.status == 0:
            break
        assert "cannot come in on" in found.err
    assert found is not None
    assert found.data["wish"]["on"] == on
    assert found.data["wish"]["extra_cents"] >= 0
    assert run_in(home, "bay", "list", "--json").data == listed, "nothing is written"
    told = run_in(home, "plan", "--move", name, "--to", on, "--accept").out
    assert "the best plan without that wish" in told
    moved = next(one for one in run_in(home, "bay", "list", "--json").data if one["number"] == visit["number"])
    assert (moved["state"], moved["begins"][:10]) == ("inked", on)
    for wrong in (("--move", name), ("--to", on), ("--move", "AN", "--to", on), ("--move", name, "--to", "soon")):
        assert run_in(home, "plan", *wrong).status == 2
