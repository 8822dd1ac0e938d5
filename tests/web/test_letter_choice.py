"""Your letters: their day, hour, zone and quiet hours are chosen on a page, by whose they are and nobody else."""

from __future__ import annotations

import httpx
import pytest

from fleetcare.actions.write_letters import write_garage_letter
from fleetcare.fleet.people import Person
from tests.web.conftest import Served
from tests.web.pages import PageForm, page_of
from tests.web.stored import everything

Headers = dict[str, str]


def form_of(served: Served, client: httpx.Client, headers: Headers) -> PageForm:
    answer = client.get(f"{served.url}/letters", headers=headers)
    assert answer.status_code == 200
    (form,) = [each for each in page_of(answer).forms if each.action == "/letters"]
    return form


def ines_in(served: Served) -> Person:
    with served.parts.store.read() as view:
        return next(person for person in view.people() if person.key == "ines")


GOOD = {"day": "4", "hour": "18", "zone": "Europe/Berlin", "from": "22", "until": "6"}


def test_day_hour_zone_and_quiet_hours_are_chosen(served: Served, client: httpx.Client) -> None:
    headers = served.session("ines")
    form = form_of(served, client, headers)
    answer = client.post(f"{served.url}/letters", data=form.fields | GOOD, headers=headers)
    assert (answer.status_code, answer.headers["location"]) == (303, "/letters?saved=1")
    ines = ines_in(served)
    assert (ines.letter_weekday, ines.letter_hour, ines.zone) == (4, 18, "Europe/Berlin")
    assert (ines.quiet_from, ines.quiet_until) == (22, 6)
    shown = client.get(f"{served.url}/letters?saved=1", headers=headers)
    assert "Fridays at 18:00, Europe/Berlin, quiet from 22 to 6" in page_of(shown).words


def test_never_is_a_choice(served: Served, client: httpx.Client) -> None:
    headers = served.session("ines")
    form = form_of(served, client, headers)
    client.post(f"{served.url}/letters", data=form.fields | GOOD | {"day": "never"}, headers=headers)
    assert ines_in(served).letter_weekday is None


@pytest.mark.parametrize("wrong", [{"zone": "Mars/Olympus"}, {"hour": "24"}, {"day": "7"}, {"from": "x"}, {"zone": ""}])
def test_what_cannot_be_is_told_and_changes_nothing(
    served: Served, client: httpx.Client, wrong: dict[str, str]
) -> None:
    headers = served.session("ines")
    form = form_of(served, client, headers)
    before = everything(served.parts.store)
    answer = client.post(f"{served.url}/letters", data=form.fields | GOOD | wrong, headers=headers)
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text
    assert everything(served.parts.store) == before


def test_a_stranger_and_a_form_from_elsewhere_change_nothing(served: Served, client: httpx.Client) -> None:
    headers = served.session("ines")
    before = everything(served.parts.store)
    assert client.get(f"{served.url}/letters").headers["location"] == "/sign-in"
    assert client.post(f"{served.url}/letters", data=GOOD).status_code == 403
    assert client.post(f"{served.url}/letters", data=GOOD | {"seal": "x"}, headers=headers).status_code == 403
    assert everything(served.parts.store) == before


def test_the_weekly_letter_leads_there(served: Served) -> None:
    parts = served.parts
    letter = write_garage_letter(parts.store, parts.rules, parts.desk, "ines", now=served.clock.now())
    assert letter is not None
    assert f"{parts.base_url}/letters" in letter.plain
