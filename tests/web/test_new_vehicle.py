"""Putting a vehicle on the road over HTTP: step by step, back and again, sent twice, and what is refused."""

from __future__ import annotations

from urllib.parse import parse_qs, urlsplit

import httpx
import pytest

from tests.web.conftest import Served
from tests.web.pages import Page, page_of
from tests.web.stored import everything

NEW = "/new-vehicle"


def form_of(page: Page) -> dict[str, str]:
    return next(form for form in page.forms if form.action == NEW).filled()


class Walk:
    """A browser that fills in the steps."""

    def __init__(self, served: Served, client: httpx.Client, person: str = "ines") -> None:
        self.served, self.client, self.headers = served, client, served.session(person)
        self.page = page_of(self.get(NEW))

    def get(self, path: str, params: dict[str, object] | None = None) -> httpx.Response:
        return self.client.get(self.served.url + path, params=params, headers=self.headers)  # type: ignore[arg-type]

    def on(self, **typed: object) -> httpx.Response:
        """Fills in the step that is shown and goes on. part: a list; every other field has one value."""
        answer = self.get(NEW, {**form_of(self.page), **typed})
        self.page = page_of(answer)
        return answer

    def to_the_end(self, **past: str) -> dict[str, str]:
        """All steps; the last page's form."""
        self.on(name="Quarry", kind="light truck", called="tow rig")
        self.on(dial="84 210", **{"in-service": "2019-05-02", "part_towing": "1"})
        self.on(part=["engine", "brakes"])
        self.on(**past)
        return form_of(self.page)

    def save(self, form: dict[str, str], parts: tuple[str, ...] = ("engine", "brakes")) -> httpx.Response:
        sent = {**form, "part": list(parts)}
        return self.client.post(self.served.url + NEW, data=sent, headers=self.headers)


DONE = {"past.engine.engine-oil": "done", "at.engine.engine-oil": "82000"}


def test_five_steps_put_a_vehicle_on_the_road(served: Served, client: httpx.Client) -> None:
    walk = Walk(served, client)
    form = walk.to_the_end(**DONE)
    assert "Quarry, tow rig, mark QU, kept by Ines Calloway." in walk.page.words
    before = everything(served.parts.store)
    answer = walk.save({**form, "vin": "1M8GDM9AXKP042788"})
    assert answer.status_code == 200
    assert "Quarry is on the road" in page_of(answer).words
    assert everything(served.parts.store) != before
    with served.parts.store.read() as view:
        (quarry,), (record,) = view.vehicles(("QU",)), view.work(("QU",))
    assert (quarry.keeper, quarry.vin, quarry.usual_split.share("towing")) == ("ines", "1M8GDM9AXKP042788", 0.5)
    assert record.line.service == "engine-oil"
    assert "/vehicles/QU" in page_of(answer).addresses
    assert "Quarry" in page_of(walk.get("/")).words


def test_sent_again_it_is_answered_again_and_nothing_is_added(served: Served, client: httpx.Client) -> None:
    walk = Walk(served, client)
    form = walk.to_the_end()
    first = walk.save(form)
    before = everything(served.parts.store)
    again = walk.save(form)
    assert (again.status_code, again.content) == (200, first.content)
    other = walk.save({**form, "vin": "X"})
    assert other.status_code == 409
    assert everything(served.parts.store) == before


def test_every_step_can_be_opened_again_by_its_address_and_gone_back_from(served: Served, client: httpx.Client) -> None:
    walk = Walk(served, client)
    walk.on(name="Quarry", kind="van")
    answer = walk.on(mark="QQ", dial="1200", unit="km")
    again = walk.get(str(answer.url).removeprefix(served.url))
    assert page_of(again).words == page_of(answer).words
    back = next(each for each in page_of(answer).addresses if each.startswith(f"{NEW}?step=2"))
    shown = form_of(page_of(walk.get(back)))
    assert (shown["mark"], shown["dial"], shown["unit"]) == ("QQ", "1200", "km")
    assert parse_qs(urlsplit(back).query)["name"] == ["Quarry"]


def test_a_vin_never_stands_in_an_address(served: Served, client: httpx.Client) -> None:
    walk = Walk(served, client)
    form = walk.to_the_end()
    answer = walk.save({**form, "vin": "1M8GDM9AXKP042788", "mark": "AN"})
    assert answer.status_code == 422
    assert not [each for each in page_of(answer).addresses if "1M8GDM9AXKP042788" in each]


@pytest.mark.parametrize(
    ("typed", "step", "told"),
    [
        ({"name": ""}, "Step 1", "The name is empty."),
        ({"name": "Anvil"}, "Step 1", "stands here already"),
        ({"kind": "boat"}, "Step 1", "What is it?"),
        ({"keeper": "nobody"}, "Step 1", "keeps no vehicle here"),
        ({"mark": "AN"}, "Step 2", "The mark AN is that of Anvil."),
        ({"mark": "!"}, "Step 2", "cannot be a mark"),
        ({"dial": "84,21"}, "Step 2", "can be read in two ways"),
        ({"unit": "none"}, "Step 2", "It has no dial"),
        ({"unit": "leagues"}, "Step 2", "What does the dial count?"),
        ({"in-service": "2027-01-01"}, "Step 2", "still to come"),
        ({"yearly": "0"}, "Step 2", "cannot be the distance of a year"),
        ({"digits": "2"}, "Step 2", "cannot stand for digits"),
        ({"part_towing": "9"}, "Step 2", "no part of"),
        ({"past.engine.engine-oil": "done"}, "Step 4", "Done when?"),
        ({"past.engine.engine-oil": "done", "on.engine.engine-oil": "2027-01-01"}, "Step 4", "still to come"),
        ({"past.engine.engine-oil": "done", "at.engine.engine-oil": "99999"}, "Step 4", "cannot have shown"),
        ({"past.engine.engine-oil": "perhaps"}, "Step 4", "Choose one."),
    ],
)
def test_what_is_wrong_is_said_at_its_step_and_nothing_is_stored(
    served: Served, client: httpx.Client, typed: dict[str, str], step: str, told: str
) -> None:
    walk = Walk(served, client)
    form = walk.to_the_end()
    before = everything(served.parts.store)
    answer = walk.save({**form, **typed})
    page = page_of(answer)
    assert answer.status_code == 422
    assert step in page.words
    assert told in page.words
    assert 'role="alert"' in answer.text
    assert everything(served.parts.store) == before


def test_no_part_at_all_is_asked_back(served: Served, client: httpx.Client) -> None:
    walk = Walk(served, client)
    answer = walk.save(walk.to_the_end(), parts=())
    assert "Tick at least one part." in page_of(answer).words


def test_who_keeps_nothing_is_refused_and_a_keeper_keeps_what_they_add(served: Served, client: httpx.Client) -> None:
    assert client.get(served.url + NEW).status_code == 303
    with served.parts.store.read() as view:
        others = [p.key for p in view.people() if p.key != "ines" and "keeper" in p.roles]
        plain = [p.key for p in view.people() if "keeper" not in p.roles]
    for person in plain[:1]:
        assert client.get(served.url + NEW, headers=served.session(person)).status_code == 403
    walk = Walk(served, client, others[0])
    assert walk.save(walk.to_the_end()).status_code == 200
    with served.parts.store.read() as view:
        assert view.vehicles(("QU",))[0].keeper == others[0]
