"""Changing a vehicle and saying that it is gone, over HTTP: what the answer says, what is refused, what is undone."""

from __future__ import annotations

import httpx
import pytest

from tests.web.conftest import Served
from tests.web.pages import PageForm, page_of
from tests.web.stored import everything


def form_at(served: Served, client: httpx.Client, path: str, headers: dict[str, str]) -> PageForm:
    page = page_of(client.get(served.url + path, headers=headers))
    return next(form for form in page.forms if form.action.startswith(path.rpartition("/")[0]))


def sent(served: Served, client: httpx.Client, path: str, headers: dict[str, str], **typed: object) -> httpx.Response:
    form = form_at(served, client, path, headers)
    return client.post(served.url + form.action, data={**form.filled(), **typed}, headers=headers)


def test_saved_as_it_stands_nothing_changes(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    before = everything(served.parts.store)
    answer = sent(served, client, "/vehicles/AN/edit", ines, driver=["ines", "teo"], kind="light truck", keeper="ines")
    assert answer.status_code == 200
    assert "Nothing was changed" in page_of(answer).words
    assert everything(served.parts.store) == before


def test_the_answer_says_what_was_changed_and_which_dates_moved(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    answer = sent(
        served, client, "/vehicles/AN/edit", ines,
        name="Hammer", driver=["noor"], keeper="teo", part_track="4", vin="1M8GDM9AXKP042789",
    )  # fmt: skip
    words = page_of(answer).words
    assert "Name: was Anvil, is Hammer." in words
    assert "Keeper: was Ines Calloway, is Teo Lindqvist." in words
    assert "Drivers: was Ines Calloway and Teo Lindqvist, is Noor Haddad." in words
    assert "Its VIN is kept as you gave it." in words
    assert "Dates that moved" in words
    with served.parts.store.read() as view:
        (hammer,) = view.vehicles(("AN",))
    assert (hammer.name, hammer.keeper, hammer.drivers) == ("Hammer", "teo", ("noor",))


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"name": ""}, "The name is empty."),
        ({"name": "Bellows"}, "stands here already"),
        ({"kind": "boat"}, "What is it?"),
        ({"in-service": "2027-01-01"}, "still to come"),
        ({"driver": "nobody"}, "nobody called"),
        ({"keeper": "nobody"}, "keeps no vehicle here"),
        ({"part_track": "5"}, "no part of"),
        ({"yearly": "much"}, "not a number"),
        ({"stand": "older", "name": "Hammer"}, "meanwhile"),
    ],
)
def test_what_is_wrong_is_said_at_its_field_with_all_that_was_typed(
    served: Served, client: httpx.Client, typed: dict[str, str], told: str
) -> None:
    ines = served.session("ines")
    before = everything(served.parts.store)
    answer = sent(served, client, "/vehicles/AN/edit", ines, **{"called": "the big one", **typed})
    assert answer.status_code in (409, 422)
    assert told in page_of(answer).words
    assert 'value="the big one"' in answer.text
    assert everything(served.parts.store) == before


def test_a_sale_and_its_undoing(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    answer = sent(served, client, "/vehicles/PO/sell", ines)
    assert "Pocket has left the fleet" in page_of(answer).words
    assert "Pocket" not in page_of(client.get(served.url, headers=ines)).words
    assert "Pocket" not in page_of(client.get(f"{served.url}/readings", headers=ines)).words
    listed = page_of(client.get(f"{served.url}/vehicles", headers=ines)).words
    assert "Out of the fleet since 14 April." in listed
    page = page_of(client.get(f"{served.url}/vehicles/PO", headers=ines))
    assert "/vehicles/PO/reading" not in page.addresses
    assert client.get(f"{served.url}/vehicles/PO/history", headers=ines).status_code == 200
    assert client.get(f"{served.url}/vehicles/PO/history.csv", headers=ines).text.count("\n") > 2
    assert client.get(served.odometer("PO")).status_code == 404
    before = everything(served.parts.store)
    for ask in (
        client.get(f"{served.url}/vehicles/PO/reading", headers=ines),
        client.post(f"{served.url}/vehicles/PO/reading", headers=ines, data=served.sealed(ines) | {"odo": "61300"}),
    ):
        assert ask.status_code == 409
        assert "Pocket is out of the fleet since 14 April and takes no readings." in page_of(ask).words
    assert everything(served.parts.store) == before
    answer = sent(served, client, "/vehicles/PO/sell", ines)
    assert "Pocket is here after all" in page_of(answer).words
    assert client.get(f"{served.url}/vehicles/PO/reading", headers=ines).status_code == 200
    assert "Pocket" in page_of(client.get(served.url, headers=ines)).words


def test_a_sale_that_cannot_be_is_refused_on_its_page(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    before = everything(served.parts.store)
    for day, told in (("2026-04-15", "still to come"), ("2026-04-01", "still read on"), ("", "Give the day")):
        answer = sent(served, client, "/vehicles/PO/sell", ines, on=day)
        assert answer.status_code == 422
        assert told in page_of(answer).words
    assert everything(served.parts.store) == before


def test_only_its_keeper_sees_the_way_there(served: Served, client: httpx.Client) -> None:
    assert "/vehicles/AN/edit" in client.get(f"{served.url}/vehicles/AN", headers=served.session("ines")).text
    for headers in ({}, served.session("noor")):
        assert "/vehicles/AN/edit" not in client.get(f"{served.url}/vehicles/AN", headers=headers).text
