"""The API: what it takes, what it refuses and in which words, and that a refusal changes nothing."""

from __future__ import annotations

import json
from typing import Any

import httpx
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleetcare.meter.reading import Door
from tests.web.conftest import Served
from tests.web.stored import everything, reading_of


@pytest.fixture(scope="module")
def teo(shared: Served) -> dict[str, str]:
    """Headers of a program of Teo's, who keeps Bellows."""
    return shared.bearer("teo")


def enter(client: httpx.Client, served: Served, headers: dict[str, str], **body: Any) -> httpx.Response:
    """One reading sent."""
    return client.post(f"{served.url}/api/readings", json=body, headers=headers)


def test_a_reading_is_stored_once(served: Served, client: httpx.Client) -> None:
    """201 when it is new, 200 with the same reading when it stands here already."""
    teo = served.bearer("teo")
    first = enter(client, served, teo, vehicle="Bellows", value=84210)
    again = enter(client, served, teo, vehicle="be", value="84 210", unit="mi", on="2026-04-14")
    assert (first.status_code, again.status_code) == (201, 200)
    assert (first.json()["known"], again.json()["known"]) == (False, True)
    assert first.json()["reading"] == again.json()["reading"]
    assert first.json()["moved"]
    assert again.json()["moved"] == []
    stored = reading_of(served.parts.store, "BE", "84210")
    assert (stored.by, stored.door) == ("teo", Door.API)


def test_a_split_with_the_rest_is_taken(served: Served, client: httpx.Client) -> None:
    """845 miles, of which 169 towing: one part in five."""
    split = "towing=169,daily=rest"
    answer = enter(client, served, served.bearer("teo"), vehicle="BE", value=84210.0, split=split)
    assert answer.status_code == 201
    shares = reading_of(served.parts.store, "BE", "84210").split
    assert shares is not None
    assert dict(shares.shares) == pytest.approx({"towing": 0.2, "daily": 0.8})


def test_what_does_not_fit_is_asked_about_with_a_guess(served: Served, client: httpx.Client) -> None:
    teo = served.bearer("teo")
    before = everything(served.parts.store)
    answer = enter(client, served, teo, vehicle="BE", value=48210)
    assert answer.status_code == 409
    asked = answer.json()
    assert asked["field"] == "value"
    assert asked["guess"] == {"value": "84210", "unit": "mi"}
    assert "lower than last time" in asked["error"]
    assert set(asked["really"]) == {"changed", "wrong-last"}, "no dial runs backwards, whatever anybody says"
    assert set(enter(client, served, teo, vehicle="BE", value=89000).json()["really"]) >= {"as-read"}
    assert everything(served.parts.store) == before
    assert enter(client, served, teo, vehicle="BE", value=48210, really="changed").status_code == 201


def settle(client: httpx.Client, served: Served, headers: dict[str, str], **body: Any) -> httpx.Response:
    """What a person says of a held reading."""
    return client.post(f"{served.url}/api/readings/settle", json=body, headers=headers)


def test_a_held_reading_is_settled_by_its_people(served: Served, client: httpx.Client) -> None:
    """The demo's one held reading: Lantern's 173 250 for 137 250. Piet does not keep Bellows' list, but drives it."""
    with served.parts.store.read() as view:
        keeper = next(v.keeper for v in view.vehicles() if v.mark == "LA")
    headers = served.bearer(keeper)
    wanted = {"vehicle": "Lantern", "value": 173250, "on": "2025-09-11"}
    assert settle(client, served, {}, **wanted, how="right").status_code == 401
    before = everything(served.parts.store)
    for how, told in (("right", "does not lie between"), ("perhaps", "how is one of right, wrong, guess")):
        refused = settle(client, served, headers, **wanted, how=how)
        assert refused.status_code == 422
        assert told in refused.json()["error"]
    assert settle(client, served, headers, **(wanted | {"value": 5}), how="wrong").status_code == 404
    assert everything(served.parts.store) == before
    answer = settle(client, served, headers, **wanted, how="guess")
    assert answer.status_code == 200
    assert answer.json()["reading"]["state"] == "superseded"
    assert (answer.json()["instead"]["value"], answer.json()["instead"]["state"]) == ("137250", "used")
    assert reading_of(served.parts.store, "LA", "137250").vouched_by == keeper


