"""Readings by API: once under a key, many at a time, held where nobody can be asked, and by keys that may do little."""

from __future__ import annotations

import json
from typing import Any

import httpx
import pytest

from fleetcare.actions.links import make_key
from fleetcare.fleet.access import Purpose, Scope
from fleetcare.fleet.people import Role
from fleetcare.meter.reading import ReadingState
from fleetcare.web.forms import MOST_AT_ONCE
from tests.web.conftest import Served
from tests.web.stored import everything, last, reading_of, used
from tests.web.test_odometer import TODAY


def post(
    client: httpx.Client, served: Served, path: str, body: object, headers: dict[str, str], key: str | None = None
) -> httpx.Response:
    more = {} if key is None else {"Idempotency-Key": key}
    return client.post(f"{served.url}/api/{path}", json=body, headers={**headers, **more})


def bearer(served: Served, scope: Scope, *, person: str = "teo", mark: str = "") -> dict[str, str]:
    key = make_key(
        served.parts.store,
        served.parts.keys,
        now=served.clock.now(),
        who="test",
        purpose=Purpose.API,
        person=person,
        mark=mark,
        scope=scope,
    )
    return {"Authorization": f"Bearer {key}"}


def test_under_one_key_it_counts_once_and_is_answered_alike(served: Served, client: httpx.Client) -> None:
    teo = served.bearer("teo")
    body = {"vehicle": "BE", "value": 84210}
    answers = [post(client, served, "readings", body, teo, "k-1") for _ in range(5)]
    assert {(a.status_code, a.content) for a in answers} == {(201, answers[0].content)}
    before = everything(served.parts.store)
    other = post(client, served, "readings", {**body, "value": 84219}, teo, "k-1")
    assert other.status_code == 409
    assert "sent before" in other.json()["error"]
    assert everything(served.parts.store) == before
    # Another key, the same reading: it stands here already. Another person's same key is another key.
    assert post(client, served, "readings", body, teo, "k-2").status_code == 200
    assert post(client, served, "readings", {**body, "value": 84219}, served.bearer("ines"), "k-1").status_code == 201
    assert len([r for r in used(served.parts.store, "BE") if r.on == TODAY and r.value == 84210]) == 1


@pytest.mark.parametrize("key", ["", "two words", "k" * 201, "tab\there"])
def test_a_key_that_cannot_be_one_is_refused(shared: Served, client: httpx.Client, key: str) -> None:
    before = everything(shared.parts.store)
    answer = post(client, shared, "readings", {"vehicle": "BE", "value": 84210}, shared.bearer("teo"), key)
    assert answer.status_code == 422
    assert everything(shared.parts.store).count("84210") == before.count("84210")


def test_what_does_not_fit_is_held_where_nobody_can_be_asked(served: Served, client: httpx.Client) -> None:
    teo = served.bearer("teo")
    told = post(client, served, "readings", {"vehicle": "BE", "value": 48210, "hold": True}, teo).json()
    assert (told["held"], told["reading"]["state"]) == (True, "held")
    assert "84\u2009210" in told["note"]
    stored = reading_of(served.parts.store, "BE", "48210")
    assert stored.state is ReadingState.HELD
    assert last(served.parts.store, "BE")[1] == 83365, "what stood before stands"
    # The keeper finds it on the page, and the good guess with it.
    page = client.get(f"{served.url}/readings/held", headers=served.session("teo")).text
    assert "It was" in page
    plain = post(client, served, "readings", {"vehicle": "AN", "value": 113100, "hold": True}, teo).json()
    assert (plain["held"], plain["note"]) == (False, None)


