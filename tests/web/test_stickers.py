"""Stickers for the glovebox: made, printed once, used, seen in use, ended."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import httpx

from fleetcare.actions.ports import Change
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


def stickers_in_use(served: Served) -> set[str]:
    """The new vehicles that have a sticker."""
    with served.parts.store.read() as view:
        return {key.mark for key in view.keys(Purpose.ODOMETER) if key.name == "sticker" and key.mark.startswith("X")}


def test_of_many_vehicles_the_list_turns_pages_and_others_are_typed(served: Served, client: httpx.Client) -> None:
    with served.parts.store.write(Change("test", "a larger garage", served.clock.now())) as unit:
        (bellows,) = unit.vehicles(("BE",))
        for number in range(200):
            unit.put_vehicle(replace(bellows, mark=f"X{number:03}", name=f"Wagon {number:03}", components=()))
    teo = served.session("teo")

    def sent(path: str, **typed: object) -> httpx.Response:
        form = next(each for each in page_of(client.get(served.url + path, headers=teo)).forms if each.method == "post")
        fields = {name: value for name, value in form.fields.items() if name not in ("vehicle", "all")}
        return client.post(f"{served.url}/stickers", data=fields | typed, headers=teo)

    whole = client.get(f"{served.url}/stickers", headers=teo)
    assert len(whole.content) < 100_000
    assert whole.text.count('name="vehicle"') == 40
    assert "checked" not in whole.text.partition('name="copies"')[0]
    assert "?start=40" in page_of(whole).addresses
    found = client.get(f"{served.url}/stickers?find=wagon+07", headers=teo)
    assert found.text.count('name="vehicle"') == 10
    nothing = sent("/stickers")
    assert nothing.status_code == 422
    wrong = sent("/stickers", vehicle="X001", others="x100, nothing")
    assert wrong.status_code == 422
    assert 'value="x100, nothing"' in wrong.text
    assert stickers_in_use(served) == set()
    assert sent("/stickers", vehicle="X001", others="x100, X101").status_code == 200
    assert stickers_in_use(served) == {"X001", "X100", "X101"}
    # All of a page are those that have none yet, whatever else is on it.
    with served.parts.store.read() as view:
        before = len(view.keys(Purpose.ODOMETER))
    assert sent("/stickers?find=wagon+10", all="page").status_code == 200
    assert stickers_in_use(served) == {"X001", *(f"X10{number}" for number in range(10))}
    with served.parts.store.read() as view:
        assert len(view.keys(Purpose.ODOMETER)) == before + 8
    # Who ends one comes back to the same part of the list.
    (form, *_) = ending(page_of(client.get(f"{served.url}/stickers?find=wagon+10", headers=teo)))
    back = client.post(served.url + form.action, data=form.fields, headers=teo)
    assert back.text.count('name="vehicle"') == 10
    assert len(stickers_in_use(served)) == 11
