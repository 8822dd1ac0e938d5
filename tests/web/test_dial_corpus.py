"""What is typed as a number is one number at every door, or none: page and API take and refuse alike."""

from __future__ import annotations

from decimal import Decimal

import httpx
import pytest

from fleetcare.quantities import MeterUnit
from tests.intake.dial_corpus import OTHER_UNIT, REFUSED, SAME, SAME_WITH_UNIT
from tests.web.conftest import Served
from tests.web.pages import page_of
from tests.web.stored import everything, reading_of, used
from tests.web.test_odometer import TODAY


def test_every_way_of_writing_one_number_is_one_reading_on_the_page_and_said_again(
    served: Served, client: httpx.Client
) -> None:
    for text in (*SAME, *SAME_WITH_UNIT):
        (form,) = page_of(client.get(served.odometer("BE"))).forms
        answer = client.post(served.odometer("BE"), data=form.filled(odo=text))
        assert answer.status_code == 200, text
        assert "Saved: 84 210 mi" in page_of(answer).words.replace("\u2009", " ").replace("\u00a0", " "), text
    assert [(r.value, r.unit) for r in used(served.parts.store, "BE") if r.on == TODAY] == [
        (Decimal(84210), MeterUnit.MI)
    ]


def test_every_way_of_writing_one_number_is_one_reading_for_the_api(served: Served, client: httpx.Client) -> None:
    headers = served.bearer("teo")
    for text in (*SAME, *SAME_WITH_UNIT, 84210, 84210.0):
        answer = client.post(f"{served.url}/api/readings", json={"vehicle": "BE", "value": text}, headers=headers)
        assert answer.status_code in (200, 201), text
        told = answer.json()["reading"]
        assert (told["value"], told["unit"]) == ("84210", "mi"), text
    assert len([r for r in used(served.parts.store, "BE") if r.on == TODAY]) == 1


def test_a_unit_typed_behind_the_number_is_the_unit_that_is_stored(served: Served, client: httpx.Client) -> None:
    """84 210 mi are 135 523 km (1 mi = 1.609344 km): the figure is kept as typed, and said again as typed."""
    body = {"vehicle": "BE", "value": "135 523 km"}
    answer = client.post(f"{served.url}/api/readings", json=body, headers=served.bearer("teo"))
    assert (answer.json()["reading"]["value"], answer.json()["reading"]["unit"]) == ("135523", "km")
    assert reading_of(served.parts.store, "BE", "135523").unit is MeterUnit.KM


@pytest.mark.parametrize("text", [*REFUSED, *OTHER_UNIT])
def test_what_is_not_one_number_changes_nothing_on_the_page(shared: Served, client: httpx.Client, text: str) -> None:
    before = everything(shared.parts.store)
    (form,) = page_of(client.get(shared.odometer("BE"))).forms
    answer = client.post(shared.odometer("BE"), data=form.filled(odo=text))
    assert answer.status_code == 422
    assert 'aria-invalid="true"' in answer.text
    assert len(answer.content) < 30_000
    assert everything(shared.parts.store) == before


@pytest.mark.parametrize("text", REFUSED)
def test_what_is_not_one_number_changes_nothing_by_the_api(shared: Served, client: httpx.Client, text: str) -> None:
    headers = shared.bearer("teo")
    before = everything(shared.parts.store)
    answer = client.post(f"{shared.url}/api/readings", json={"vehicle": "BE", "value": text}, headers=headers)
    assert answer.status_code == 422
    assert answer.json()["field"] == "value"
    assert len(answer.content) < 400
    assert everything(shared.parts.store) == before


@pytest.mark.parametrize("text", OTHER_UNIT)
def test_a_unit_that_gainsays_the_one_chosen_is_asked_about(shared: Served, client: httpx.Client, text: str) -> None:
    headers = shared.bearer("teo")
    body = {"vehicle": "BE", "value": text, "unit": "mi"}
    answer = client.post(f"{shared.url}/api/readings", json=body, headers=headers)
    assert answer.status_code == 422
    assert "was chosen beside it" in answer.json()["error"]
