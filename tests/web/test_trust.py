"""The page `/trust` over real HTTP: who may look, what it says, and that it is worked out once."""

from __future__ import annotations

from collections.abc import Iterator

import httpx
import pytest

from fleetcare.actions.look_back import look_back
from fleetcare.due.past_windows import Kind
from tests.web.conftest import TUESDAY, Served, serving


@pytest.fixture(scope="module")
def closed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The demo garage where only people who came in may look."""
    with serving(tmp_path_factory.mktemp("closed") / "home", open_house=False) as running:
        yield running


def test_the_page_says_what_the_windows_of_the_past_say(served: Served, client: httpx.Client) -> None:
    answer = client.get(f"{served.url}/trust")
    assert answer.status_code == 200
    assert len(answer.content) < 100_000
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    rate = look_back(served.parts.store, served.parts.rules, now=TUESDAY).found.rate(Kind.MILESTONE)
    assert rate.closed > 100
    assert f"Of {rate.closed} past windows for milestones {rate.held} held" in answer.text
    assert answer.text.count('role="img"') >= 4


def test_a_closed_garage_shows_it_only_to_people_who_came_in(closed: Served, client: httpx.Client) -> None:
    answer = client.get(f"{closed.url}/trust")
    assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in")
    assert client.get(f"{closed.url}/trust", headers=closed.session("piet")).status_code == 200


def test_the_front_page_leads_there(served: Served, client: httpx.Client) -> None:
    assert 'href="/trust"' in client.get(f"{served.url}/").text


def test_what_was_worked_out_is_kept_until_something_is_written(served: Served) -> None:
    store, rules = served.parts.store, served.parts.rules
    first = look_back(store, rules, now=TUESDAY, at_most=30)
    assert look_back(store, rules, now=TUESDAY, at_most=30, kept=first) is first
    assert look_back(store, rules, now=TUESDAY, at_most=31, kept=first) is not first
    served.session("ines")  # makes a key, and so writes
    assert look_back(store, rules, now=TUESDAY, at_most=30, kept=first) is not first
