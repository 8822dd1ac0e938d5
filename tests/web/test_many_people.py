"""A club with hundreds of people and vehicles: people are found by name, and what is theirs is typed by its mark."""

from __future__ import annotations

import re
from dataclasses import replace

import httpx
import pytest

from fleetcare.actions.ports import Change
from fleetcare.fleet.people import Person, Role
from fleetcare.page.cards.people import PEOPLE_A_PAGE
from fleetcare.page.cards.ticks import TICKED_AT_MOST
from tests.web.conftest import Served
from tests.web.pages import page_of
from tests.web.test_people import form_at, sent

MOST_BYTES = 100_000
VEHICLES, PEOPLE = 1_600, 300


@pytest.fixture
def club(served: Served) -> Served:
    """The demo garage with many more of both; Teo keeps three of the new ones, and Wanda eight hundred."""
    with served.parts.store.write(Change("test", "a larger club", served.clock.now())) as unit:
        (anvil,) = unit.vehicles(("AN",))
        like = replace(anvil, components=(), towed_by=(), drivers=())
        for number in range(VEHICLES):
            keeper = "teo" if number < 3 else "wanda" if number < 800 else ""
            unit.put_vehicle(replace(like, mark=f"X{number}", name=f"Wagon {number}", keeper=keeper))
        for number in range(PEOPLE):
            mail = f"m{number}@karstridge.example"
            unit.put_person(Person(f"p{number:03}", f"Member {number:03}", mail, roles=(Role.DRIVER,)))
    return served


def kept_by(served: Served, person: str) -> set[str]:
    with served.parts.store.read() as view:
        return {vehicle.mark for vehicle in view.vehicles() if vehicle.keeper == person}


def test_a_person_is_found_and_the_list_turns_pages(club: Served, client: httpx.Client) -> None:
    ines = club.session("ines")
    seen: set[str] = set()
    for start in range(0, PEOPLE + PEOPLE_A_PAGE, PEOPLE_A_PAGE):
        answer = client.get(f"{club.url}/people?start={start}", headers=ines)
        assert len(answer.content) < MOST_BYTES
        seen |= {each for each in page_of(answer).addresses if re.match(r"/people/p\d", each)}
    assert seen == {f"/people/p{number:03}" for number in range(PEOPLE)}
    first = page_of(client.get(f"{club.url}/people", headers=ines))
    assert "?start=100" in first.addresses
    wanda = page_of(client.get(f"{club.url}/people?find=wanda", headers=ines))
    assert re.search(r"Keeps (?:[\w ]+, ){5}[\w ]+ and 79\d more\.", wanda.words)
    found = page_of(client.get(f"{club.url}/people?find=m17@", headers=ines))
    assert [each for each in found.addresses if each.startswith("/people/p")] == ["/people/p017"]
    nobody = page_of(client.get(f"{club.url}/people?find=nobody", headers=ines))
    assert "Nobody here is called “nobody”." in nobody.words


def test_whose_a_vehicle_is_is_typed_by_its_mark_and_a_wrong_one_changes_nothing(
    club: Served, client: httpx.Client
) -> None:
    ines = club.session("ines")
    shown = client.get(f"{club.url}/people/teo", headers=ines)
    assert len(shown.content) < MOST_BYTES
    before = kept_by(club, "teo")
    assert {"X0", "X1", "X2"} < before
    form = form_at(club, client, ines, "/people/teo", "/people/teo")
    fields = {name: value for name, value in form.fields.items() if name not in ("keeps", "drives", "role", "seal")}
    fields["role"] = "keeper"
    wrong = sent(club, client, ines, "/people/teo", **fields | {"keeps": "BE", "keeps-others": "x900, nothing"})
    assert wrong.status_code == 422
    assert "No vehicle has the mark" in page_of(wrong).words
    assert 'value="x900, nothing"' in wrong.text
    assert 'value="X0"' in wrong.text
    assert kept_by(club, "teo") == before
    done = sent(club, client, ines, "/people/teo", **fields | {"keeps": ["BE", "X1"], "keeps-others": "x900, X901"})
    assert done.status_code == 303
    assert kept_by(club, "teo") == {"BE", "X1", "X900", "X901"}


def test_more_than_can_be_ticked_are_all_typed_and_saving_keeps_them(club: Served, client: httpx.Client) -> None:
    ines = club.session("ines")
    before = kept_by(club, "wanda")
    assert len(before) > TICKED_AT_MOST
    answer = client.get(f"{club.url}/people/wanda", headers=ines)
    assert len(answer.content) < MOST_BYTES
    assert 'name="keeps" value=' not in answer.text
    form = form_at(club, client, ines, "/people/wanda", "/people/wanda")
    fields = {name: value for name, value in form.fields.items() if name not in ("drives", "role", "seal")}
    assert sent(club, client, ines, "/people/wanda", **fields, role="keeper").status_code == 303
    assert kept_by(club, "wanda") == before
    fields = form_at(club, client, ines, "/people/wanda", "/people/wanda").fields
    less = fields["keeps-others"].replace("X799", "").replace("X500,", "")
    rest = {name: value for name, value in fields.items() if name not in ("drives", "role", "seal", "keeps-others")}
    assert sent(club, client, ines, "/people/wanda", **rest, role="keeper", **{"keeps-others": less}).status_code == 303
    assert kept_by(club, "wanda") == before - {"X799", "X500"}


def test_a_key_for_one_vehicle_names_it_by_its_mark(club: Served, client: httpx.Client) -> None:
    ines = club.session("ines")
    typed = {"name": "tracker", "scope": "readings", "days": ""}
    wrong = sent(club, client, ines, "/people/teo/key", **typed, vehicle="nothing")
    assert wrong.status_code == 422
    assert 'name="vehicle" value="nothing"' in wrong.text
    made = sent(club, client, ines, "/people/teo/key", **typed, vehicle="X1")
    assert made.status_code == 200
    with club.parts.store.read() as view:
        assert [key.mark for key in view.keys(None) if key.name == "tracker"] == ["X1"]
