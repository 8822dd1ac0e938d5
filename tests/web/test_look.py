"""Units and light: chosen on a page, kept with the person; kept in a cookie for who did not come in."""

from __future__ import annotations

import re

import httpx
import pytest

from fleetcare.actions.links import publish_feed
from fleetcare.fleet.access import Purpose
from fleetcare.fleet.people import Light, Person
from fleetcare.quantities import DistanceUnit
from tests.web.conftest import Served
from tests.web.pages import page_of
from tests.web.stored import everything


def ines_in(served: Served) -> Person:
    with served.parts.store.read() as view:
        return next(person for person in view.people() if person.key == "ines")


def light_of(answer: httpx.Response) -> str:
    found = re.search(r'<html lang="en"(?: data-light="([a-z]+)")?>', answer.text)
    assert found is not None
    return found[1] or ""


def chosen(served: Served, client: httpx.Client, headers: dict[str, str], **fields: str) -> httpx.Response:
    page = client.get(f"{served.url}/look", headers=headers)
    (form,) = [each for each in page_of(page).forms if each.action == "/look"]
    return client.post(f"{served.url}/look", headers=headers, data=form.filled(**fields))


def test_a_person_chooses_and_every_page_follows_on_every_device(served: Served, client: httpx.Client) -> None:
    headers = served.session("ines")
    answer = chosen(served, client, headers, unit="km", light="night")
    client.cookies.clear()  # another device
    assert (answer.status_code, answer.headers["location"]) == (303, "/look?saved=1")
    ines = ines_in(served)
    assert (ines.unit, ines.light) == (DistanceUnit.KM, Light.NIGHT)
    for path in ("/", "/vehicles/AN", "/look", "/people", "/vehicles/AN/reading"):
        assert light_of(client.get(served.url + path, headers=headers)) == "night", path
    page = page_of(client.get(f"{served.url}/look?saved=1", headers=headers))
    assert "Saved." in page.words
    (form,) = [each for each in page.forms if each.action == "/look"]
    assert (form.fields["unit"], form.fields["light"]) == ("km", "night")


def test_as_the_device_asks_sets_nothing(served: Served, client: httpx.Client) -> None:
    headers = served.session("ines")
    chosen(served, client, headers, unit="mi", light="night")
    chosen(served, client, headers, unit="mi", light="device")
    assert light_of(client.get(f"{served.url}/", headers=headers)) == ""


def test_the_link_pages_of_a_person_follow_and_a_stickers_do_not(served: Served, client: httpx.Client) -> None:
    chosen(served, client, served.session("ines"), unit="mi", light="day")
    client.cookies.clear()
    own = served.key(Purpose.ODOMETER, person="ines", mark="AN")
    sticker = served.key(Purpose.ODOMETER, mark="AN")
    assert light_of(client.get(f"{served.url}/o/{own}")) == "day"
    assert light_of(client.get(f"{served.url}/o/{sticker}")) == ""


def test_who_did_not_come_in_has_a_cookie_and_changes_nothing_stored(served: Served, client: httpx.Client) -> None:
    before = everything(served.parts.store)
    page = client.get(f"{served.url}/look")
    answer = client.post(f"{served.url}/look", data={"unit": "km", "light": "night"})
    assert page.status_code == 200
    cookie = answer.headers["set-cookie"]
    assert cookie.startswith("fleetcare-look=km.night;")
    assert "HttpOnly" in cookie
    assert "SameSite=lax" in cookie
    road = client.get(f"{served.url}/")
    assert light_of(road) == "night"
    assert " km" in page_of(road).words
    assert everything(served.parts.store) == before


@pytest.mark.parametrize("cookie", ["", ".", "km", "mi.dusk", "furlong.night.x", '"km.night"x', "x" * 5000])
def test_a_cookie_that_cannot_be_read_is_as_none(served: Served, client: httpx.Client, cookie: str) -> None:
    answer = client.get(f"{served.url}/", headers={"cookie": f"fleetcare-look={cookie}"})
    assert answer.status_code == 200
    assert light_of(answer) == ""


@pytest.mark.parametrize("wrong", [{"unit": "furlong"}, {"light": "dusk"}, {"unit": ""}, {"light": ""}])
def test_what_cannot_be_is_told_and_changes_nothing(
    served: Served, client: httpx.Client, wrong: dict[str, str]
) -> None:
    headers = served.session("ines")
    before = everything(served.parts.store)
    answer = chosen(served, client, headers, **{"unit": "km", "light": "day", **wrong})
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text
    assert everything(served.parts.store) == before


def test_a_form_from_elsewhere_changes_nothing(served: Served, client: httpx.Client) -> None:
    form, headers = {"unit": "km", "light": "day"}, served.session("ines")
    before = everything(served.parts.store)
    assert client.post(f"{served.url}/look", data=form, headers=headers).status_code == 403
    foreign = {"origin": "https://elsewhere.example"}
    answer = client.post(f"{served.url}/look", data=form, headers=foreign)
    assert answer.status_code == 403
    assert "set-cookie" not in answer.headers
    assert everything(served.parts.store) == before


def test_a_calendar_follows_the_unit_at_once(served: Served, client: httpx.Client) -> None:
    parts, now = served.parts, served.clock.now()
    before = publish_feed(parts.store, parts.rules, "ines", now=now, base_url=parts.base_url).decode()
    feed = served.feed("ines")
    chosen(served, client, served.session("ines"), unit="km", light="device")
    after = client.get(feed).text
    unfolded = {name: text.replace("\r\n ", "") for name, text in (("before", before), ("after", after))}
    assert re.search(r"[0-9] mi a month", unfolded["before"])
    assert not re.search(r"[0-9] mi a month", unfolded["after"])
    assert re.search(r"[0-9] km a month", unfolded["after"])


def test_the_way_to_the_dials_stands_on_this_page_as_on_every_other(served: Served, client: httpx.Client) -> None:
    headers = served.session("ines")
    for path in ("/letters", "/look"):
        assert 'href="/readings"' in client.get(served.url + path, headers=headers).text, path
