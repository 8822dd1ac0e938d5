"""`fleetcare schedule`: a plan from a file alone, the same bytes each time, and what is wrong in one line."""

from __future__ import annotations

import gzip
import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from fleetcare.bayplan.audit import audit
from fleetcare.bayplan.cost import plan_cost
from fleetcare.cli.frame import all_commands
from fleetcare.intake.schedule_files import packed, parse_plan, problem_text
from tests.bayplan.test_audit import yard
from tests.bench.bay_garages import garage
from tests.cli.a_terminal import begun_by
from tests.house.tree import ROOT
from tests.solvers.test_apart import wait_until_gone


def run(*words: str) -> tuple[int, str, str]:
    """Exit status, standard output and standard error."""
    result = CliRunner().invoke(all_commands(), ["schedule", *words])
    return result.exit_code, result.stdout, result.stderr


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """The yard as a file."""
    path = tmp_path / "yard.json"
    path.write_text(problem_text(yard()), encoding="utf-8")
    return path


def test_the_plan_keeps_the_rules_and_costs_what_it_says(file: Path) -> None:
    status, out, err = run(str(file), "--bound")
    assert status == 0, err
    plan = parse_plan(out.encode())
    assert audit(yard(), plan) == ()
    said = json.loads(out)
    assert said["total_cents"] == said["lower_bound_cents"] == plan_cost(yard(), plan).total
    assert said["gap"] == 0.0
    assert "plan" in err


def test_the_same_file_gives_the_same_bytes(tmp_path: Path) -> None:
    problem = garage(name="home", vehicles=3, days=60, seed=4, is_household=True)
    plain, zipped = tmp_path / "a.json", tmp_path / "b.json.gz"
    plain.write_text(problem_text(problem), encoding="utf-8")
    zipped.write_bytes(packed(problem_text(problem)))
    assert gzip.decompress(zipped.read_bytes()) == plain.read_bytes()
    first = run(str(plain), "--steps", "20", "--seed", "3", "--bound")
    assert first[0] == 0
    assert run(str(zipped), "--steps", "20", "--seed", "3", "--bound")[1] == first[1]


def test_a_file_that_cannot_be_taken_is_named_with_the_place(file: Path) -> None:
    file.write_text(file.read_text(encoding="utf-8").replace('"bays": 1', '"bays": "one"'), encoding="utf-8")
    status, out, err = run(str(file))
    assert (status, out) == (2, "")
    assert err == 'yard.json, depots[0].bays: depots[0].bays is “"one"”. Write a whole number.\n'


def test_a_file_that_is_not_there_is_said_in_one_line(tmp_path: Path) -> None:
    status, out, err = run(str(tmp_path / "none.json"))
    assert (status, out, err.count("\n")) == (2, "", 1)


def test_what_has_no_room_is_named_and_the_rest_is_planned(file: Path) -> None:
    given = json.loads(file.read_text(encoding="utf-8"))
    given["services"][0]["stages"][0]["min"] = 1_000_000
    file.write_text(json.dumps(given), encoding="utf-8")
    status, out, err = run(str(file), "--bound")
    assert status == 1
    assert "rotation" in err
    plan = parse_plan(out.encode())
    assert plan.skipped == ("rotation", "wax") or plan.skipped == ("rotation",)
    assert {name for visit in plan.visits for name in visit.services} >= {"sealing", "filter"}


def test_wishes_that_clash_are_said_in_words(file: Path) -> None:
    given = json.loads(file.read_text(encoding="utf-8"))
    rotation, _, belt, _ = given["services"]
    rotation |= {"stages": [{"min": 150}], "setups": [], "not_before": 5, "not_after": 5}
    belt["stages"] = [{"min": 150}]
    given["services"] = [rotation, belt]
    given["shifts"][0]["people"] = ["ines"]
    file.write_text(json.dumps(given), encoding="utf-8")
    status, _, err = run(str(file))
    assert status == 1
    (words,) = [line for line in err.splitlines() if line.startswith("These cannot all be: ")]
    assert "rotation is to be done on day 5" in words
    assert "bellows is away from day 6 to day 6" in words


