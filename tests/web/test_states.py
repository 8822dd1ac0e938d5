"""States that a page can be in, each reached as a person reaches it, with its words: nothing there, wrong, not allowed.

Which states there are, with their words and where each is reached: `states.py`.
"""

from __future__ import annotations

from datetime import timedelta

import httpx
import pytest

from fleetcare.errors import StoreBusy
from fleetcare.fleet.access import Purpose
from tests.page.karst_ridge import every_page
from tests.web.conftest import Served
from tests.web.pages import Page, page_of
from tests.web.stored import everything
from tests.web.test_health import falling

WORDS_OF_PAGES = {
    "road-empty": "No lanes yet.",
    "bay-days-empty": "window is open: Anvil, ",
    "findings-none": "No findings open.",
    "find-nothing": "Nothing begins like “xylophone”.",
    "not-found": "Vehicles are sold and sheets renumbered; start from the road ahead.",
    "no-right": "That page is Marit’s Ines can let you in.",
    "link-over": "was used already, or its time is over. Ask who keeps the list for a new one; nothing is lost.",
    "trouble": "Your reading was not saved. Write it down and try in a minute.",
    "busy": "Your reading was not saved. Go back and send it again in a minute.",
}
PAGES = every_page()


@pytest.mark.parametrize("name", WORDS_OF_PAGES)
def test_each_state_has_its_words(name: str) -> None:
    assert WORDS_OF_PAGES[name] in Page(PAGES[name]).words


def test_trouble_names_whom_to_tell_and_the_mark() -> None:
    assert "tell Ines: 7K3" in Page(PAGES["trouble"]).words


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"odo": ""}, "Type what the dial shows, digits only."),
        ({"odo": "84k"}, "That is not a number: “84k”. Digits only, please."),
        ({"odo": "84210", "on": "2026-05-01"}, "That day is still to come."),
    ],
)
def test_what_is_typed_wrong_is_said_at_its_field_and_nothing_is_lost(
    shared: Served, client: httpx.Client, typed: dict[str, str], told: str
) -> None:
    address = shared.odometer("BE")
    (form, *_) = page_of(client.get(address)).forms
    before = everything(shared.parts.store)
    answer = client.post(shared.url + form.action, data=form.filled(**typed))
    assert answer.status_code == 422
    assert told in page_of(answer).words
    assert page_of(answer).forms[0].fields["odo"] == typed["odo"], "the digits are still there"
    assert everything(shared.parts.store) == before


def test_an_address_that_is_not_there_leads_back_to_the_road(shared: Served, client: httpx.Client) -> None:
    answer = client.get(f"{shared.url}/nothing-here")
    assert answer.status_code == 404
    assert "There is no such page" in page_of(answer).words
    assert "/" in page_of(answer).addresses


def test_a_link_whose_time_is_over_says_so_and_what_to_do(served: Served, client: httpx.Client) -> None:
    key = served.key(Purpose.ODOMETER, mark="BE", lasts=timedelta(days=1))
    served.clock.move(timedelta(days=2))
    answer = client.get(f"{served.url}/o/{key}")
    assert answer.status_code == 404
    assert "was used already, or its time is over" in page_of(answer).words


def test_a_link_for_another_vehicle_says_for_which_it_is(served: Served, client: httpx.Client) -> None:
    with served.parts.store.read() as view:
        anvils = max(view.readings(("AN",)), key=lambda each: each.on)
    before = everything(served.parts.store)
    for number in (str(anvils.id), "999999"):
        answer = client.post(f"{served.odometer('BE')}/take-back", data={"form": number})
        assert answer.status_code == 403
        assert "This link is for Bellows alone." in page_of(answer).words
    assert everything(served.parts.store) == before


def test_a_machine_that_stumbles_says_what_was_not_saved(shared: Served, client: httpx.Client) -> None:
    with falling(shared) as (url, store):
        address = url + shared.odometer("BE").removeprefix(shared.url)
        store.trouble = RuntimeError("stumbled")
        answer = client.post(address, data={"odo": "84210"})
    assert answer.status_code == 500
    words = page_of(answer).words
    assert "The garage’s machine stumbled" in words
    assert "Your reading was not saved. Write it down and try in a minute." in words


def test_a_garage_that_is_busy_says_what_was_not_saved(shared: Served, client: httpx.Client) -> None:
    with falling(shared) as (url, store):
        address = url + shared.odometer("BE").removeprefix(shared.url)
        store.trouble = StoreBusy("busy")
        answer = client.post(address, data={"odo": "84210"})
    assert answer.status_code == 503
    words = page_of(answer).words
    assert "The garage is busy just now" in words
    assert "Your reading was not saved. Go back and send it again in a minute." in words


def test_who_has_no_right_is_told_who_can_let_them_in(shared: Served, client: httpx.Client) -> None:
    answer = client.get(f"{shared.url}/vehicles/AN/reading", headers=shared.session("piet"))
    assert answer.status_code == 403
    assert "can let you in" in page_of(answer).words


def test_pages_say_how_fresh_their_figures_are(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    for path in ("/", "/plan"):
        assert "Figures from 09:00, last reading" in page_of(client.get(served.url + path, headers=ines)).words
    before = page_of(client.get(f"{served.url}/vehicles/BE", headers=ines)).words
    assert "Figures from 09:00, last reading 12 March." in before
    served.clock.move(timedelta(minutes=40))
    (form, *_) = page_of(client.get(served.odometer("BE"))).forms
    assert client.post(served.url + form.action, data=form.filled(odo="84210")).status_code == 200
    after = page_of(client.get(f"{served.url}/vehicles/BE", headers=ines)).words
    assert "Figures from 09:40, last reading 14 April." in after