REFUSED: list[tuple[dict[str, Any], str]] = [
    ({"vehicle": "BE"}, "value"),
    ({"value": 84210}, "vehicle"),
    ({"vehicle": 5, "value": 84210}, "vehicle"),
    ({"vehicle": "B" * 121, "value": 84210}, "vehicle"),
    ({"vehicle": "BE", "value": True}, "value"),
    ({"vehicle": "BE", "value": None}, "value"),
    ({"vehicle": "BE", "value": [84210]}, "value"),
    ({"vehicle": "BE", "value": {"a": {"b": 1}}}, "value"),
    ({"vehicle": "BE", "value": ""}, "value"),
    ({"vehicle": "BE", "value": "84k"}, "value"),
    ({"vehicle": "BE", "value": -5}, "value"),
    ({"vehicle": "BE", "value": -0.5}, "value"),
    ({"vehicle": "BE", "value": "1e5"}, "value"),
    ({"vehicle": "BE", "value": "٨٤٢١٠"}, "value"),
    ({"vehicle": "BE", "value": "84\0210"}, "value"),
    ({"vehicle": "BE", "value": "8" * 5000}, "value"),
    ({"vehicle": "BE", "value": 2**63}, "value"),
    ({"vehicle": "BE", "value": 1e22}, "value"),
    ({"vehicle": "BE", "value": 1e308}, "value"),
    ({"vehicle": "BE", "value": 5e-324}, "value"),
    ({"vehicle": "BE", "value": 84210.25}, "value"),
    # A number of JSON has a point before its decimals; by the rule for text this would be 84 213.
    ({"vehicle": "BE", "value": 84.213}, "value"),
    ({"vehicle": "BE", "value": 1000000}, "value"),
    ({"vehicle": "BE", "value": 84210, "on": "2026-04-15"}, "on"),
    ({"vehicle": "BE", "value": 84210, "on": "3/4/2026"}, "on"),
    ({"vehicle": "BE", "value": 84210, "on": ""}, "on"),
    ({"vehicle": "BE", "value": 84210, "on": 0}, "on"),
    ({"vehicle": "BE", "value": 84210, "on": "x" * 900}, "on"),
    ({"vehicle": "BE", "value": 84210, "unit": "ft"}, "unit"),
    ({"vehicle": "BE", "value": 84210, "hours": "yes"}, "hours"),
    ({"vehicle": "BE", "value": 84210, "hours": 1}, "hours"),
    ({"vehicle": "BE", "value": 84210, "split": "flying=1"}, "split"),
    ({"vehicle": "BE", "value": 84210, "split": ""}, "split"),
    ({"vehicle": "BE", "value": 84210, "split": "towing=900,daily=rest"}, "split"),
    ({"vehicle": "BE", "value": 84210, "really": "because"}, "really"),
    ({"vehicle": "BE", "value": 84210, "colour": "red"}, "colour"),
]


@pytest.mark.parametrize(("body", "field"), REFUSED)
def test_what_cannot_be_taken_is_said_in_one_sentence_with_its_field(
    shared: Served, client: httpx.Client, teo: dict[str, str], body: dict[str, Any], field: str
) -> None:
    before = everything(shared.parts.store)
    answer = enter(client, shared, teo, **body)
    assert answer.status_code == 422
    told = answer.json()
    assert told["field"] == field
    assert told["error"].endswith(".")
    assert len(told["error"]) < 250
    assert not _echoes(body, answer.text)
    assert everything(shared.parts.store) == before


@pytest.mark.parametrize(
    "text",
    [
        b"",
        b"no json",
        b'{"vehicle": "BE", "value": NaN}',
        b'{"vehicle": "BE", "value": Infinity}',
        b'{"vehicle": "BE", "value": -Infinity}',
        b'{"vehicle": "BE", "value": 1e309}',
        b'{"vehicle": "BE", "value": ' + b"9" * 5000 + b"}",
        b'{"vehicle": "BE", "value": "\\ud800"}',
        b'{"vehicle": "\\ud800", "value": 1}',
        b'{"vehicle": "BE\xff", "value": 1}',
        b'{"\\ud800": 1, "vehicle": "BE", "value": 1}',
        b"[" * 100_000,
        b'["BE", 84210]',
        b'"BE"',
        b"null",
        b'{"' + b"k" * 100_000 + b'": 1, "vehicle": "BE", "value": 1}',
        b'{"vehicle": "BE", "value": 84210, "value": "x"}',
    ],
)
def test_what_is_not_even_a_reading_is_refused(
    shared: Served, client: httpx.Client, teo: dict[str, str], text: bytes
) -> None:
    before = everything(shared.parts.store)
    headers = {**teo, "Content-Type": "application/json"}
    answer = client.post(f"{shared.url}/api/readings", content=text, headers=headers)
    assert answer.status_code in (400, 404, 422)
    assert answer.json()["error"].endswith(".")
    assert len(answer.content) < 500
    assert everything(shared.parts.store) == before


def test_a_huge_body_is_refused_with_413(shared: Served, client: httpx.Client, teo: dict[str, str]) -> None:
    """Whether its length is said beforehand or it comes in pieces (RFC 9112, 7.1)."""
    before = everything(shared.parts.store)
    body = json.dumps({"vehicle": "BE", "value": "8" * 1_200_000}).encode()
    headers = {**teo, "Content-Type": "application/json"}
    whole = client.post(f"{shared.url}/api/readings", content=body, headers=headers)
    pieces = client.post(f"{shared.url}/api/readings", content=iter([body[:600_000], body[600_000:]]), headers=headers)
    for answer in (whole, pieces):
        assert answer.status_code == 413
        assert "megabyte" in answer.json()["error"]
    assert everything(shared.parts.store) == before


