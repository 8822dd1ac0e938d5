"""Problems and plans as files: written and read back the same, and every fault named with its place."""

from __future__ import annotations

import gzip
import json
from typing import Any

import pytest

from fleetcare.errors import BadInput
from fleetcare.intake.schedule_files import packed, parse_plan, parse_problem, plan_text, problem_text
from tests.bayplan.test_audit import PLAN, yard
from tests.bench.bay_garages import garage
from tests.solvers.tiny import tiny


@pytest.mark.parametrize("seed", range(1, 20))
def test_a_problem_is_read_as_it_was_written(seed: int) -> None:
    for problem in (tiny(seed), garage(name="yard", vehicles=3, days=60, seed=seed, is_household=True)):
        text = problem_text(problem)
        assert parse_problem(text.encode()) == problem
        assert parse_problem(packed(text)) == problem


def test_a_plan_is_read_as_it_was_written() -> None:
    text = plan_text(PLAN, {"total_cents": 1, "lower_bound_cents": 1, "gap": 0.0})
    assert plan_text(parse_plan(text.encode())) == plan_text(PLAN)
    assert json.loads(text)["gap"] == 0.0


def changed(path: tuple[str | int, ...], value: Any) -> bytes:
    """The yard as a file with one thing changed; a value of None takes it away."""
    given = json.loads(problem_text(yard()))
    spot = given
    for part in path[:-1]:
        spot = spot[part]
    if value is None:
        del spot[path[-1]]
    else:
        spot[path[-1]] = value
    return json.dumps(given).encode()


@pytest.mark.parametrize(
    ("path", "value", "place"),
    [
        (("format",), "visit-plan-instance/2", "format"),
        (("days",), 0, "days"),
        (("days",), "90", "days"),
        (("days",), 90.5, "days"),
        (("days",), True, "days"),
        (("speed",), 1, "speed"),
        (("services", 0, "stages"), [], "services[0].stages"),
        (("services", 0, "stages", 0, "min"), 0, "services[0].stages[0].min"),
        (("services", 0, "stages", 0, "min"), 10**12, "services[0].stages[0].min"),
        (("services", 0, "stages", 0, "hours"), 1, "services[0].stages[0].hours"),
        (("services", 0, "vehicle"), "nobody", "services[0].vehicle"),
        (("services", 0, "setups"), ["wings off"], "services[0].setups"),
        (("services", 0, "due"), [[3, 0], [3, 1_000_000]], "services[0].due"),
        (("services", 0, "due"), [[3, 900_000]], "services[0].due"),
        (("services", 0, "due"), [[3]], "services[0].due[0]"),
        (("services", 0, "due"), None, "services[0].due"),
        (("services", 1, "waits"), [], "services[1].waits"),
        (("services", 1, "waits", 0, "max"), 5, "services[1].waits[0].max"),
        (("services", 2, "cost_by_day"), [1], "services[2].cost_by_day"),
        (("services", 0, "after"), {"service": "rotation", "gap_days": 1}, "services[0].after"),
        (("services", 0, "after"), {"service": "filter", "gap_days": 1}, "services[0].after.service"),
        (("services", 0, "required"), "yes", "services[0].required"),
        (("vehicles", 0, "away"), [[9, 3]], "vehicles[0].away"),
        (("vehicles", 0, "id"), "bellows", "vehicles[1].id"),
        (("vehicles", 0, "id"), "", "vehicles[0].id"),
        (("shifts", 0, "people"), ["nobody"], "shifts[0].people"),
        (("shifts", 0, "people"), ["ines", "ines"], "shifts[0].people"),
        (("shifts", 0, "end"), 300, "shifts[0].end"),
        (("shifts", 0, "day"), 7, "shifts[0].day"),
        (("depots", 0, "open_by_day"), {"seven": 1}, "depots[0].open_by_day.seven"),
        (("depots", 0, "bays"), -1, "depots[0].bays"),
    ],
)
def test_every_fault_is_named_with_its_place(path: tuple[str | int, ...], value: Any, place: str) -> None:
    with pytest.raises(BadInput) as fault:
        parse_problem(changed(path, value))
    assert fault.value.field == place
    assert fault.value.remedy


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"[]",
        b"{",
        b'{"days": NaN}',
        b'{"days": 1, "days": 2}',
        b"\xff\xfe",
        b"[" * 100_000,
        b'{"days": ' + b"9" * 5000 + b"}",
        gzip.compress(b"{}", mtime=0)[:-6],
        b"\x1f\x8b rubbish",
    ],
)
def test_what_is_no_problem_at_all_is_refused(raw: bytes) -> None:
    with pytest.raises(BadInput):
        parse_problem(raw)
