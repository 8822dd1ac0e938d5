"""Stickers for the glovebox: made, printed once, used, seen in use, ended."""

from __future__ import annotations

from datetime import timedelta

import httpx

from fleetcare.chance import key_hash
from fleetcare.fleet.access import Purpose
from fleetcare.page.drawings.code import square_code
from tests.web.conftest import Served
from tests.web.pages import Page, PageForm, page_of
from tests.web.stored import everything, reading_of


def page(client: httpx.Client, served: Served, headers: dict[str, str]) -> Page:
    return page_of(client.get(f"{served.url}/stickers", headers=headers))


def made(client: httpx.Client, served: Served, headers: dict[str, str], *marks: str) -> httpx.Response:
    form = page(client, served, headers).forms[0]
    fields = {name: value for name, value in form.fields.items() if name != "vehicle"}
    return client.post(
        f"{served.url}/stickers", data={**fields, "vehicle": list(marks), "copies": "2"}, headers=headers
    )


def ending(page: Page) -> list[PageForm]:
    return [form for form in page.forms if form.action.endswith("/end")]


def new_key(served: Served, before: set[str]) -> str:
    """The key that was made last: keys in tests are numbered."""
    with served.parts.store.read() as view:
        hashes = {key.hash for key in view.keys(Purpose.ODOMETER)} - before
    (found,) = [k for n in range(1, 400) if key_hash(k := f"key-{n:06d}".ljust(43, "-")) in hashes]
    return found


def known(served: Served) -> set[str]:
    with served.parts.store.read() as view:
        return {key.hash for key in view.keys(Purpose.ODOMETER)}


def test_a_sheet_has_the_code_that_opens_the_vehicles_page(served: Served, client: httpx.Client) -> None:
    teo, before = served.session("teo"), known(served)
    sheet = made(client, served, teo, "BE")
    key = new_key(served, before)
    assert sheet.status_code == 200
    assert sheet.text.count(square_code(f"{served.url}/o/{key}").path) == 2
    assert key not in sheet.text, "nobody reads it off the page but by the code"
    assert page_of(sheet).words.count("Odometer, please") == 2
    # It works without an end, and asks who is there.
    served.clock.move(timedelta(days=2000))
    opened = client.get(f"{served.url}/o/{key}")
    assert "Who are you?" in page_of(opened).words
    assert page_of(opened).forms[0].choices["who"] == ["teo", "ines", ""]


def test_who_stands_there_is_kept_with_the_reading(served: Served, client: httpx.Client) -> None:
    form = page_of(client.get(served.odometer("BE"))).forms[0]
    client.post(served.odometer("BE"), data=form.filled(odo="84210", who="ines"))
    assert reading_of(served.parts.store, "BE", "84210").by == "ines"
    form = page_of(client.get(served.odometer("AN"))).forms[0]
    client.post(served.odometer("AN"), data=form.filled(odo="113100", who="noor"))
    assert reading_of(served.parts.store, "AN", "113100").by == "sticker", "Noor does not drive Anvil"


def test_sent_twice_it_makes_one_sheet(served: Served, client: httpx.Client) -> None:
    teo = served.session("teo")
    form = page(client, served, teo).forms[0]
    data = {**{n: v for n, v in form.fields.items() if n != "vehicle"}, "vehicle": ["BE"], "copies": "1"}
    first = client.post(f"{served.url}/stickers", data=data, headers=teo)
    before = everything(served.parts.store)
    again = client.post(f"{served.url}/stickers", data=data, headers=teo)
    assert (first.status_code, again.status_code) == (200, 409)
    assert "made or ended meanwhile" in page_of(again).words
    assert everything(served.parts.store) == before


def test_a_sticker_in_use_is_seen_and_ended_at_once(served: Served, client: httpx.Client) -> None:
    teo, before = served.session("teo"), known(served)
    made(client, served, teo, "BE")
    key = new_key(served, before)
    assert "last used" not in page(client, served, teo).words
    form = page_of(client.get(f"{served.url}/o/{key}")).forms[0]
    client.post(f"{served.url}/o/{key}", data=form.filled(odo="84210"))
    shown = page(client, served, teo)
    assert "last used 14 April" in shown.words.replace("\u00a0", " ")
    (mine,) = [each for each in ending(shown) if key_hash(key).startswith(each.action.split("/")[2])]
    ended = client.post(served.url + mine.action, data=mine.filled(), headers=teo)
    assert "Ended: that sticker of Bellows" in page_of(ended).words
    gone, never = client.get(f"{served.url}/o/{key}"), client.get(f"{served.url}/o/{'x' * 43}")
    assert (gone.status_code, gone.content) == (never.status_code, never.content)
    assert client.post(served.url + mine.action, data=mine.filled(), headers=teo).status_code == 404


def test_only_the_keeper_makes_and_ends_them(served: Served, client: httpx.Client) -> None:
    teo, noor = served.session("teo"), served.session("noor")
    assert client.get(f"{served.url}/stickers").headers["location"] == "/sign-in"
    made(client, served, teo, "BE")
    mine = ending(page(client, served, teo))[0]
    before = everything(served.parts.store)
    assert made(client, served, noor, "BE").status_code == 403
    assert made(client, served, noor).status_code == 422
    assert made(client, served, noor, "XX").status_code == 404
    assert (
        client.post(served.url + mine.action, data={**mine.filled(), **served.sealed(noor)}, headers=noor).status_code
        == 404
    )
    assert client.post(served.url + mine.action, data=mine.filled()).status_code == 403
    assert client.post(served.url + mine.action, headers=teo).status_code == 403
    bad = {**page(client, served, teo).forms[0].fields, "copies": "99"}
    assert client.post(f"{served.url}/stickers", data=bad, headers=teo).status_code == 422
    assert everything(served.parts.store) == before
