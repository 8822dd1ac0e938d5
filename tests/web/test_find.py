"""The page that finds things by words: what is told, to whom, and where each leads."""

from __future__ import annotations

from collections.abc import Iterator

import httpx
import pytest

from fleetcare.actions.look_for import AT_MOST
from fleetcare.actions.order_work import Opening, open_order
from tests.web.conftest import Served, serving
from tests.web.pages import page_of


@pytest.fixture(scope="module")
def closed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The demo garage where only people who came in may look."""
    with serving(tmp_path_factory.mktemp("closed") / "home", open_house=False) as running:
        yield running


def test_every_page_leads_there_and_the_form_is_a_plain_one(shared: Served, client: httpx.Client) -> None:
    for path in ("/", "/vehicles/AN", "/plan", "/handbook", "/find"):
        page = page_of(client.get(shared.url + path))
        assert page.addresses.count("/find") >= 2, f"{path}: in its head and in its foot"
    (form,) = page_of(client.get(f"{shared.url}/find")).forms
    assert (form.action, form.method, form.fields) == ("/find", "get", {"words": ""})


@pytest.mark.parametrize(
    ("typed", "wanted", "leads_to"),
    [
        ("anv", "Vehicles", "/vehicles/AN"),
        ("AN", "Vehicles", "/vehicles/AN"),
        ("anvil axle fl", "Services of vehicles", "/vehicles/AN"),
        ("rear axle", "Services in the Handbook", "/handbook/rear-axle-fluid"),
        ("solheim", "People", ""),
    ],
)
def test_each_kind_is_found_and_leads_somewhere(
    served: Served, client: httpx.Client, typed: str, wanted: str, leads_to: str
) -> None:
    answer = client.get(f"{served.url}/find", params={"words": typed}, headers=served.session("ines"))
    page = page_of(answer)
    assert f"<h2>{wanted}</h2>" in answer.text
    assert not leads_to or leads_to in page.addresses
    for address in set(page.addresses):
        if address.startswith(("/vehicles", "/handbook", "/work")):
            assert client.get(served.url + address, headers=served.session("ines")).status_code == 200, address


def test_a_sheet_and_a_finding_are_found_by_number_and_by_word(served: Served, client: httpx.Client) -> None:
    with served.parts.store.read() as view:
        (anvil,) = view.vehicles(("AN",))
        noted = next(f.text for work in view.work() for f in work.findings)
        line = next(c for c in anvil.components if c.lines)
    order = open_order(
        served.parts.store,
        served.parts.rules,
        Opening("AN", (f"{line.key}/{line.lines[0].service}",)),
        now=served.clock.now(),
        who="ines",
        base_url=served.url,
    )
    number = order.number
    sheet = client.get(f"{served.url}/find", params={"words": f"{number:04d}"}).text
    assert f"Sheet {number:04d}" in sheet
    assert f'href="/work/{number}"' in sheet
    found = client.get(f"{served.url}/find", params={"words": " ".join(noted.split()[:3])}).text
    assert "<h2>Findings</h2>" in found
    assert "/history" in found


def test_a_stranger_in_open_house_is_told_of_no_people_and_behind_a_closed_door_of_nothing(
    shared: Served, closed: Served, client: httpx.Client
) -> None:
    assert "People" not in page_of(client.get(f"{shared.url}/find", params={"words": "solheim"})).words
    away = client.get(f"{closed.url}/find", params={"words": "anvil"})
    assert (away.status_code, away.headers["location"]) == (303, "/sign-in")


@pytest.mark.parametrize("typed", ["", "   ", "%", "'; --", "\u0000", "\ud7ff", "<b>", "x" * 5000, "a " * 300])
def test_whatever_is_typed_is_answered_with_a_page(shared: Served, client: httpx.Client, typed: str) -> None:
    answer = client.get(f"{shared.url}/find", params={"words": typed})
    assert answer.status_code == 200
    assert "<b><b>" not in answer.text
    assert len(answer.content) < 100_000


def test_nothing_found_says_so_with_what_to_do(shared: Served, client: httpx.Client) -> None:
    told = page_of(client.get(f"{shared.url}/find", params={"words": "Xylophone"})).words
    assert "Nothing begins like “Xylophone”. Try fewer letters of a vehicle, a service" in told


def test_many_are_cut_and_that_is_said(shared: Served, client: httpx.Client) -> None:
    answer = client.get(f"{shared.url}/find", params={"words": "fluid"})
    assert "There are more; add a word." in answer.text
    assert answer.text.count('href="/handbook/') <= AT_MOST + 2
