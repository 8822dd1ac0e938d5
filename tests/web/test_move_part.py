"""Moving a component over HTTP: to another vehicle, onto the shelf and back, with what the dials showed."""

from __future__ import annotations

import httpx
import pytest

from tests.web.conftest import Served
from tests.web.pages import page_of
from tests.web.stored import everything
from tests.web.test_edit_vehicle import form_at
from tests.web.test_edit_vehicle import sent as sent_whole

PAGE = "/vehicles/BE/move"
"""Of Bellows, which stands on no open sheet."""


def sent(served: Served, client: httpx.Client, path: str, headers: dict[str, str], **typed: object) -> httpx.Response:
    """The form with nothing ticked that is not said."""
    return sent_whole(served, client, path, headers, **{"swap": "", **typed})


def test_it_goes_to_another_vehicle_and_the_answer_says_what_it_took_along(
    served: Served, client: httpx.Client
) -> None:
    ines = served.session("ines")
    answer = sent(served, client, PAGE, ines, component="rear-axle", to="LA", key="spare-axle", dial="84 000")
    words = page_of(answer).words
    assert answer.status_code == 200
    assert "Rear axle: from Bellows to Lantern, 14 April." in words
    assert "counted from" in words
    with served.parts.store.read() as view:
        bellows, lantern = view.vehicles(("BE", "LA"))
        assert bellows.component("rear-axle") is None
        assert lantern.component("spare-axle") is not None
        assert max(each.value for each in view.readings(("BE",))) == 84_000


def test_onto_the_shelf_and_from_there_onto_another_one(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    assert sent(served, client, PAGE, ines, component="rear-axle", to="SHELF").status_code == 200
    assert "Components that lie here: 1." in page_of(client.get(f"{served.url}/vehicles", headers=ines)).words
    assert "Shelf" not in page_of(client.get(served.url, headers=ines)).words
    page = client.get(f"{served.url}/vehicles/LA/move", headers=ines)
    assert "From the shelf: Rear axle" in page_of(page).words
    answer = sent(served, client, "/vehicles/LA/move", ines, component="SHELF/rear-axle", key="spare-axle")
    assert "from Shelf to Lantern" in page_of(answer).words
    with served.parts.store.read() as view:
        (lantern,) = view.vehicles(("LA",))
    assert lantern.component("spare-axle") is not None


def test_two_change_places_once_however_often_that_is_sent(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    form = form_at(served, client, PAGE, ines).filled(component="engine", to="LA", swap="yes")
    assert client.post(served.url + PAGE, data=form, headers=ines).status_code == 200
    before = everything(served.parts.store)
    again = client.post(served.url + PAGE, data=form, headers=ines)
    assert again.status_code == 409
    assert "meanwhile" in page_of(again).words
    assert everything(served.parts.store) == before


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"to": "LA"}, "Choose a component."),
        ({"component": "rear-axle"}, "Choose where it goes."),
        ({"component": "rear-axle", "to": "XX"}, "Choose where it goes."),
        ({"component": "sails", "to": "LA"}, "There is no component"),
        ({"component": "engine", "to": "LA"}, "called engine already"),
        ({"component": "rear-axle", "to": "LA", "key": "Spare Axle"}, "cannot be a key"),
        ({"component": "rear-axle", "to": "SHELF", "on": "2026-05-01"}, "still to come"),
        ({"component": "rear-axle", "to": "SHELF", "dial": "12"}, "Bellows:"),
        ({"component": "rear-axle", "to": "SHELF", "dial-there": "12"}, "Shelf has no dial."),
        ({"component": "SHELF/rear-axle"}, "There is no vehicle"),
    ],
)
def test_what_cannot_be_is_said_on_the_page_and_changes_nothing(
    served: Served, client: httpx.Client, typed: dict[str, str], told: str
) -> None:
    ines = served.session("ines")
    before = everything(served.parts.store)
    form = {name: value for name, value in form_at(served, client, PAGE, ines).filled().items() if name != "swap"}
    answer = client.post(served.url + PAGE, data={**form, **typed}, headers=ines)
    assert answer.status_code == 422
    assert told in page_of(answer).words
    assert everything(served.parts.store) == before


def test_a_keeper_moves_only_among_their_own(served: Served, client: httpx.Client) -> None:
    teo = served.session("teo")
    page = page_of(client.get(f"{served.url}/vehicles/BE/move", headers=teo)).words
    assert "Anvil" not in page
    answer = sent(served, client, "/vehicles/BE/move", teo, component="rear-axle", to="AN")
    assert answer.status_code == 422


def test_the_shelf_is_neither_sold_nor_taken_back(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    sent(served, client, PAGE, ines, component="rear-axle", to="SHELF")
    assert "/vehicles/SHELF/sell" not in client.get(f"{served.url}/vehicles/SHELF", headers=ines).text
    answer = sent(served, client, "/vehicles/SHELF/sell", ines)
    assert answer.status_code == 422
    assert "no vehicle" in page_of(answer).words
