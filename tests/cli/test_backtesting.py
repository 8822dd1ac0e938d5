"""The command that looks back: `backtest`."""

from __future__ import annotations

from pathlib import Path

from tests.cli.conftest import Run, run_in, version_of
from tests.cli.small_garage import write_garage


def test_demo_is_looked_back_on_and_its_counts_add_up(run: Run, home: Path) -> None:
    version = version_of(home)
    data = run("backtest", "--json").data
    assert data["milestones"]["closed"] >= 100
    for key, kind in (("services", "service"), ("milestones", "milestone")):
        part = data[key]
        assert part["held"] + part["before_early"] + part["after_late"] == part["closed"]
        assert part["closed"] + part["open"] == sum(window["kind"] == kind for window in data["windows"])
        assert part["held"] <= part["may_have_held"] <= part["closed"]
        assert 0.5 < part["share"] <= 1
    assert [each["vehicle"] for each in data["not_judged"]] == ["PL"]
    assert version_of(home) == version


def test_demo_in_words_says_the_same(run: Run) -> None:
    data, answer = run("backtest", "--json").data, run("backtest")
    assert (answer.status, answer.err) == (0, "")
    for key, name in (("services", "services"), ("milestones", "milestones")):
        part = data[key]
        head = f"Of {part['closed']} past windows for {name} {part['held']} held"
        assert (head in answer.out) is (part["closed"] >= 20)
    assert "Not judged, because there is no meter: Plank." in answer.out
    assert "About a month ahead" in answer.out
    assert answer.out.count("By vehicle") == 2


def test_one_vehicle_alone_is_the_same_as_its_part_of_all(run: Run) -> None:
    def dates(windows: list[dict[str, str]]) -> list[tuple[str, ...]]:
        return [(each["kind"], each["what"], each["given"], each["early"], each["late"]) for each in windows]

    every, alone = (run("backtest", "--json", *more).data["windows"] for more in ((), ("--vehicle", "anvil")))
    assert dates(alone) == dates([window for window in every if window["vehicle"] == "AN"])
    assert alone


def test_a_vehicle_that_is_not_there_is_met_with_the_nearest(run: Run) -> None:
    assert "Did you mean Anvil?" in run("backtest", "--vehicle", "Anvyl").sentence


def test_so_many_past_days_as_wanted(run: Run) -> None:
    every, some = run("backtest", "--days", "0", "--json").data, run("backtest", "--days", "20", "--json").data
    assert every["past_days"] == every["past_days_there_were"] > 100
    assert (some["past_days"], some["past_days_there_were"]) == (20, every["past_days_there_were"])
    assert f"taken evenly from {every['past_days']}." in run("backtest", "--days", "20").out
    assert run("backtest", "--days", "-1").status == 2


def test_a_garage_with_two_readings_is_told_what_is_wanting(tmp_path: Path) -> None:
    home = tmp_path / "home"
    assert run_in(home, "init").status == 0
    assert "There is no garage here yet." in run_in(home, "backtest").sentence
    assert run_in(home, "import", str(write_garage(tmp_path / "files"))).status == 0
    answer = run_in(home, "backtest")
    assert (answer.status, answer.err) == (0, "")
    assert "that is too little to say how good the dates are" in answer.out
    assert "A share is told from 20 on." in answer.out
    data = run_in(home, "backtest", "--json").data
    assert data["milestones"]["verdict"] == "too little history"
    assert data["milestones"]["closed"] < 20