def test_an_order_that_goes_round_is_refused(file: Path) -> None:
    given = json.loads(file.read_text(encoding="utf-8"))
    given["services"][0]["after"] = {"service": "sealing", "gap_days": 1}
    given["services"][1]["after"] = {"service": "rotation", "gap_days": 1}
    file.write_text(json.dumps(given), encoding="utf-8")
    status, out, err = run(str(file))
    assert (status, out) == (2, "")
    assert "rotation after sealing after rotation" in err


def test_a_garage_without_shifts_or_services_is_answered(file: Path) -> None:
    given = json.loads(file.read_text(encoding="utf-8"))
    file.write_text(json.dumps({**given, "shifts": []}), encoding="utf-8")
    status, out, err = run(str(file))
    assert status == 1
    assert parse_plan(out.encode()).visits == ()
    assert "yard has no day with anybody there." in err
    file.write_text(json.dumps({**given, "services": []}), encoding="utf-8")
    status, out, err = run(str(file), "--bound")
    assert status == 0
    assert json.loads(out) == {
        "instance": "yard",
        "visits": [],
        "skipped": [],
        "lower_bound_cents": 0,
        "total_cents": 0,
        "gap": 0.0,
    }


@pytest.mark.parametrize("seed", ["1", "2"])
def test_the_order_of_hashes_changes_no_byte(tmp_path: Path, seed: str) -> None:
    problem = garage(name="shop", vehicles=6, days=60, seed=3, is_household=False)
    path = tmp_path / "shop.json"
    path.write_text(problem_text(problem), encoding="utf-8")
    words = [sys.executable, "-c", "from fleetcare.cli import main; main()", "schedule", str(path), "--steps", "5"]
    made = [
        subprocess.run(
            words, cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONHASHSEED": each}, capture_output=True
        ).stdout
        for each in ("0", seed)
    ]
    assert made[0]
    assert made[0] == made[1]


@pytest.mark.skipif(sys.platform != "linux", reason="looks into /proc for what was begun")
@pytest.mark.parametrize("times", [1, 2])
def test_interrupted_it_prints_the_best_plan_so_far_and_twice_it_ends_at_once(tmp_path: Path, times: int) -> None:
    """The search is held up meanwhile, so that it cannot answer by itself: nothing is left of it either way."""
    problem = garage(name="shop", vehicles=20, days=90, seed=1, is_household=False)
    path = tmp_path / "shop.json"
    path.write_text(problem_text(problem), encoding="utf-8")
    # A shell that starts a test run in the background has it ignore the signal, and every process below it.
    heeded = "import signal; signal.signal(signal.SIGINT, signal.default_int_handler)"
    program = f"{heeded}; from fleetcare.cli import main; main()"
    words = [sys.executable, "-c", program, "schedule", str(path), "--steps", "100000"]
    process = subprocess.Popen(
        words, cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert process.stderr is not None
    for line in process.stderr:
        if b": plan " in line:
            break
    (search,) = begun_by(process.pid)
    os.kill(search, signal.SIGSTOP)
    process.send_signal(signal.SIGINT)
    for line in process.stderr:
        if b"Stopping" in line:
            break
    if times == 2:
        process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=120)
    assert wait_until_gone(search)
    assert b"Traceback" not in err
    if times == 2:
        assert (process.returncode, out) == (130, b"")
    else:
        assert process.returncode == 0, err
        assert audit(problem, parse_plan(out)) == ()


def test_seconds_end_the_search_however_much_work_it_may_do(tmp_path: Path) -> None:
    """So few that no process has even begun by then."""
    problem = garage(name="shop", vehicles=20, days=180, seed=1, is_household=False)
    path = tmp_path / "shop.json"
    path.write_text(problem_text(problem), encoding="utf-8")
    status, out, _ = run(str(path), "--steps", "100000", "--seconds", "0.001")
    assert (status, out) == (3, "")
