"""The command that proposes days in the bay."""

from __future__ import annotations

import io
import re
import sys
from datetime import date, timedelta
from pathlib import Path

import pytest

from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.port import Answer, Outcome, Progress
from fleetcare.cli.searching import shown_search
from tests.cli.a_terminal import CTRL_C, InTerminal, begun_by
from tests.cli.conftest import Run, run_in, version_of
from tests.cli.small_garage import write_garage
from tests.cli.test_progress import Terminal
from tests.solvers.test_apart import wait_until_gone


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


@pytest.mark.skipif(sys.platform != "linux", reason="looks into /proc for what was begun")
def test_ctrl_c_shows_the_best_plan_so_far_and_never_writes_it(home: Path, run: Run) -> None:
    """A real Ctrl-C, pressed in a terminal: it goes to the search, too. A year of the whole garage takes minutes."""
    before = version_of(home)
    words = ("plan", "--accept", "--horizon", "400", "--steps", "1000000", "--home", str(home))
    command = InTerminal(words)
    command.wait_for(rb" [1-9]\d* visits?\. Ctrl-C takes the best so far\.")
    (search,) = begun_by(command.process.pid)
    command.press(CTRL_C)
    status, printed = command.ended()
    assert (status, wait_until_gone(search)) == (3, True), command.seen
    assert b"Stopping; the best plan so far follows." in command.seen
    assert "By the workshop’s prices it costs" in printed
    assert "Nothing is written yet." in printed
    assert "Pencilled" not in printed
    assert not re.search(r"\b[A-Z]{2}/[a-z]", printed), "everything is called by its name"
    assert version_of(home) == before
    assert run("plan", "--horizon", "14", "--json").data["stopped"] is False


def test_where_no_plan_was_found_no_command_is_named_that_would_take_one(
    home: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A search that has ended with nothing: what is pencilled stays, by either way out."""
    before = version_of(home)
    nothing = Answer(Outcome.NOTHING, None, None, None, 0.0)
    monkeypatch.setattr("fleetcare.solvers.apart.ApartSolver.solve", lambda *_, **__: nothing)
    told = run("plan").out
    assert "No plan was found" in told
    assert "fleetcare plan --accept" not in told
    assert version_of(home) == before


def test_what_the_search_still_says_does_not_hide_that_it_is_stopping() -> None:
    """The child goes on telling until it hears of it, and the line shows one thing at a time."""
    stream = Terminal()
    ticks = iter((0.0,))
    with shown_search(stream, tick_s=lambda: next(ticks, 2.0)) as (tell, stopping):
        stopping()
        tell(Progress("visits", 1.0, 123456, 120000), BayPlan("yard", ()))
    assert "Stopping; the best plan so far follows." in stream.getvalue()
    assert "1234.56" not in stream.getvalue()


def test_how_a_search_stands_is_shown_after_a_second_and_only_on_a_terminal() -> None:
    progress, plan = Progress("visits", 1.0, 123456, 120000), BayPlan("yard", ())

    def shown(stream: io.StringIO, after_s: float) -> str:
        ticks = iter((0.0, after_s))
        with shown_search(stream, tick_s=lambda: next(ticks, after_s)) as (tell, _):
            tell(progress, plan)
        return stream.getvalue()

    assert "plan 1234.56, no plan under 1200.00, 0 visits." in shown(Terminal(), 2.0)
    assert "plan" not in shown(Terminal(), -60.0)
    assert shown(io.StringIO(), 2.0) == ""
