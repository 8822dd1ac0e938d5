"""The plan that is worked out again by itself when something has changed."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from fleetcare.actions.plan_visits import set_visit
from fleetcare.fleet.bay_visit import VisitState
from fleetcare.planner import Planner
from fleetcare.settings.sections import PlanSettings
from tests.web.conftest import Served, serving


@pytest.fixture
def own(tmp_path: Path) -> Iterator[Served]:
    """The demo garage for one test."""
    with serving(tmp_path / "home") as running:
        yield running


def worked_out(planner: Planner) -> None:
    for _ in range(240):
        if not planner.is_working:
            return
        time.sleep(0.25)
    raise AssertionError("no plan within a minute")


def planner_of(served: Served, **given: bool) -> Planner:
    parts = served.parts
    return Planner(replace(parts, settings=replace(parts.settings, plan=PlanSettings(**given))))


def pencilled(served: Served) -> set[tuple[str, int, str]]:
    with served.parts.store.read() as view:
        return {
            (visit.mark, visit.number, visit.begins_at.isoformat())
            for visit in view.bay_visits()
            if visit.state is VisitState.PENCILLED
        }


def test_a_change_is_looked_at_once_and_nothing_is_written(own: Served) -> None:
    planner, before = planner_of(own), pencilled(own)
    planner.look_again()
    worked_out(planner)
    assert planner.is_unasked
    assert planner.changes > 0
    assert pencilled(own) == before
    found = planner.found
    planner.look_again()
    assert not planner.is_working, "nothing has changed since"
    assert planner.found is found


def test_it_is_taken_by_itself_only_if_that_is_set(own: Served) -> None:
    before = pencilled(own)
    with own.parts.store.read() as view:
        inked = {v.key: v for v in view.bay_visits() if v.state is VisitState.INKED}
    planner = planner_of(own, take=True)
    planner.look_again()
    after = pencilled(own)
    assert after != before
    with own.parts.store.read() as view:
        still = {v.key: v for v in view.bay_visits() if v.state is VisitState.INKED}
    assert still == inked, "inked days stay"
    planner.look_again()
    assert pencilled(own) == after, "what was taken is no change to be looked at"


def test_without_a_pencilled_visit_nobody_is_bothered(own: Served) -> None:
    for mark, number, _ in sorted(pencilled(own)):
        set_visit(
            own.parts.store, own.parts.rules, vehicle=mark, number=number, state=VisitState.RUBBED_OUT, who="ines",
            now=own.clock.now(), base_url=own.url,
        )  # fmt: skip
    planner = planner_of(own)
    planner.look_again()
    assert not planner.is_working
    assert planner_of(own, again=False).changes == 0


def test_in_a_large_garage_somebody_has_to_ask(own: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fleetcare.planner.MOST_VEHICLES_UNASKED", 3)
    planner = planner_of(own)
    planner.look_again()
    assert not planner.is_working
    assert planner.found is None
