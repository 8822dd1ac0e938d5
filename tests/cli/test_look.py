"""The commands that change nothing: `due`, `explain`, `check`."""

from __future__ import annotations

import re
from datetime import date, timedelta
from pathlib import Path

import pytest

from fleetcare.actions.ports import Change
from fleetcare.clock import MachineClock
from fleetcare.due.outlook import DueWindow, NoDate
from tests.cli.conftest import Run, demo_day, parts_of_home, run_in, version_of
from tests.due.chain_figures import Links, reckon_again


def test_due_lists_every_line_with_a_window_or_why_it_has_none(run: Run, home: Path) -> None:
    version = version_of(home)
    lines = run("due", "--json").data
    assert all((line["early"] is None) is (line["no_date"] is not None) for line in lines)
    assert {line["vehicle"] for line in lines} == {"AN", "BE", "NE", "TH", "BR", "LA", "PO", "RA", "PL"}
    lates = [line["late"] for line in lines if line["late"]]
    assert lates == sorted(lates)
    assert [line["late"] for line in lines][len(lates) :] == [None] * (len(lines) - len(lates))
    words = run("due")
    assert (words.status, words.err) == (0, "")
    assert words.out.count("window open") == sum(line["state"] == "window open" for line in lines)
    assert version_of(home) == version


def test_due_within_so_many_days_and_for_one_vehicle(run: Run) -> None:
    every = run("due", "--json").data
    limit = (date.fromisoformat(demo_day("2026-04-14")) + timedelta(days=60)).isoformat()
    near = run("due", "--within", "60", "--json").data
    assert 0 < len(near) < len(every)
    assert all(line["early"] <= limit or line["early"] <= line["late"] for line in near)
    early_ones = [line for line in every if line["early"] and line["early"] < limit]
    assert {(line["vehicle"], line["service"]) for line in early_ones} <= {
        (line["vehicle"], line["service"]) for line in near
    }
    one = run("due", "--vehicle", "anvil", "--json").data
    assert {line["vehicle"] for line in one} == {"AN"}
    assert len(one) == sum(line["vehicle"] == "AN" for line in every)
    assert "Did you mean Anvil?" in run("due", "--vehicle", "Anvyl").sentence


def test_where_nothing_falls_due_that_is_said(run: Run) -> None:
    assert run("done", "Plank", "coupling/coupling", "--on", demo_day("2026-04-13")).status == 0
    nothing = [
        name
        for name in ("Bramble", "Pocket", "Plank", "Nettle")
        if not run("due", "--vehicle", name, "--within", "0", "--json").data
    ]
    for name in nothing:
        assert run("due", "--vehicle", name, "--within", "0").out == "Nothing falls due there.\n"
    assert nothing


def test_explain_gives_the_steps_the_source_and_the_last_change_with_its_cause(run: Run) -> None:
    assert run("reading", "Anvil", "113300", "--on", demo_day("2026-04-13")).status == 0
    answer = run("explain", "Anvil", "rear axle fluid")
    assert (answer.status, answer.err) == (0, "")
    assert "Source: " in answer.out
    assert "This garage changed repeat distance under towing from 30 000 mi" in answer.out
    assert "Long grades to Hollow Lake" in answer.out
    assert "What changed it last:" in answer.out
    first = answer.out.partition("What changed it last:\n")[2].splitlines()[0]
    assert re.fullmatch(r"- \d+ \w+, the reading of .*: .*(\d (days?|weeks) (earlier|later)|is now).*\.", first)
    data = run("explain", "Anvil", "rear axle fluid", "--json").data
    texts = [step["text"].replace("\u2009", " ") for step in data["steps"]]
    assert [text for text in texts if f"- {text}" not in answer.out] == []
    newest = data["changes"][0]
    assert newest["why"].startswith("the reading of ")
    assert f"{newest['why']}: {newest['change']}." in first
    dates = ("early", "likely", "late", "limit")
    assert [newest["after"][name] for name in dates] == [data[name] for name in dates], "it leads to what is shown"


def test_explain_prints_figures_from_which_the_date_follows(run: Run, home: Path) -> None:
    data = run("explain", "Lantern", "engine oil", "--json").data
    parts = parts_of_home(home)
    try:
        season = parts.rules.priors.season
    finally:
        parts.close()
    reckon_again(data["steps"], season, (), links := Links())
    assert links.seen == {"used": 1, "left": 1, "days": 1, "calendar": 1, "likely": 1, "window": 1}


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (("Anvyl", "rear axle fluid"), "Did you mean Anvil?"),
        (("Anvil", "rear axel fluid"), "Did you mean rear axle fluid?"),
        (("Anvil", "axle"), "Name one of them: front-axle/front-axle-fluid"),
        (("Anvil", "zzzz"), "There is no service on Anvil called “zzzz”."),
    ],
)
def test_a_name_that_is_none_is_met_with_the_nearest(run: Run, words: tuple[str, ...], part: str) -> None:
    assert part in run("explain", *words).sentence


def test_check_holds_on_a_whole_garage_and_changes_nothing(run: Run, home: Path) -> None:
    version = version_of(home)
    answer = run("check")
    assert (answer.status, answer.err) == (0, "")
    assert {line.partition(":")[0] for line in answer.out.splitlines()} == {"held"}
    data = run("check", "--json").data
    assert (len(data["held"]), data["broken"]) == (5, [])
    assert version_of(home) == version


def test_check_notices_a_date_that_was_moved_behind_its_back(home: Path) -> None:
    parts = parts_of_home(home)
    try:
        with parts.store.write(Change("test", "broken on purpose", MachineClock().now())) as unit:
            line, window = next((k, w) for k, w in unit.windows().items() if isinstance(w, DueWindow))
            unit.put_windows({line: NoDate.NO_USE})
    finally:
        parts.close()
    answer = run_in(home, "check")
    assert answer.status == 1
    assert f"{line} is stored as no use in sight, not early {window.early}" in answer.out
    assert f"{line} stands at no use in sight, which no entry explains" in answer.out
    data = run_in(home, "check", "--json")
    assert data.status == 1
    assert len(data.data["broken"]) == 2


def test_refresh_works_everything_out_again_and_says_what_moved(run: Run, home: Path) -> None:
    version = version_of(home)
    again = run("refresh", "--json").data
    assert again == {"vehicles": 9, "worked_out": again["worked_out"], "moved": 0}
    assert version_of(home) == version, "nothing had changed"
    said = run("refresh")
    assert (said.status, said.err) == (0, "")
    assert said.out == "9 vehicles looked through; no date moved.\n"
