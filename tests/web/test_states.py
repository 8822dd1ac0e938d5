"""States that a page can be in, each reached as a person reaches it, with its words: nothing there, wrong, not allowed.

What is not here stands with its page:

one reading                     tests/page/test_reading_pages.py
no services, no reading, unused tests/page/test_vehicle.py
nothing near                    tests/page/test_road.py
a feed never fetched            tests/web/test_your_calendar.py
a machine that stumbles         tests/web/test_health.py
no signal                       tests/browser/test_without_signal.py
letters that came back          tests/web/test_letter_notes.py
two people at once              tests/web/test_findings.py, test_edit_vehicle.py, test_fit_part.py
a service that has no day       tests/actions/test_plan_troubles.py
"""

from __future__ import annotations

from datetime import timedelta

import httpx
import pytest

from fleetcare.fleet.access import Purpose
from tests.page.karst_ridge import every_page
from tests.web.conftest import Served
from tests.web.pages import Page, page_of
from tests.web.stored import everything

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
