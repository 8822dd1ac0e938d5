"""The history of a vehicle: what 49 CFR 396.3(b) asks for is in it, on a page and as a table, also once it has left."""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import date
from decimal import Decimal
from io import StringIO

import httpx

from fleetcare.actions.hand_in_sheet import Filling, hand_in
from fleetcare.actions.move_component import Moving, move_component
from fleetcare.actions.order_work import Opening, open_order
from fleetcare.actions.ports import Change
from fleetcare.work.found import Seen
from fleetcare.work.order import Filled
from tests.web.conftest import TUESDAY, Served
from tests.web.pages import page_of


def worked_on(served: Served) -> None:
    parts = served.parts
    order = open_order(
        parts.store,
        parts.rules,
        Opening("Anvil", ("rear axle fluid",), mechanics=("Teo",)),
        now=TUESDAY,
        who="ines",
        base_url=served.url,
    )
    given = Filling(
        end=Decimal(113_052),
        fills=(Filled("rear-axle", "75W-140 GL-5", Decimal("2.6")),),
        hands={"Teo": 140},
        seen=(Seen("rear-axle", "magnet", "flakes"),),
        signed_by="Teo Lindqvist",
    )
    hand_in(
        parts.store,
        parts.rules,
        parts.findings,
        order.number,
        given,
        now=TUESDAY,
        who="teo",
        base_url=parts.base_url,
    )


def table_of(served: Served, client: httpx.Client, mark: str = "AN") -> list[dict[str, str]]:
    answer = client.get(f"{served.url}/vehicles/{mark}/history.csv")
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    return list(csv.DictReader(StringIO(answer.text)))


def test_the_page_says_what_it_is_what_is_coming_and_what_was_done(served: Served, client: httpx.Client) -> None:
    worked_on(served)
    answer = client.get(f"{served.url}/vehicles/AN/history")
    words = page_of(answer).words
    # Identification; nature and due date of what is coming; a dated record of what was done: 49 CFR 396.3(b).
    assert "VIN or serial number" in words
    assert "Gearbox fluid and strainer" in words
    assert "Rear axle fluid, cover reseal" in words
    assert "14 April 2026" in words
    assert "2.6 L 75W-140 GL-5 filled; 2 h 20 worked; signed Teo Lindqvist." in words
    assert "Found: Debris on the magnet: slivers or flakes" in words
    assert "Sheet 0001" in words
    assert len(answer.content) < 100_000


def test_every_line_and_every_record_is_in_the_table_with_its_dates(served: Served, client: httpx.Client) -> None:
    worked_on(served)
    rows = table_of(served, client)
    with served.parts.store.read() as view:
        windows, work = view.windows(("AN",)), view.work(("AN",))
    coming = [row for row in rows if row["kind"] == "coming"]
    assert len(coming) == len(windows)
    for row in coming:
        if row["due_likely"]:
            assert row["due_early"] <= row["due_likely"] <= row["due_late"]
        else:
            assert row["note"]
    done = [row for row in rows if row["kind"] == "done"]
    assert [row["day"] for row in done] == sorted(record.on.isoformat() for record in work)
    assert all(row["nature"] and row["component"] for row in done)
    newest = done[-1]
    assert (newest["reading"], newest["unit"], newest["sheet"]) == ("113052", "mi", "0001")
    (found,) = [row for row in rows if row["kind"] == "found"]
    assert found["due_late"] == "2026-05-12"


def test_the_record_stays_when_the_vehicle_leaves(served: Served, client: httpx.Client) -> None:
    worked_on(served)
    before = [row for row in table_of(served, client) if row["kind"] != "coming"]
    with served.parts.store.write(Change("ines", "sold", TUESDAY)) as unit:
        anvil = unit.vehicles(("AN",))[0]
        unit.put_vehicle(replace(anvil, out_of_fleet_on=date(2026, 4, 14)))
    assert [row for row in table_of(served, client) if row["kind"] != "coming"] == before
    assert "Out of the fleet since 14 April 2026." in page_of(client.get(f"{served.url}/vehicles/AN/history")).words


def test_what_came_with_a_component_is_told_apart(served: Served, client: httpx.Client) -> None:
    worked_on(served)
    parts = served.parts
    given = Moving("AN", "rear-axle", "BE", key="spare-axle")
    move_component(parts.store, parts.rules, given, now=TUESDAY, who="ines", base_url=parts.base_url)
    words = page_of(client.get(f"{served.url}/vehicles/BE/history")).words
    assert "Rear axle, limited slip, on other vehicles" in words
    assert "Component moved from AN to BE" in words
    assert "Rear axle fluid, cover reseal" in page_of(client.get(f"{served.url}/vehicles/AN/history")).words


def test_strangers_see_no_history_of_a_closed_garage_and_nobody_one_that_is_not(
    served: Served, client: httpx.Client
) -> None:
    assert client.get(f"{served.url}/vehicles/ZZ/history").status_code == 404
    assert client.get(f"{served.url}/vehicles/ZZ/history.csv").status_code == 404
