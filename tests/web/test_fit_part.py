"""A part was fitted, over HTTP: in the place of one that goes or waits, or as one more."""

from __future__ import annotations

import httpx
import pytest

from tests.web.conftest import Served
from tests.web.pages import page_of
from tests.web.stored import everything
from tests.web.test_edit_vehicle import form_at
from tests.web.test_edit_vehicle import sent as sent_whole

PAGE = "/vehicles/BE/fit"
"""Of Bellows, which stands on no open sheet."""


def sent(served: Served, client: httpx.Client, headers: dict[str, str], **typed: object) -> httpx.Response:
    """The form as it comes, with what is said."""
    return sent_whole(served, client, PAGE, headers, **{"age": "new", "old": "gone", **typed})


def test_a_new_one_takes_the_place_of_one_that_waits_and_the_answer_says_so(
    served: Served, client: httpx.Client
) -> None:
    ines = served.session("ines")
    answer = sent(served, client, ines, part="rear-axle", old="shelf", on="2026-04-10", dial="84 000")
    words = page_of(answer).words
    assert answer.status_code == 200
    assert "fitted to Bellows, 10 April, new." in words
    assert "The one before it lies on the shelf." in words
    assert "Dates that are new or moved" in words
    with served.parts.store.read() as view:
        bellows, shelf = view.vehicles(("BE", "SHELF"))
        new, old = bellows.component("rear-axle"), shelf.component("rear-axle")
        assert new is not None
        assert old is not None
        assert f"{new.fitted_on}" == "2026-04-10"
        assert (new.facts, new.fluid_grade) == ((), ""), "what was stamped on the one before says nothing of it"
        assert old.facts
        assert max(each.value for each in view.readings(("BE",))) == 84_000
    back = sent_whole(served, client, "/vehicles/LA/move", ines, component="SHELF/rear-axle", key="spare-axle", swap="")
    assert "from Shelf to Lantern" in page_of(back).words


def test_one_more_of_unknown_age_wants_a_look_and_is_asked_only_once(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    form = form_at(served, client, PAGE, ines).filled(part="propeller-shaft", age="used", old="gone")
    answer = client.post(served.url + PAGE, data=form, headers=ines)
    assert "of unknown age: a look comes first" in page_of(answer).words
    before = everything(served.parts.store)
    again = client.post(served.url + PAGE, data=form, headers=ines)
    assert again.status_code == 409
    assert everything(served.parts.store) == before


def test_what_is_there_under_another_key_is_not_offered_as_one_more(shared: Served, client: httpx.Client) -> None:
    """The club calls Anvil's cooling system otherwise than the book would; a second one cannot be fitted."""
    page = client.get(f"{shared.url}/vehicles/AN/fit", headers=shared.session("ines")).text
    assert page.count("Cooling system") == 1
    assert "Battery" in page.partition("As one more")[2]


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({}, "Choose what was fitted."),
        ({"part": "wings"}, "There is no part"),
        ({"part": "rear-axle", "age": "old"}, "Choose one of them."),
        ({"part": "rear-axle", "old": "sold"}, "Choose one of them."),
        ({"part": "rear-axle", "on": "2026-05-01"}, "still to come"),
        ({"part": "rear-axle", "on": "1950-05-01"}, "came into service on"),
        ({"part": "rear-axle", "dial": "12"}, "Bellows:"),
        ({"part": "rear-axle", "stand": "older"}, "meanwhile"),
    ],
)
def test_what_cannot_be_is_said_on_the_page_and_changes_nothing(
    shared: Served, client: httpx.Client, typed: dict[str, str], told: str
) -> None:
    ines = shared.session("ines")
    before = everything(shared.parts.store)
    form = {**form_at(shared, client, PAGE, ines).filled(), "age": "new", "old": "gone"}
    answer = client.post(shared.url + PAGE, data={**form, **typed}, headers=ines)
    assert answer.status_code in (409, 422)
    assert told in page_of(answer).words
    assert everything(shared.parts.store) == before
