"""A plan worked out on the page: begun, waited for, looked at and taken, by who may."""

from __future__ import annotations

import time
from collections.abc import Iterator

import httpx
import pytest

from fleetcare.fleet.bay_visit import VisitState
from tests.web.conftest import Served, serving
from tests.web.pages import Page, page_of
from tests.web.stored import everything


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A demo garage that plans are made for."""
    with serving(tmp_path_factory.mktemp("planned") / "home") as running:
        yield running


def done(served: Served, client: httpx.Client, headers: dict[str, str]) -> Page:
    """The page once the plan is there."""
    for _ in range(240):
        answer = client.get(f"{served.url}/plan/proposal", headers=headers)
        if "Look whether it is there" not in answer.text:
            return page_of(answer)
        time.sleep(0.5)
    raise AssertionError("no plan within two minutes")


def test_a_plan_is_worked_out_looked_at_and_taken(own: Served, client: httpx.Client) -> None:
    ines = own.session("ines")
    plan = page_of(client.get(f"{own.url}/plan", headers=ines))
    (begin,) = [form for form in plan.forms if form.action == "/plan/propose"]
    before = everything(own.parts.store)
    began = client.post(own.url + begin.action, data=begin.filled(), headers=ines)
    assert (began.status_code, began.headers["location"]) == (303, "/plan/proposal")
    page = done(own, client, ines)
    assert "Nothing is written yet" in page.words
    assert "By the workshop’s prices it costs" in page.words
    assert everything(own.parts.store) == before
    (take,) = [form for form in page.forms if form.action == "/plan/proposal/take"]
    other = client.post(own.url + take.action, data=take.filled(stand="another"), headers=ines)
    assert other.status_code == 409
    assert everything(own.parts.store) == before
    taken = client.post(own.url + take.action, data=take.filled(), headers=ines)
    assert (taken.status_code, taken.headers["location"]) == (303, "/plan")
    with own.parts.store.read() as view:
        pencilled = [visit for visit in view.bay_visits() if visit.state is VisitState.PENCILLED]
    assert len(pencilled) > 8
    again = client.post(own.url + take.action, data=take.filled(), headers=ines)
    assert again.status_code == 409, "a plan is taken once"


def test_a_search_can_be_stopped_and_still_shows_something(own: Served, client: httpx.Client) -> None:
    teo = own.session("teo")
    seal = own.sealed(teo)
    assert client.post(f"{own.url}/plan/propose", data=seal, headers=teo).status_code == 303
    assert client.post(f"{own.url}/plan/proposal/stop", data=seal, headers=teo).status_code == 303
    page = done(own, client, teo)
    assert "A plan" in page.words


def test_a_plan_is_worked_out_around_a_wish_and_taken(own: Served, client: httpx.Client) -> None:
    """From the visit's page: the plan with it moved, what that costs more, then taken; that visit is inked there."""
    ines = own.session("ines")
    with own.parts.store.read() as view:
        ahead = [v for v in view.bay_visits() if v.state is VisitState.PENCILLED and v.begins_at > own.clock.now()]
    visit = ahead[0]
    address = f"/plan/{visit.mark}/{visit.number}"
    forms = page_of(client.get(own.url + address, headers=ines)).forms
    asked = [form for form in forms if form.action == f"{address}/with-it-moved"]
    assert asked
    bad = client.post(own.url + asked[0].action, data=asked[0].filled(day="soon"), headers=ines)
    assert bad.status_code == 422
    before = everything(own.parts.store)
    began = client.post(own.url + asked[0].action, data=asked[0].filled(), headers=ines)
    assert (began.status_code, began.headers["location"]) == (303, "/plan/proposal")
    page = done(own, client, ines)
    assert "the best plan without that wish" in page.words
    assert address in page.addresses
    assert everything(own.parts.store) == before
    (take,) = [form for form in page.forms if form.action == "/plan/proposal/take"]
    assert client.post(own.url + take.action, data=take.filled(), headers=ines).status_code == 303
    with own.parts.store.read() as view:
        (stored,) = [v for v in view.bay_visits((visit.mark,)) if v.number == visit.number]
    assert stored.state is VisitState.INKED
    assert stored.begins_at != visit.begins_at


def test_a_wish_of_no_visit_is_said(own: Served, client: httpx.Client) -> None:
    ines = own.session("ines")
    data = {**own.sealed(ines), "day": "2026-05-09"}
    assert client.post(f"{own.url}/plan/AN/99/with-it-moved", data=data, headers=ines).status_code == 303
    assert "There is no visit of AN" in done(own, client, ines).words


def test_a_visit_has_a_page_that_weighs_other_days(served: Served, client: httpx.Client) -> None:
    ines = served.session("ines")
    assert any("/plan/AN/2" in address for address in page_of(client.get(f"{served.url}/plan")).addresses)
    answer = client.get(f"{served.url}/plan/AN/2", headers=ines)
    assert answer.status_code == 200
    words = page_of(answer).words
    assert "Why this day" in words
    assert "What moving it costs" in words
    assert [form for form in page_of(answer).forms if form.action == "/plan/AN/2/move"]
    assert client.get(f"{served.url}/plan/AN/99").status_code == 404
    assert client.get(f"{served.url}/plan/XX/1").status_code == 404
