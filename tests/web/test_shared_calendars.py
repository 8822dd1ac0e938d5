"""Shared calendars over HTTP: who looks after which, and that nobody else can touch them."""

from __future__ import annotations

import re
from dataclasses import replace

import httpx
import pytest

from fleetcare.actions.links import feed_addresses
from fleetcare.actions.ports import Change
from fleetcare.fleet.access import BAY
from tests.web.conftest import Served
from tests.web.pages import Page, PageForm, page_of
from tests.web.stored import everything

Headers = dict[str, str]


def shared_of(served: Served, client: httpx.Client, headers: Headers) -> Page:
    answer = client.get(f"{served.url}/calendar/shared", headers=headers)
    assert answer.status_code == 200
    return page_of(answer)


def forms_of(page: Page, owner: str) -> list[PageForm]:
    return [form for form in page.forms if form.fields.get("of") == owner]


def new_on(page: Page) -> PageForm:
    """The form that makes an address."""
    (found,) = [form for form in page.forms if form.action == "/calendar/shared#make"]
    return found


def offered(client: httpx.Client, served: Served, headers: Headers) -> list[str]:
    """Of what a new address can be made."""
    text = client.get(f"{served.url}/calendar/shared", headers=headers).text
    return re.findall(r'<option value="([^"]+)"', text)


def make(served: Served, client: httpx.Client, headers: Headers, owner: str, name: str) -> httpx.Response:
    form = new_on(shared_of(served, client, headers))
    return client.post(served.url + form.action, data=form.fields | {"of": owner, "name": name}, headers=headers)


def names(served: Served, owner: str) -> list[tuple[str, bool]]:
    found = feed_addresses(served.parts.store, now=served.clock.now(), mark="" if owner == "garage" else owner)
    return [(each.name, each.replaced_at is not None) for each in found]


@pytest.mark.parametrize(("owner", "title"), [("garage", "Anvil"), (BAY, "Bay taken"), ("AN", "Anvil taken")])
def test_who_keeps_the_list_makes_an_address_that_opens_that_calendar(
    served: Served, client: httpx.Client, owner: str, title: str
) -> None:
    answer = make(served, client, served.session("ines"), owner, "wall board")
    assert answer.status_code == 200
    (address,) = re.findall(r'readonly value="([^"]+)"', answer.text)
    feed = client.get(str(address))
    assert feed.status_code == 200
    assert f"SUMMARY:{title}" in feed.text
    assert (
        str(address).rpartition("/")[2]
        not in client.get(f"{served.url}/calendar/shared", headers=served.session("ines")).text
    )
    assert names(served, owner) == [("wall board", False)]


def test_a_keeper_looks_after_the_vehicles_kept_and_no_others(served: Served, client: httpx.Client) -> None:
    assert offered(client, served, served.session("teo")) == ["BE"]
    everybody = offered(client, served, served.session("ines"))
    assert everybody[:4] == ["garage", BAY, "AN", "BE"]
    assert len(everybody) == 11


@pytest.mark.parametrize("owner", ["garage", BAY, "AN", "", "ZZ"])
def test_a_form_for_somebody_elses_calendar_is_refused_and_changes_nothing(
    served: Served, client: httpx.Client, owner: str
) -> None:
    teo = served.session("teo")
    form = new_on(shared_of(served, client, teo))
    before = everything(served.parts.store)
    for end in ("", "/x/rename", "/x/replace", "/x/end"):
        answer = client.post(
            f"{served.url}/calendar/shared{end}", data=form.fields | {"name": "mine", "of": owner}, headers=teo
        )
        assert answer.status_code == 403
    assert everything(served.parts.store) == before


def test_an_address_is_renamed_replaced_and_ended(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    make(served, client, ines, BAY, "board")

    def send(end: str, **more: str) -> httpx.Response:
        (form,) = [
            f for f in forms_of(shared_of(served, client, ines), BAY) if f.action.partition("#")[0].endswith(end)
        ]
        return client.post(served.url + form.action, data=form.filled(**more), headers=ines)

    assert send("/rename", name="door").status_code == 303
    assert names(served, BAY) == [("door", False)]
    replaced = send("/replace")
    assert "readonly" in replaced.text
    assert sorted(names(served, BAY)) == [("door", False), ("door", True)]
    page = shared_of(served, client, ines)
    for form in [f for f in forms_of(page, BAY) if f.action.partition("#")[0].endswith("/end")]:
        assert client.post(served.url + form.action, data=form.fields, headers=ines).status_code == 303
    assert names(served, BAY) == []


def test_a_name_that_cannot_be_is_told_at_its_field(served: Served, client: httpx.Client) -> None:
    answer = make(served, client, served.session("ines"), BAY, "")
    assert answer.status_code == 422
    assert "Give the address a name" in answer.text
    assert 'aria-invalid="true"' in answer.text


def test_who_did_not_come_in_is_asked_to_and_a_driver_has_nothing_to_look_after(
    served: Served, client: httpx.Client
) -> None:
    answer = client.get(f"{served.url}/calendar/shared")
    assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in")
    own = client.get(f"{served.url}/calendar", headers=served.session("ines"))
    assert "/calendar/shared" in own.text


def with_many_vehicles(served: Served) -> None:
    with served.parts.store.write(Change("test", "a larger garage", served.clock.now())) as unit:
        (anvil,) = unit.vehicles(("AN",))
        for number in range(40):
            unit.put_vehicle(replace(anvil, mark=f"X{number}", name=f"Wagon {number}", keeper="teo"))


def test_of_many_vehicles_one_is_typed_by_its_mark_and_is_there_to_choose_once_it_has_an_address(
    served: Served, client: httpx.Client
) -> None:
    with_many_vehicles(served)
    headers = served.session("ines")
    form = new_on(shared_of(served, client, headers))
    assert offered(client, served, headers) == ["garage", BAY]
    answer = client.post(served.url + form.action, data=form.filled(mark=" x7", name="gate"), headers=headers)
    assert answer.status_code == 200
    assert names(served, "X7") == [("gate", False)]
    assert offered(client, served, headers) == ["garage", BAY, "X7"]


@pytest.mark.parametrize(
    ("typed", "problem"),
    [("nope", "No vehicle has the mark “nope” here."), ("X1, X2", "An address is of one vehicle."), (",", "one mark")],
)
def test_a_mark_that_leads_nowhere_is_said_beside_it_and_what_was_typed_stays(
    served: Served, client: httpx.Client, typed: str, problem: str
) -> None:
    with_many_vehicles(served)
    headers = served.session("ines")
    before = everything(served.parts.store)
    form = new_on(shared_of(served, client, headers))
    answer = client.post(served.url + form.action, data=form.filled(mark=typed, name="gate"), headers=headers)
    assert answer.status_code == 422
    assert problem in answer.text
    again = new_on(page_of(answer))
    assert (again.fields["mark"], again.fields["name"]) == (typed, "gate")
    assert 'aria-describedby="mark-problem"' in answer.text
    assert everything(served.parts.store) == before


def test_a_mark_of_a_vehicle_that_somebody_else_keeps_opens_nothing(served: Served, client: httpx.Client) -> None:
    with_many_vehicles(served)
    headers = served.session("teo")
    form = new_on(shared_of(served, client, headers))
    with served.parts.store.read() as view:
        others = next(each.mark for each in view.vehicles() if each.keeper != "teo")
    answer = client.post(served.url + form.action, data=form.filled(mark=others, name="gate"), headers=headers)
    assert answer.status_code == 422
    assert not names(served, others)
