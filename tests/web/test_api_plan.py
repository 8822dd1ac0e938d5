"""Bay days by API: what the page shows, the prices of the page, and a plan begun, looked at and taken by who may."""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import Any

import httpx
import pytest

from fleetcare.fleet.access import Scope
from fleetcare.fleet.bay_visit import BayVisit, VisitState
from tests.web.conftest import Served, serving
from tests.web.test_api_readings import bearer


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A demo garage that plans are made for."""
    with serving(tmp_path_factory.mktemp("planned") / "home") as running:
        yield running


def asked(served: Served, client: httpx.Client, path: str = "", person: str = "ines") -> Any:
    answer = client.get(f"{served.url}/api/plan{path}", headers=served.bearer(person))
    assert answer.status_code == 200, answer.text
    return answer.json()


def sent(served: Served, client: httpx.Client, path: str, body: object, person: str = "ines") -> httpx.Response:
    return client.post(f"{served.url}/api/plan/{path}", json=body, headers=served.bearer(person))


def planned(served: Served) -> tuple[BayVisit, ...]:
    """Every visit as it is stored."""
    with served.parts.store.read() as view:
        return view.bay_visits()


def worked_out(served: Served, client: httpx.Client) -> Any:
    """The proposal once the search is over."""
    for _ in range(240):
        found = asked(served, client, "/proposal")
        if not found["working"]:
            return found
        time.sleep(0.25)
    raise AssertionError("no plan within a minute")


def test_the_plan_lists_what_is_ahead_and_each_visit_its_other_days(own: Served, client: httpx.Client) -> None:
    with own.parts.store.read() as view:
        ahead = {v.key for v in view.bay_visits() if v.takes_place and v.free_at > own.clock.now()}
    visits = asked(own, client)["visits"]
    assert {(each["vehicle"], each["number"]) for each in visits} == ahead
    assert [each["begins"] for each in visits] == sorted(each["begins"] for each in visits)
    told = asked(own, client, "/AN/2")
    assert told["compared"] is True
    assert {each["kind"] for each in told["reasons"]} <= {"leads", "together", "next best", "only day", "told"}
    assert all((each["extra_cents"] is None) == (each["forbidden"] is not None) for each in told["days"])
    headers = own.bearer("ines")
    for path, status in (("/AN/99", 404), ("/XX/1", 404), ("/AN/0", 422), ("/AN/x", 422)):
        assert client.get(f"{own.url}/api/plan{path}", headers=headers).status_code == status


def test_a_plan_is_begun_looked_at_and_taken_with_its_cost_term_by_term(own: Served, client: httpx.Client) -> None:
    before = planned(own)
    began = sent(own, client, "propose", {})
    assert (began.status_code, began.json()) == (202, {"working": True})
    found = worked_out(own, client)
    assert planned(own) == before
    assert found["outcome"] in ("proven", "found")
    assert sum(found["cost_cents"].values()) == found["total_cents"]
    assert sent(own, client, "take", {"stand": "another"}).status_code == 409
    assert planned(own) == before
    taken = sent(own, client, "take", {"stand": found["stand"]})
    assert taken.status_code == 200
    assert taken.json()["changed"] >= len(found["changes"]) > 0
    changed = asked(own, client)["changed"]
    assert (changed["by"], changed["changes"]) == ("ines", found["changes"])
    assert sent(own, client, "take", {"stand": found["stand"]}).status_code == 409, "a plan is taken once"


def test_a_wish_is_priced_and_one_that_cannot_be_says_why(own: Served, client: httpx.Client) -> None:
    """The day is one of those that the prices of other days offer."""
    pencilled = [v for v in asked(own, client)["visits"] if v["state"] == VisitState.PENCILLED.value]
    visit, days = next(
        (each, told["days"])
        for each in pencilled
        for told in [asked(own, client, f"/{each['vehicle']}/{each['number']}")]
        if any(day["extra_cents"] is not None for day in told["days"])
    )
    on = min((each for each in days if each["extra_cents"] is not None), key=lambda each: each["extra_cents"])["day"]
    move = {"vehicle": visit["vehicle"], "number": visit["number"], "on": on}
    assert sent(own, client, "propose", {"move": move}).status_code == 202
    found = worked_out(own, client)
    assert "wish" in found, found
    assert found["wish"]["on"] == on
    assert found["wish"]["extra_cents"] is not None
    (moved,) = [v for v in found["visits"] if (v["vehicle"], v["number"]) == (visit["vehicle"], visit["number"])]
    assert (moved["state"], moved["begins"][:10]) == ("inked", on)
    closed = next(each for each in reversed(days) if each["forbidden"] == "nobody is there")["day"]
    assert sent(own, client, "propose", {"move": {**move, "on": closed}}).status_code == 202
    assert "nobody is there" in worked_out(own, client)["problem"]
    assert sent(own, client, "propose", {"move": {**move, "on": "soon"}}).status_code == 422
    assert sent(own, client, "propose", {"move": {**move, "vehicle": "XX"}}).status_code == 404


def test_a_key_plans_only_if_it_is_for_all_of_a_person_who_may(own: Served, client: httpx.Client) -> None:
    for headers in (bearer(own, Scope.LOOK), bearer(own, Scope.ALL, mark="AN"), own.bearer("piet")):
        assert client.post(f"{own.url}/api/plan/propose", json={}, headers=headers).status_code == 403
        assert client.get(f"{own.url}/api/plan/proposal", headers=headers).status_code == 403
    assert client.get(f"{own.url}/api/plan", headers=bearer(own, Scope.READINGS)).status_code == 403
    one = client.get(f"{own.url}/api/plan", headers=bearer(own, Scope.LOOK, mark="AN")).json()
    assert {each["vehicle"] for each in one["visits"]} == {"AN"}