def test_many_are_taken_each_by_itself(served: Served, client: httpx.Client) -> None:
    teo = served.bearer("teo")
    body = {
        "readings": [
            {"vehicle": "BE", "value": 84210},
            {"vehicle": "AN", "value": "113k"},
            {"vehicle": "AN", "value": "131 100"},
            {"vehicle": "XX", "value": 1},
            {"vehicle": "PO", "value": 62000},
            {"vehicle": "BE", "value": "84 210"},
        ]
    }
    answer = post(client, served, "readings/batch", body, teo, "monday")
    results = answer.json()["results"]
    assert [one["status"] for one in results] == [201, 422, 201, 404, 201, 200]
    assert results[1]["field"] == "value"
    assert (results[2]["held"], results[4]["held"]) == (True, False)
    assert results[5]["known"] is True
    before = everything(served.parts.store)
    again = post(client, served, "readings/batch", body, teo, "monday")
    assert again.content == answer.content
    assert everything(served.parts.store) == before


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"readings": []},
        {"readings": [{"vehicle": "BE", "value": 1}] * (MOST_AT_ONCE + 1)},
        {"readings": [{"vehicle": "BE", "value": True}]},
        {"readings": {"vehicle": "BE", "value": 1}},
        {"readings": [{"vehicle": "BE", "value": 1}], "more": 1},
    ],
)
def test_what_is_no_batch_is_refused_whole(shared: Served, client: httpx.Client, body: Any) -> None:
    before = everything(shared.parts.store)
    teo = shared.bearer("teo")
    answer = post(client, shared, "readings/batch", body, teo)
    assert answer.status_code == 422
    assert len(answer.content) < 400
    assert everything(shared.parts.store).count("by='teo'") == before.count("by='teo'")


def test_a_key_may_do_what_it_was_made_for_and_no_more(served: Served, client: httpx.Client) -> None:
    reading = {"vehicle": "BE", "value": 84210}
    looks, enters = bearer(served, Scope.LOOK), bearer(served, Scope.READINGS)
    one = bearer(served, Scope.ALL, mark="AN")
    assert post(client, served, "readings", reading, looks).status_code == 403
    assert post(client, served, "readings", reading, one).status_code == 403
    assert client.get(f"{served.url}/api/due", headers=enters).status_code == 403
    assert client.get(f"{served.url}/api/vehicles", headers=enters).status_code == 403
    assert client.get(f"{served.url}/api/due", headers=looks).status_code == 200
    assert {line["vehicle"] for line in client.get(f"{served.url}/api/due", headers=one).json()} == {"AN"}
    assert [v["vehicle"] for v in client.get(f"{served.url}/api/vehicles", headers=one).json()] == ["AN"]
    line = client.get(f"{served.url}/api/due", headers=looks, params={"vehicle": "BE"}).json()[0]
    path = f"{served.url}/api/due/BE/{line['component']}/{line['service']}"
    assert client.get(path, headers=looks).status_code == 200
    assert client.get(path, headers=one).status_code == 403
    assert last(served.parts.store, "BE")[1] == 83365
    assert post(client, served, "readings", reading, enters).status_code == 201


def test_an_onlooker_enters_nothing_whatever_else_is_said_of_them(served: Served, client: httpx.Client) -> None:
    from dataclasses import replace

    from fleetcare.actions.ports import Change

    with served.parts.store.write(Change("test", "an onlooker", served.clock.now())) as unit:
        teo = next(person for person in unit.people() if person.key == "teo")
        unit.put_person(replace(teo, roles=(Role.ONLOOKER, Role.MECHANIC)))
    before = everything(served.parts.store)
    headers = served.bearer("teo")
    assert post(client, served, "readings", {"vehicle": "BE", "value": 84210}, headers).status_code == 403
    assert client.get(f"{served.url}/api/due", headers=headers).status_code == 200
    assert everything(served.parts.store).count("84210") == before.count("84210")


def test_the_examples_of_the_description_work(served: Served, client: httpx.Client) -> None:
    described = client.get(f"{served.url}/api/openapi.json").json()
    ines = served.bearer("ines")
    ran = 0
    for path, methods in described["paths"].items():
        for method, said in methods.items():
            content = said.get("requestBody", {}).get("content", {}).get("application/json", {}).get("schema", {})
            name = content.get("$ref", "").rpartition("/")[2]
            for example in described["components"]["schemas"].get(name, {}).get("examples", []):
                answer = client.request(method, served.url + path, json=example, headers=ines)
                ran += 1
                assert answer.status_code in (200, 201, 202), (path, example, answer.text)
                for result in answer.json().get("results", []):
                    assert result["status"] in (200, 201), json.dumps(result)
    assert ran >= 5
