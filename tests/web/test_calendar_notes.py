"""A calendar that cannot be read is told where people look: front page, weekly letter, and what the machine asks."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import httpx
import pytest

from fleetcare.actions.ports import Change
from fleetcare.actions.write_letters import write_garage_letter
from fleetcare.fleet.busy import CalendarOwner, CalendarSource
from tests.web.conftest import TUESDAY, Served

SECRET = "https://calendars.example/k3y-nobody-may-see"
SOURCE = CalendarSource(
    key="rufus",
    owner_kind=CalendarOwner.PERSON,
    owner="rufus",
    url=SECRET,
    tried_at=TUESDAY,
    good_at=TUESDAY - timedelta(days=2),
    failures=3,
    trouble="The server did not answer in time.",
)
NOTE = "The calendar rufus could not be read since 12 April: The server did not answer in time. What it held then still"


def put(served: Served, source: CalendarSource) -> None:
    with served.parts.store.write(Change("test", "calendar", TUESDAY)) as unit:
        unit.put_calendar(source)


def front(served: Served, client: httpx.Client, person: str) -> str:
    return client.get(f"{served.url}/", headers=served.session(person) if person else {}).text


def test_its_owner_and_who_keeps_the_list_see_it_and_nobody_else(served: Served, client: httpx.Client) -> None:
    put(served, SOURCE)
    for person in ("rufus", "ines"):
        assert NOTE in front(served, client, person)
    for person in ("teo", ""):
        assert "could not be read" not in front(served, client, person)
    assert SECRET not in front(served, client, "ines")
    put(served, replace(SOURCE, failures=0, trouble=""))
    assert "could not be read" not in front(served, client, "ines")


def test_one_of_a_vehicle_concerns_every_keeper(served: Served, client: httpx.Client) -> None:
    put(served, replace(SOURCE, key="anvil", owner_kind=CalendarOwner.VEHICLE, owner="AN", good_at=None))
    assert "The calendar anvil could not be read yet: The server did not answer" in front(served, client, "teo")


def test_many_are_counted(served: Served, client: httpx.Client) -> None:
    for number in range(5):
        put(served, replace(SOURCE, key=f"c{number}"))
    assert "Two more calendars could not be read." in front(served, client, "ines")


@pytest.mark.parametrize(("failures", "told"), [(2, False), (3, True)])
def test_the_weekly_letter_tells_it_once_it_lasts(served: Served, failures: int, told: bool) -> None:
    put(served, replace(SOURCE, failures=failures))
    parts = served.parts
    letter = write_garage_letter(parts.store, parts.rules, parts.desk, "ines", now=served.clock.now())
    assert letter is not None
    assert (NOTE in " ".join(letter.plain.split())) is told
    assert SECRET not in letter.plain


def test_the_machine_counts_them_and_is_ready_all_the_same(served: Served, client: httpx.Client) -> None:
    assert client.get(f"{served.url}/readyz").json()["calendars_not_read"] == 0
    put(served, SOURCE)
    answer = client.get(f"{served.url}/readyz")
    assert (answer.status_code, answer.json()["calendars_not_read"]) == (200, 1)
