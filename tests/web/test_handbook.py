"""The Handbook over real HTTP: who may look, and what stands there."""

from __future__ import annotations

from collections.abc import Iterator

import httpx
import pytest

from tests.web.conftest import Served, serving


@pytest.fixture(scope="module")
def closed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The demo garage where only people who came in may look."""
    with serving(tmp_path_factory.mktemp("closed") / "home", open_house=False) as running:
        yield running


def test_the_book_of_the_garage_is_listed_with_what_it_changed(served: Served, client: httpx.Client) -> None:
    answer = client.get(f"{served.url}/handbook")
    assert answer.status_code == 200
    assert len(answer.content) < 120_000
    assert answer.text.count('href="/handbook/') >= len(served.parts.rules.book.rows)
    assert "changed here: repeat distance under towing" in answer.text
    assert 'href="/vehicles/AN"' in answer.text


def test_a_row_has_its_page_and_another_name_has_none(served: Served, client: httpx.Client) -> None:
    page = client.get(f"{served.url}/handbook/rear-axle-fluid")
    assert page.status_code == 200
    assert "Long grades to Hollow Lake" in page.text
    assert "Fill plug out" in page.text
    missing = client.get(f"{served.url}/handbook/rear-axle-flood")
    assert missing.status_code == 404
    assert client.get(f"{served.url}/handbook/engine-oil-shuttle").status_code == 200  # a row of the garage's own


def test_a_closed_garage_shows_it_only_to_people_who_came_in(closed: Served, client: httpx.Client) -> None:
    for path in ("/handbook", "/handbook/rear-axle-fluid"):
        answer = client.get(f"{closed.url}{path}")
        assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in")
        assert client.get(f"{closed.url}{path}", headers=closed.session("piet")).status_code == 200


def test_the_head_leads_there(served: Served, client: httpx.Client) -> None:
    assert 'href="/handbook"' in client.get(f"{served.url}/").text
