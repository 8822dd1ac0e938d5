"""While a large garage is still being worked out, its pages come at once and say that something is missing."""

from __future__ import annotations

from dataclasses import replace

import httpx
import pytest

from fleetcare.actions.kept_outlooks import AT_ONCE, STRETCH
from fleetcare.actions.look_ahead import look_ahead
from fleetcare.actions.ports import Change
from tests.web.conftest import Served

MORE = AT_ONCE + STRETCH + 1


def with_many_more(served: Served) -> None:
    with served.parts.store.write(Change("test", "a larger garage", served.clock.now())) as unit:
        (anvil,) = unit.vehicles(("AN",))
        for number in range(MORE):
            unit.put_vehicle(replace(anvil, mark=f"X{number}", name=f"Wagon {number}", drivers=(), keeper="teo"))


@pytest.mark.parametrize("path", ["/", "/vehicles", "/readings"])
def test_a_page_of_a_garage_that_is_not_worked_out_yet_says_so_and_later_does_not(
    served: Served, client: httpx.Client, path: str
) -> None:
    headers = served.session("ines")
    with_many_more(served)
    first = client.get(served.url + path, headers=headers).text
    with served.parts.store.read() as view:
        vehicles = len(view.marks())
    assert f"of {vehicles} vehicles are shown so far" in first
    look_ahead(served.parts.store, served.parts.rules, now=served.clock.now(), kept=served.parts.kept_outlooks)
    assert "are shown so far" not in client.get(served.url + path, headers=headers).text


@pytest.mark.parametrize("path", ["/vehicles", "/readings"])
def test_who_looks_for_a_vehicle_by_name_finds_it_before_all_are_worked_out(
    served: Served, client: httpx.Client, path: str
) -> None:
    with_many_more(served)
    page = client.get(f"{served.url}{path}?find=wagon {MORE - 1}", headers=served.session("ines")).text
    assert f"Wagon {MORE - 1}" in page
    assert "are shown so far" in page
