"""Pages over real HTTP: who may look, what is found under which address, and where the links lead."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from tests.web.conftest import Served, serving
from tests.web.pages import page_of


@pytest.fixture
def closed(tmp_path: Path) -> Iterator[Served]:
    """The same garage where only people who came in may look."""
    with serving(tmp_path / "closed", open_house=False) as running:
        yield running


def come_in(client: httpx.Client, served: Served) -> None:
    """Ines, who keeps the list, comes in by her link."""
    assert client.post(served.addresses["sign_in"]).status_code == 303


def test_vehicle_page_is_found_by_mark_or_name_whatever_the_case(served: Served, client: httpx.Client) -> None:
    pages = {client.get(f"{served.url}/vehicles/{called}").text for called in ("AN", "an", "Anvil")}
    assert len(pages) == 1
    page = pages.pop()
    assert "<title>Anvil</title>" in page
    # The demo's own row of book.toml, with its reason, and a reading of readings.csv.
    assert "This garage changed" in page
    assert "112\u2009640 mi" in page
    assert "a qualified technician come first" in page


def test_every_vehicle_of_the_garage_has_a_page_under_100_kb_and_stands_in_the_list(
    served: Served, client: httpx.Client
) -> None:
    addresses = re.findall(r'href="(/vehicles/[A-Z]+)"', client.get(f"{served.url}/vehicles").text)
    with served.parts.store.read() as view:
        assert addresses == [f"/vehicles/{vehicle.mark}" for vehicle in view.vehicles()]
    for address in addresses:
        answer = client.get(served.url + address)
        assert answer.status_code == 200
        assert len(answer.content) < 100_000
        assert answer.headers["cache-control"] == "no-store"
        assert "default-src 'none'" in answer.headers["content-security-policy"]


def test_unknown_vehicle_is_not_found_and_the_nearest_is_named(served: Served, client: httpx.Client) -> None:
    answer = client.get(f"{served.url}/vehicles/Anvill")
    assert answer.status_code == 404
    assert "Anvil?" in answer.text
    assert '<a class="btn" href="/">Road ahead</a>' in answer.text
    assert 'class="btn"' not in client.get(f"{served.url}/o/nokey").text


def test_links_of_the_front_page_and_of_a_vehicle_page_lead_somewhere(served: Served, client: httpx.Client) -> None:
    for first in ("/", "/vehicles/BE"):
        page = client.get(served.url + first).text
        for address in sorted(set(re.findall(r'href="(/[^"#]*)"', page))):
            assert client.get(served.url + address).status_code in (200, 303), address


@pytest.mark.parametrize("path", ["/", "/vehicles", "/vehicles/AN", "/vehicles/ZZ"])
def test_closed_garage_sends_strangers_to_the_door(closed: Served, client: httpx.Client, path: str) -> None:
    answer = client.get(closed.url + path)
    assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in")
    come_in(client, closed)
    assert client.get(closed.url + path).status_code == (404 if path.endswith("ZZ") else 200)


def test_only_those_who_may_enter_see_the_button(served: Served, client: httpx.Client) -> None:
    address = f"{served.url}/vehicles/BE"
    assert "/vehicles/BE/reading" not in client.get(address).text
    come_in(client, served)
    page = client.get(address).text
    assert 'href="/vehicles/BE/reading"' in page
    assert client.get(f"{address}/reading").status_code == 200


def test_reading_entered_stands_on_the_vehicle_page(served: Served, client: httpx.Client) -> None:
    come_in(client, served)
    address = f"{served.url}/vehicles/BE"
    assert "84\u2009210" not in client.get(address).text
    (form,) = page_of(client.get(f"{address}/reading")).forms
    saved = client.post(f"{address}/reading", data=form.filled(odo="84210"))
    assert saved.status_code in (200, 303)
    page = client.get(address).text
    assert "84\u2009210 mi" in page
    assert "read 14\u00a0April" in page or ">14 April</span>" in page


def test_pages_of_lists_that_are_asked_wrongly_begin_at_the_beginning(served: Served, client: httpx.Client) -> None:
    for odd in ("?start=abc&readings=-1", "?start=9999999", "?start=99999999999999&readings=99999"):
        assert client.get(f"{served.url}/vehicles/AN{odd}").text == client.get(f"{served.url}/vehicles/AN").text
    assert client.get(f"{served.url}/vehicles?start=500").text == client.get(f"{served.url}/vehicles").text
