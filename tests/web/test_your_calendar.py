"""Your calendar over HTTP: addresses made, named, replaced and ended, what it holds, and what is refused."""

from __future__ import annotations

import re

import httpx
import pytest

from fleetcare.actions.links import feed_addresses, feed_choice
from fleetcare.fleet.feed_choice import FeedChoice, Topic, WindowDate
from tests.web.conftest import Served
from tests.web.pages import Page, PageForm, page_of
from tests.web.stored import everything

Headers = dict[str, str]


def calendar_of(served: Served, client: httpx.Client, headers: Headers) -> Page:
    answer = client.get(f"{served.url}/calendar", headers=headers)
    assert answer.status_code == 200
    return page_of(answer)


def form_to(page: Page, end: str) -> PageForm:
    """The one form that is sent there."""
    (found,) = [form for form in page.forms if form.action.partition("#")[0].endswith(end)]
    assert found.method == "post"
    return found


def key_of(page: Page) -> Headers:
    """What every form of the page carries."""
    return {"form": form_to(page, "/calendar/addresses").fields["form"]}


def make(served: Served, client: httpx.Client, headers: Headers, name: str) -> httpx.Response:
    form = form_to(calendar_of(served, client, headers), "/calendar/addresses")
    return client.post(served.url + form.action, data=form.filled(name=name), headers=headers)


def address_on(answer: httpx.Response) -> str:
    (found,) = re.findall(r'readonly value="([^"]+)"', answer.text)
    return str(found)


def names(served: Served, person: str = "ines") -> list[tuple[str, bool]]:
    found = feed_addresses(served.parts.store, now=served.clock.now(), person=person)
    return [(each.name, each.replaced_at is not None) for each in found]


def short_of(served: Served, name: str) -> str:
    found = feed_addresses(served.parts.store, now=served.clock.now(), person="ines")
    return next(each.short for each in found if each.name == name and each.replaced_at is None)


def test_a_new_address_is_shown_once_opens_the_calendar_and_never_stands_on_the_page_again(
    served: Served, client: httpx.Client
) -> None:
    ines = served.session("ines")
    answer = make(served, client, ines, "phone")
    assert answer.status_code == 200
    address = address_on(answer)
    assert address.startswith(f"{served.url}/feeds/")
    assert f'href="webcal://{address.removeprefix("http://")}"' in answer.text
    feed = client.get(address)
    assert (feed.status_code, feed.content[:15]) == (200, b"BEGIN:VCALENDAR")
    later = client.get(f"{served.url}/calendar", headers=ines)
    assert address.rpartition("/")[2] not in later.text
    assert "made on 14 April" in page_of(later).words


def test_the_page_behind_the_code_has_the_same_address_without_coming_in(served: Served, client: httpx.Client) -> None:
    answer = make(served, client, served.session("ines"), "phone")
    (add_url,) = (url for url in page_of(answer).addresses if "/calendar/add/" in url)
    page = client.get(add_url)
    assert page.status_code == 200
    assert address_on(page) == address_on(answer)
    assert "webcal://" in page.text
    assert client.get(f"{served.url}/calendar/add/unknown").status_code == 404


