"""How a date came about, over HTTP: the same chain for a person on the page and for a program."""

from __future__ import annotations

from decimal import Decimal
from urllib.parse import quote

import httpx
import pytest

from fleetcare.actions.record_reading import Given, record_reading
from fleetcare.meter.reading import Door
from tests.due.chain_figures import Links, reckon_again
from tests.web.conftest import Served
from tests.web.pages import page_of

AXLE = "/api/due/AN/rear-axle/rear-axle-fluid"


def test_every_line_can_be_reckoned_again_from_what_a_program_gets(shared: Served, client: httpx.Client) -> None:
    links = Links()
    season = shared.parts.rules.priors.season
    with shared.parts.store.read() as view:
        laid_up = {vehicle.mark: vehicle.laid_up for vehicle in view.vehicles()}
    for line in client.get(f"{shared.url}/api/due").json():
        address = f"{shared.url}/api/due/{line['vehicle']}/{line['component']}/{line['service']}"
        answer = client.get(address)
        assert answer.status_code == 200, address
        explained = answer.json()
        assert {name: explained[name] for name in line} == line
        reckon_again(explained["steps"], season, laid_up[line["vehicle"]], links)
    assert links.seen["days"] >= 15
    assert links.seen["window"] >= 40


def test_page_and_program_are_told_the_same_steps_and_changes(served: Served, client: httpx.Client) -> None:
    given = Given("AN", Decimal(113_300), "teo", Door.COMMAND)
    record_reading(
        served.parts.store, served.parts.rules, given, now=served.clock.now(), base_url=served.parts.base_url
    )
    explained = client.get(served.url + AXLE).json()
    words = page_of(client.get(f"{served.url}/vehicles/AN")).words
    for step in explained["steps"]:
        assert " ".join(step["text"].split()) in words.replace("\u2009", " ")
    newest = explained["changes"][0]
    assert (newest["day"], newest["by"]) == ("2026-04-14", "teo")
    assert newest["why"].startswith("the reading of ")
    assert newest["after"]["likely"] == explained["likely"]
    assert f"14 April, {newest['why']}: {newest['change']}." in words


def test_the_chain_stands_folded_under_each_service_and_needs_no_script(shared: Served, client: httpx.Client) -> None:
    page = client.get(f"{shared.url}/vehicles/AN").text
    lines = client.get(f"{shared.url}/api/due?vehicle=AN").json()
    assert page.count("<summary>How this") == len(lines)
    assert "<script" not in page.replace('<script src="/static/find.js', ""), (
        "but for the comfort of / that finds things"
    )


@pytest.mark.parametrize(
    ("address", "part"),
    [
        ("Anvyl/rear-axle/rear-axle-fluid", "Did you mean Anvil?"),
        ("AN/rear-axle/rear-axel-fluid", "There is no service on Anvil called"),
        ("AN/hat/rear-axle-fluid", "There is no service on Anvil called"),
        (f"{quote('A' * 3000)}/x/y", "There is no vehicle called"),
        ("%00/%00/%00", "There is no vehicle called"),
        (f"AN/{quote('<script>')}/x", "There is no service on Anvil called"),
    ],
)
def test_what_is_not_there_is_not_found_in_one_sentence(
    shared: Served, client: httpx.Client, address: str, part: str
) -> None:
    answer = client.get(f"{shared.url}/api/due/{address}")
    assert answer.status_code == 404
    assert part in answer.json()["error"]
    assert len(answer.json()["error"]) < 300


def test_mark_or_name_in_any_case_is_the_same_line(shared: Served, client: httpx.Client) -> None:
    one = client.get(shared.url + AXLE).json()
    assert client.get(f"{shared.url}/api/due/anvil/REAR-AXLE/rear-axle-fluid").json() == one
