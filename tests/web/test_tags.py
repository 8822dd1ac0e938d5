"""Tags of components over real HTTP: written, taken away, refused; the second of two people is told."""

from __future__ import annotations

import httpx

from fleetcare.actions.write_tag import write_tag
from fleetcare.fleet.tag import Basis
from fleetcare.fleet.tag_said import said_of
from tests.web.conftest import Served
from tests.web.pages import PageForm, page_of
from tests.web.stored import everything

ADDRESS = "/vehicles/AN/tags"


def forms(served: Served, client: httpx.Client, headers: dict[str, str]) -> dict[str, PageForm]:
    """The forms of the rear axle by the value they are about; the one for another value stands under `new`."""
    page = page_of(client.get(served.url + ADDRESS, headers=headers))
    mine = [form for form in page.forms if form.fields.get("component") == "rear-axle"]
    return {"new" if "new" in form.fields else form.fields["name"]: form for form in mine}


def said(served: Served, name: str) -> str:
    """What is stored."""
    with served.parts.store.read() as view:
        (anvil,) = view.vehicles(("AN",))
    component = anvil.component("rear-axle")
    assert component is not None
    return said_of(component, name)


def test_a_value_is_written_changed_and_taken_away_and_the_page_says_so(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    assert "Tags of Anvil" in page_of(client.get(served.url + ADDRESS)).words
    new = forms(served, client, ines)["new"].filled(name="breather", value="27 N·m", basis="stamped")
    answer = client.post(served.url + ADDRESS, data=new, headers=ines)
    assert answer.status_code == 303
    page = page_of(client.get(served.url + answer.headers["location"].partition("#")[0], headers=ines)).words
    assert "Anvil, tag of rear-axle: breather: 27 N·m, as stamped." in page
    assert said(served, "breather") == "breather: 27 N·m, as stamped"
    again = forms(served, client, ines)["new"].filled(name="Breather", value="9", basis="stamped")
    answer = client.post(served.url + ADDRESS, data=again, headers=ines)
    assert answer.status_code == 409
    assert "has a Breather already" in page_of(answer).words
    change = forms(served, client, ines)["breather"].filled(value="30 N·m", basis="manual")
    assert client.post(served.url + ADDRESS, data=change, headers=ines).status_code == 303
    assert said(served, "breather") == "breather: 30 N·m, from the manual"
    gone = {**forms(served, client, ines)["breather"].fields, "basis": "manual", "what": "gone"}
    assert client.post(served.url + ADDRESS, data=gone, headers=ines).status_code == 303
    assert said(served, "breather") == ""


def test_who_comes_second_is_told_and_nothing_is_lost(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    mine = forms(served, client, ines)["fluid"].filled(value="75W-90 GL-5", basis="manual")
    write_tag(
        served.parts.store, served.parts.rules, lambda each, kind: (), vehicle="AN", component="rear-axle",
        name="fluid", value="80W-90 GL-5", basis=Basis.MANUAL, now=served.clock.now(), who="teo", base_url=served.url,
    )  # fmt: skip
    before = everything(served.parts.store)
    answer = client.post(served.url + ADDRESS, data=mine, headers=ines)
    assert answer.status_code == 409
    assert "Somebody changed the fluid meanwhile." in page_of(answer).words
    assert any(form.fields.get("value") == "75W-90 GL-5" for form in page_of(answer).forms)
    assert everything(served.parts.store) == before


def test_what_cannot_be_is_refused_at_its_field_and_changes_nothing(shared: Served, client: httpx.Client) -> None:
    ines = shared.session("ines")
    new = forms(shared, client, ines)["new"]
    before = everything(shared.parts.store)
    for change, told in (
        ({"name": "ratio 2", "value": "", "basis": "manual"}, "has no value"),
        ({"name": "", "value": "x", "basis": "manual"}, "empty"),
        ({"name": "breather", "value": "x", "basis": "hearsay"}, "There is no basis"),
        ({"name": "breather", "value": "x", "basis": "manual", "component": "wing"}, ""),
    ):
        answer = client.post(shared.url + ADDRESS, data={**new.filled(), **change}, headers=ines)
        assert answer.status_code == 422, change
        assert told in page_of(answer).words
    assert everything(shared.parts.store) == before


def test_drivers_and_strangers_see_them_and_write_nothing(shared: Served, client: httpx.Client) -> None:
    for headers in (shared.session("piet"), {}):
        assert page_of(client.get(shared.url + ADDRESS, headers=headers)).forms == []
    piet = shared.session("piet")
    data = {"component": "rear-axle", "name": "fluid", "value": "x", "basis": "manual", **shared.sealed(piet)}
    assert client.post(shared.url + ADDRESS, data=data, headers=piet).status_code == 403
