"""The front page of a large garage: everybody's vehicles, one's own first, or those of one keeper, by plain links."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

import httpx
import pytest

from fleetcare.actions.ports import Change
from fleetcare.actions.refresh import refresh
from fleetcare.fleet.people import Person, Role
from fleetcare.page.cards.ticks import TICKED_AT_MOST
from tests.web.conftest import Served, serving
from tests.web.pages import page_of

MORE = 48


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The demo garage with 48 more vehicles, half of them Teo's and half nobody's."""
    with serving(tmp_path_factory.mktemp("large") / "home") as served:
        _add(served, lambda number: "teo" if number % 2 else "")
        yield served


def _add(served: Served, keeper: object) -> None:
    assert callable(keeper)
    with served.parts.store.write(Change("test", "a larger garage", served.clock.now())) as unit:
        (anvil,) = unit.vehicles(("AN",))
        engine = next(each for each in anvil.components if each.key == "engine")
        readings = [each for each in unit.readings(("AN",)) if each.meter == "odometer"][-2:]
        like = replace(anvil, components=(engine,), towed_by=(), drivers=())
        for number in range(MORE):
            mark = f"X{number}"
            unit.put_vehicle(replace(like, mark=mark, name=f"Wagon {number}", keeper=keeper(number)))
            unit.add_readings([replace(each, mark=mark, id=None) for each in readings])
    refresh(served.parts.store, served.parts.rules, now=served.clock.now(), base_url=served.url, why="a larger garage")


def keepers_shown(served: Served, client: httpx.Client, path: str, headers: dict[str, str] | None = None) -> set[str]:
    """Whose vehicles stand in the list of windows, over all its pages."""
    with served.parts.store.read() as view:
        keeper = {vehicle.mark: vehicle.keeper for vehicle in view.vehicles()}
    seen: set[str] = set()
    for _ in range(30):
        text = client.get(served.url + path, headers=headers or {}).text
        windows = text.partition('class="cols"')[2].partition('class="side"')[0]
        seen |= {keeper[mark] for mark in re.findall(r'href="/vehicles/([^"/]+)"', windows)}
        later = re.search(r'href="(\?[^"]+)">Later ones', text)
        if later is None:
            return seen
        path = "/" + later[1].replace("&amp;", "&")
    raise AssertionError("the list never ends")


def test_in_a_small_garage_there_is_nothing_to_choose(served: Served, client: httpx.Client) -> None:
    assert 'name="of"' not in client.get(served.url, headers=served.session("teo")).text


def test_who_keeps_vehicles_begins_with_their_own_and_who_keeps_the_list_with_all(
    large: Served, client: httpx.Client
) -> None:
    teo, ines = large.session("teo"), large.session("ines")
    assert keepers_shown(large, client, "/", teo) == {"teo"}
    everybody = keepers_shown(large, client, "/", ines)
    assert {"teo", "ines", ""} <= everybody
    assert keepers_shown(large, client, "/?of=*", teo) == everybody
    assert keepers_shown(large, client, "/") == everybody
    assert keepers_shown(large, client, "/?of=ines", teo) == {"ines"}
    assert keepers_shown(large, client, "/?of=-", teo) == {""}
    assert keepers_shown(large, client, "/?of=Teo+Lindqvist", ines) == {"teo"}


def test_each_keeper_stands_there_with_how_many_and_ones_own_come_first(large: Served, client: httpx.Client) -> None:
    text = client.get(large.url, headers=large.session("teo")).text
    options = re.findall(r'<option value="([^"]*)"( selected)?>([^<]+)</option>', text.partition('id="of"')[2])
    with large.parts.store.read() as view:
        vehicles = [v for v in view.vehicles() if not v.is_gone(large.clock.now().date())]
    assert [value for value, _, _ in options[:2]] == ["*", "teo"]
    assert [value for value, selected, _ in options if selected] == ["teo"]
    counts = {value: int(re.sub(r"\D", "", words)) for value, _, words in options}
    assert counts.pop("*") == len(vehicles) == sum(counts.values())
    assert counts["teo"] == sum(vehicle.keeper == "teo" for vehicle in vehicles)
    assert counts["-"] == sum(not vehicle.keeper for vehicle in vehicles)


def test_the_strip_and_what_waits_are_of_those_alone(large: Served, client: httpx.Client) -> None:
    text = client.get(f"{large.url}/?of=teo", headers=large.session("ines")).text
    lanes = set(re.findall(r'href="/vehicles/([^"/]+)"', text.partition('class="roadbox"')[2].partition("</div>")[0]))
    with large.parts.store.read() as view:
        assert lanes <= {vehicle.mark for vehicle in view.vehicles() if vehicle.keeper == "teo"}
    assert len(lanes) == 12
    assert page_of(client.get(f"{large.url}/?of=teo&start=24", headers=large.session("ines"))).words.count(
        "Along the road"
    )


def test_among_very_many_keepers_one_is_typed_by_name(served: Served, client: httpx.Client) -> None:
    with served.parts.store.write(Change("test", "a club", served.clock.now())) as unit:
        for number in range(TICKED_AT_MOST + 8):
            unit.put_person(Person(f"p{number}", f"Member {number}", roles=(Role.KEEPER,)))
    _add(served, lambda number: f"p{number}")
    ines = served.session("ines")
    page = client.get(served.url, headers=ines)
    assert "<option" not in page.text
    assert "/?of=ines" in page_of(page).addresses
    assert keepers_shown(served, client, "/?of=member+7", ines) == {"p7"}
    wrong = client.get(f"{served.url}/?of=nobody+here", headers=ines)
    assert wrong.status_code == 200
    assert "Nobody who keeps a vehicle is called “nobody here”." in page_of(wrong).words
