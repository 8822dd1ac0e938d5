"""The shopping list and the shelf over real HTTP."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import httpx
import pytest

from fleetcare.actions.go_shopping import shelf_of, shopping_ahead
from fleetcare.book.shopping import ShelfItem
from fleetcare.fleet.people import Role
from tests.contracts.karst_ridge import CHANGE
from tests.web.conftest import Served, serving
from tests.web.pages import page_of


@pytest.fixture
def own(tmp_path: Path) -> Iterator[Served]:
    """The demo garage for one test."""
    with serving(tmp_path / "home") as running:
        yield running


def shelf(served: Served) -> dict[str, ShelfItem]:
    return {item.what: item for item in shelf_of(served.parts.store)}


def test_the_page_says_what_the_command_says(served: Served, client: httpx.Client) -> None:
    parts = served.parts
    found = shopping_ahead(parts.store, parts.rules, parts.jobs, now=parts.clock.now(), weeks=8)
    page = page_of(client.get(f"{served.url}/shopping?weeks=8"))
    assert len(found.lines) > 3
    for line in found.lines:
        assert line.what in page.words
    table = client.get(f"{served.url}/shopping.csv?weeks=8")
    assert table.headers["content-type"].startswith("text/csv")
    assert [row[0] for row in csv.reader(io.StringIO(table.text.removeprefix("\ufeff")))][1:] == [
        line.what for line in found.lines
    ]


def test_one_bay_day_is_shopped_for_by_its_visits(served: Served, client: httpx.Client) -> None:
    page = page_of(client.get(f"{served.url}/shopping?on=2026-04-25"))
    assert "For the bay on 25 April" in page.words
    assert "75W-140" in page.words
    assert any("on=2026-04-25" in address for address in page.addresses), "the page leads there"
    nothing = client.get(f"{served.url}/shopping?on=2026-04-26")
    assert nothing.status_code == 422
    assert "Nothing is in the bay on 2026-04-26" in nothing.text
    for wrong in ("weeks=soon", "weeks=9999", "on=tomorrow-ish"):
        assert client.get(f"{served.url}/shopping?{wrong}").status_code == 422


def test_what_lies_there_is_counted_added_and_taken_off(own: Served, client: httpx.Client) -> None:
    ines = own.session("ines")
    seal = own.sealed(ines)

    def send(**form: str) -> httpx.Response:
        return client.post(f"{own.url}/shopping/shelf", data={**form, **seal}, headers=ines)

    made = send(what="Crush washer, 18 mm", amount="12", unit="", pack="")
    assert (made.status_code, made.headers["location"]) == (303, "/shopping#shelf")
    assert shelf(own)["Crush washer, 18 mm"] == ShelfItem("Crush washer, 18 mm", Decimal(12))
    (form,) = [
        each
        for each in page_of(client.get(f"{own.url}/shopping", headers=ines)).forms
        if each.fields.get("what") == "Crush washer, 18 mm"
    ]
    assert client.post(own.url + form.action, data=form.filled(amount="9"), headers=ines).status_code == 303
    assert shelf(own)["Crush washer, 18 mm"].amount == 9
    bad = send(what="Crush washer, 18 mm", amount="a few")
    assert bad.status_code == 422
    assert "a few" in bad.text
    assert shelf(own)["Crush washer, 18 mm"].amount == 9
    assert send(what="", amount="3").status_code == 422
    assert send(what="Crush washer, 18 mm", gone="yes").status_code == 303
    assert "Crush washer, 18 mm" not in shelf(own)
    assert send(what="Crush washer, 18 mm", gone="yes").status_code == 422


def test_drivers_look_and_do_not_count(own: Served, client: httpx.Client) -> None:
    with own.parts.store.write(CHANGE) as unit:
        for vehicle in unit.vehicles():
            if vehicle.keeper == "piet":
                unit.put_vehicle(replace(vehicle, keeper="ines", drivers=(*vehicle.drivers, "piet")))
        (piet,) = [person for person in unit.people() if person.key == "piet"]
        unit.put_person(replace(piet, roles=(Role.DRIVER,)))
    session = own.session("piet")
    before = shelf(own)
    page = page_of(client.get(f"{own.url}/shopping", headers=session))
    assert not [form for form in page.forms if form.action.startswith("/shopping/shelf")]
    sent = {"what": "x", "amount": "1", **own.sealed(session)}
    assert client.post(f"{own.url}/shopping/shelf", data=sent, headers=session).status_code == 403
    assert shelf(own) == before
