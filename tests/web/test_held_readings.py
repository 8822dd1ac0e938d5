"""Readings kept aside: seen by who may settle them, settled by a form, and never gone by themselves."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import httpx

from fleetcare.meter.reading import ReadingState
from tests.web.conftest import Served
from tests.web.pages import Page, page_of
from tests.web.stored import everything, reading_of

HELD = "173250"
"""Lantern, 11 September 2025, as the demo files have it: 137 250 with two digits exchanged."""


def page(client: httpx.Client, served: Served, person: str) -> Page:
    return page_of(client.get(f"{served.url}/readings/held", headers=served.session(person)))


def plain(text: str) -> str:
    return text.replace("\u2009", " ").replace("\u00a0", " ")


def test_who_answers_for_a_vehicle_sees_what_waits_and_why(shared: Served, client: httpx.Client) -> None:
    words = plain(page(client, shared, "ines").words)
    assert "One reading is kept aside." in words
    assert "Lantern: 173 250 mi" in words
    assert "Read 11 September 2025 by Piet." in words
    assert "It was 137 250 mi" in words
    assert "No reading waits." in page(client, shared, "rufus").words
    assert client.get(f"{shared.url}/readings/held").headers["location"] == "/sign-in"


def test_the_road_ahead_leads_there(shared: Served, client: httpx.Client) -> None:
    road = page_of(client.get(shared.url, headers=shared.session("ines")))
    assert "/readings/held" in road.addresses
    assert "/readings/held" not in page_of(client.get(shared.url)).addresses


def test_held_for_a_year_it_still_waits(served: Served, client: httpx.Client) -> None:
    served.clock.move(timedelta(days=80))
    assert "Lantern: 173 250 mi" in plain(page(client, served, "ines").words)


def test_the_guess_stands_in_its_place_however_often_it_is_sent(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    form = page_of(client.get(f"{served.url}/readings/held", headers=ines)).forms[0]
    assert form.buttons[0]["value"] == "guess"
    told = []
    for _ in range(3):
        answer = client.post(served.url + form.action, data=form.filled(), headers=ines)
        assert answer.status_code == 303
        told.append(plain(page_of(client.get(served.url + answer.headers["location"], headers=ines)).words))
    assert all("Lantern: 137 250 mi stands in place of 173 250 mi." in words for words in told)
    assert reading_of(served.parts.store, "LA", HELD).state is ReadingState.SUPERSEDED
    instead = reading_of(served.parts.store, "LA", "137250")
    assert (instead.state, instead.vouched_by) == (ReadingState.USED, "ines")


def test_it_was_something_else_is_taken_if_it_can_be(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    form = page_of(client.get(f"{served.url}/readings/held", headers=ines)).forms[1]
    before = everything(served.parts.store)
    for typed, told in (
        ("", "There is no number"),
        ("137k", "not a number"),
        ("173 250", "the reading that is held"),
        ("990000", "does not lie between"),
        ("٣", "not a number"),
    ):
        answer = client.post(served.url + form.action, data=form.filled(meant=typed), headers=ines)
        assert answer.status_code == 422
        assert told in plain(page_of(answer).words), typed
    assert everything(served.parts.store) == before
    answer = client.post(served.url + form.action, data=form.filled(meant="137 245"), headers=ines)
    assert answer.status_code == 303
    assert reading_of(served.parts.store, "LA", "137245").state is ReadingState.USED


def test_set_aside_is_for_good(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    form = page_of(client.get(f"{served.url}/readings/held", headers=ines)).forms[0]
    assert client.post(served.url + form.action, data={**form.fields, "how": "wrong"}, headers=ines).status_code == 303
    assert reading_of(served.parts.store, "LA", HELD).state is ReadingState.SUPERSEDED
    assert "No reading waits." in page(client, served, "ines").words


def test_who_may_not_settle_changes_nothing(shared: Served, client: httpx.Client) -> None:
    ines, rufus = shared.session("ines"), shared.session("rufus")
    form = page_of(client.get(f"{shared.url}/readings/held", headers=ines)).forms[0]
    before = everything(shared.parts.store)
    where = shared.url + form.action
    assert client.post(where, data=form.filled()).status_code == 403
    # Rufus's own session does not carry the seal of Ines' page; and with its own seal Rufus still may not.
    assert client.post(where, data=form.filled(), headers=rufus).status_code == 403
    assert client.post(where, data=form.filled(**shared.sealed(rufus)), headers=rufus).status_code == 403
    for number in ("0", "x", "9" * 30, "%00"):
        assert client.post(f"{shared.url}/readings/held/{number}", data=form.filled(), headers=ines).status_code == 404
    assert client.post(where, data={**form.fields, "how": "maybe"}, headers=ines).status_code == 422
    assert client.post(where, data={"how": "right", "vehicle": "LA"}, headers=ines).status_code == 403
    assert everything(shared.parts.store) == before
    assert reading_of(shared.parts.store, "LA", HELD).value == Decimal(HELD)