def test_who_may_not_is_told_so(shared: Served, client: httpx.Client, teo: dict[str, str]) -> None:
    noor = shared.bearer("noor")
    before = everything(shared.parts.store)
    reading = {"vehicle": "BE", "value": 84210}
    for headers in ({}, {"Authorization": "Bearer x"}, {"Authorization": "Bearer"}, {"Authorization": "Basic eDp5"}):
        answer = enter(client, shared, headers, **reading)
        assert (answer.status_code, answer.headers["www-authenticate"]) == (401, "Bearer")
    # A feed or odometer key is no API key.
    sticker = shared.odometer("BE").rpartition("/")[2]
    assert enter(client, shared, {"Authorization": f"Bearer {sticker}"}, **reading).status_code == 401
    forbidden = enter(client, shared, noor, **reading)
    assert forbidden.status_code == 403
    unknown = enter(client, shared, teo, vehicle="Bellow", value=84210)
    assert unknown.status_code == 404
    assert "Did you mean Bellows?" in unknown.json()["error"]
    assert everything(shared.parts.store) == before
    assert client.get(f"{shared.url}/api/nothing", headers=teo).json() == {"error": "There is no such address."}
    assert client.delete(f"{shared.url}/api/readings", headers=teo).status_code == 405


def test_due_and_vehicles_are_told(shared: Served, client: httpx.Client, teo: dict[str, str]) -> None:
    due = client.get(f"{shared.url}/api/due", headers=teo).json()
    vehicles = client.get(f"{shared.url}/api/vehicles", headers=teo).json()
    assert len(vehicles) == 9
    assert {line["vehicle"] for line in due} == {vehicle["vehicle"] for vehicle in vehicles}
    for line in due:
        # No line without either a date or a reason why not.
        assert (line["likely"] is None) == (line["no_date"] is not None)
        if line["likely"] is not None:
            assert line["early"] <= line["likely"] <= line["late"]
    own = client.get(f"{shared.url}/api/due", params={"vehicle": "bellows"}, headers=teo).json()
    assert own == [line for line in due if line["vehicle"] == "BE"]
    missing = client.get(f"{shared.url}/api/due", params={"vehicle": "\0" + "z" * 9000}, headers=teo)
    assert missing.status_code == 404
    assert len(missing.content) < 300


def test_the_description_says_what_is_really_answered(shared: Served, client: httpx.Client) -> None:
    described = client.get(f"{shared.url}/api/openapi.json").json()
    one_line = "/api/due/{vehicle}/{component}/{service}"
    readings = {"/api/readings", "/api/readings/batch", "/api/readings/settle"}
    plan = {f"/api/plan{rest}" for rest in ("", "/proposal", "/propose", "/take", "/{vehicle}/{number}")}
    assert {*readings, *plan, "/api/due", one_line, "/api/vehicles"} == set(described["paths"])
    answers = described["paths"]["/api/readings"]["post"]["responses"]
    assert {"201", "401", "403", "404", "409", "413", "422"} <= set(answers)
    assert answers["422"]["content"]["application/json"]["schema"]["$ref"].endswith("/Trouble")
    assert "HTTPValidationError" not in json.dumps(described)


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=40),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)
FIGURES = st.one_of(ANYTHING, st.integers(0, 83364), st.text("0123456789., -+e_٣\u2009", max_size=14))
BODIES = st.fixed_dictionaries(
    {"vehicle": st.sampled_from(["BE", "Bellows", "PO"]) | ANYTHING, "value": FIGURES},
    optional={
        "on": st.text("0123456789-./T ", max_size=12) | ANYTHING,
        "unit": st.sampled_from(["mi", "km", "h"]) | ANYTHING,
        "hours": ANYTHING,
        "split": st.sampled_from(["towing=1", "daily=rest", "towing=1 towing=2"]) | ANYTHING,
        "extra": ANYTHING,
    },
)


def test_no_body_makes_it_stumble_or_change_on_a_refusal(
    shared: Served, client: httpx.Client, teo: dict[str, str]
) -> None:
    headers = {**teo, "Content-Type": "application/json"}
    seen: list[int] = []

    @settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
    @given(body=BODIES | ANYTHING)
    def check(body: object) -> None:
        with shared.parts.store.read() as view:
            before = view.version()
        text = json.dumps(body).encode("utf-8", "surrogatepass")
        answer = client.post(f"{shared.url}/api/readings", content=text, headers=headers)
        seen.append(answer.status_code)
        assert answer.status_code < 500, answer.text
        with shared.parts.store.read() as view:
            after = view.version()
        assert (after > before) == (answer.status_code == 201)

    check()
    assert {409, 422} <= set(seen)


def _echoes(body: dict[str, Any], text: str) -> bool:
    """Whether more than 80 characters of one value came back."""
    long = [str(value) for value in body.values() if len(str(value)) > 81]
    return any(value[:81] in text for value in long)