def test_the_list_says_when_an_address_was_last_fetched_and_by_what(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    address = address_on(make(served, client, ines, "phone"))
    assert "Nobody has fetched it yet." in calendar_of(served, client, ines).words
    client.get(address, headers={"User-Agent": "iOS/17.4 dataaccessd/1.0"})
    # The fetch is noted after its answer; a second request waits for nothing, so the page is asked until it says so.
    words = ""
    for _ in range(100):
        words = calendar_of(served, client, ines).words
        if "by an Apple phone" in words:
            break
    # 15:00 UTC on 14 April is 9:00 at Karst Ridge, in the demo's America/Denver (UTC - 6 in summer).
    assert "last fetched today, in the hour from 09:00, by an Apple phone or tablet" in words


def test_an_address_is_renamed_replaced_and_ended(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    before = names(served)
    address = address_on(make(served, client, ines, "phone"))
    short = short_of(served, "phone")
    rename = form_to(calendar_of(served, client, ines), f"{short}/rename")
    assert rename.fields["name"] == "phone"
    answer = client.post(served.url + rename.action, data=rename.filled(name="tablet"), headers=ines)
    assert (answer.status_code, answer.headers["location"]) == (303, "/calendar#addresses")
    assert names(served) == [*before, ("tablet", False)]

    replace = form_to(calendar_of(served, client, ines), f"{short}/replace")
    answer = client.post(served.url + replace.action, data=replace.filled(), headers=ines)
    assert answer.status_code == 200
    assert address_on(answer) != address
    assert "“tablet” is made" in page_of(answer).words
    assert b"replaced" in client.get(address).content
    assert sorted(names(served)) == sorted([*before, ("tablet", True), ("tablet", False)])
    # Sent twice, the second finds nothing to replace.
    assert client.post(served.url + replace.action, data=replace.filled(), headers=ines).status_code == 404

    for each in (short, short_of(served, "tablet")):
        end = form_to(calendar_of(served, client, ines), f"{each}/end")
        assert client.post(served.url + end.action, data=end.filled(), headers=ines).status_code == 303
    assert names(served) == before
    assert client.get(address).status_code == 404


def test_a_replaced_address_cannot_be_put_on_a_device_any_more(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    answer = make(served, client, ines, "phone")
    (add_url,) = (url for url in page_of(answer).addresses if "/calendar/add/" in url)
    form = form_to(calendar_of(served, client, ines), f"{short_of(served, 'phone')}/replace")
    client.post(served.url + form.action, data=form.filled(), headers=ines)
    assert client.get(add_url).status_code == 404


def test_what_is_ticked_is_what_the_calendar_holds_from_then_on(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    address = address_on(make(served, client, ines, "phone"))
    page = calendar_of(served, client, ines)
    form = {**key_of(page), "kind": ["due", "readings"], "date": ["early", "late"], "alarm": ["week"], "vehicle": "AN"}
    answer = client.post(f"{served.url}/calendar/choice", data=form, headers=ines)
    assert (answer.status_code, answer.headers["location"]) == (303, "/calendar#holds")
    choice = feed_choice(served.parts.store, "ines")
    assert choice.topics == (Topic.DUE, Topic.READINGS)
    assert choice.dates == (WindowDate.EARLY, WindowDate.LATE)
    assert choice.marks == ("AN",)
    assert [alarm.name for alarm in choice.alarms] == ["week"]
    feed = client.get(address).text
    assert "Anvil" in feed
    assert "Bellows" not in feed
    shown = client.get(f"{served.url}/calendar", headers=ines).text
    ticked = re.findall(r'name="(\w+)" value="([\w-]+)" checked', shown)
    assert ticked == [
        ("kind", "due"),
        ("kind", "readings"),
        ("date", "early"),
        ("date", "late"),
        ("alarm", "week"),
        ("vehicle", "AN"),
    ]


def test_the_preview_shows_entries_that_the_feed_has(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    address = address_on(make(served, client, ines, "phone"))
    words = calendar_of(served, client, ines).words
    feed = client.get(address).text.replace("\r\n ", "")
    titles = [re.sub(r"\\(.)", r"\1", title) for title in re.findall(r"SUMMARY:(.*)\r\n", feed)]
    assert titles
    assert sum(" ".join(title.split()) in words for title in titles) >= min(12, len(set(titles)))


@pytest.mark.parametrize(
    ("name", "status", "part"),
    [
        ("", 422, "Give the address a name"),
        ("x" * 41, 422, "cannot be called that"),
        ("x" * 5000, 422, "cannot be called that"),
        ("PHONE", 409, "called “PHONE” already"),
    ],
)
def test_a_name_that_cannot_be_is_told_at_its_field_and_makes_nothing(
    served: Served, client: httpx.Client, name: str, status: int, part: str
) -> None:
    ines = served.session("ines")
    make(served, client, ines, "phone")
    make(served, client, ines, "laptop")
    before = everything(served.parts.store)
    answer = make(served, client, ines, name)
    assert answer.status_code == status
    assert part in page_of(answer).words
    assert 'id="name-problem" role="alert"' in answer.text
    short = short_of(served, "laptop")
    form = form_to(calendar_of(served, client, ines), f"{short}/rename")
    answer = client.post(served.url + form.action, data=form.filled(name=name), headers=ines)
    assert answer.status_code == status
    assert f'id="name-{short}-problem" role="alert"' in answer.text
    assert everything(served.parts.store) == before


@pytest.mark.parametrize(
    ("form", "field", "part"),
    [
        ({}, "kind", "Choose one."),
        ({"kind": "due"}, "date", "Choose early, likely or late."),
        ({"kind": "everything"}, "kind", "“everything”"),
        ({"kind": "due", "date": "never"}, "date", "“never”"),
        ({"kind": "readings", "alarm": "noon"}, "alarm", "“noon”"),
        ({"kind": "readings", "vehicle": "ZZ"}, "vehicle", "“ZZ”"),
    ],
)
def test_a_choice_that_cannot_be_is_told_at_its_boxes_keeps_the_ticks_and_changes_nothing(
    served: Served, client: httpx.Client, form: Headers, field: str, part: str
) -> None:
    ines = served.session("ines")
    key = key_of(calendar_of(served, client, ines))
    before = everything(served.parts.store)
    answer = client.post(f"{served.url}/calendar/choice", data={**key, **form}, headers=ines)
    assert answer.status_code == 422
    assert part in page_of(answer).words
    assert f'id="{field}-problem" role="alert"' in answer.text
    assert ('value="due" checked' in answer.text) == (form.get("kind") == "due")
    assert everything(served.parts.store) == before
    assert feed_choice(served.parts.store, "ines") == FeedChoice()


@pytest.mark.parametrize(
    "step", ["addresses", "addresses/x/rename", "addresses/x/replace", "addresses/x/end", "choice"]
)
def test_who_did_not_come_in_or_sends_another_form_key_is_refused(
    served: Served, client: httpx.Client, step: str
) -> None:
    ines, teo = served.session("ines"), served.session("teo")
    key = key_of(calendar_of(served, client, ines))
    other = key_of(calendar_of(served, client, teo))
    address, form = f"{served.url}/calendar/{step}", {"name": "phone", "kind": "due", "date": "likely"}
    before = everything(served.parts.store)
    for given, headers in (
        ({**form, **key}, {}),
        (form, ines),
        ({**form, "form": "é"}, ines),
        ({**form, **other}, ines),
        ({**form, **key}, {**ines, "Origin": "https://elsewhere.example"}),
    ):
        assert client.post(address, data=given, headers=headers).status_code == 403
    assert everything(served.parts.store) == before


def test_an_address_that_is_not_there_or_another_persons_is_not_found(served: Served, client: httpx.Client) -> None:
    ines, teo = served.session("ines"), served.session("teo")
    make(served, client, ines, "phone")
    short = short_of(served, "phone")
    key = key_of(calendar_of(served, client, teo))
    for each in (short, "nothing", "%00"):
        for step in ("rename", "replace", "end"):
            address = f"{served.url}/calendar/addresses/{each}/{step}"
            assert client.post(address, data={**key, "name": "mine"}, headers=teo).status_code == 404
    assert ("phone", False) in names(served)


def test_a_stranger_is_led_to_the_door_and_who_came_in_is_led_here(served: Served, client: httpx.Client) -> None:
    answer = client.get(f"{served.url}/calendar")
    assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in")
    assert "/calendar" in page_of(client.get(served.url, headers=served.session("ines"))).addresses
    assert "/calendar" not in page_of(client.get(served.url)).addresses
