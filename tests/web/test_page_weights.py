"""Every page of a garage with 2,000 vehicles and 300 people is under 100 kB, fonts and style sheet aside.

Measured in two garages of 300 people, each larger than any page of a list: what a page grows by with the vehicles from
one to the other it grows by again and again, so that the weight at 2,000 is told from two small ones. With 2,000 it
is measured by hand: `python -m tests.bench.bench_pages`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import httpx
import pytest

from fleetcare.actions.ports import Change
from fleetcare.actions.refresh import refresh
from fleetcare.fleet.people import Person, Role
from fleetcare.page.cards.choose import VEHICLES_A_PAGE
from fleetcare.page.cards.people import PEOPLE_A_PAGE
from tests.web.conftest import Served, serving

MOST_BYTES = 100_000
VEHICLES, PEOPLE = 2_000, 300
FEW, MANY = VEHICLES_A_PAGE + 10, VEHICLES_A_PAGE + 50
"""How many vehicles are added to the demo's in the two garages."""
PAGES = (
    *("/", "/?start=24", "/vehicles", "/vehicles/AN", "/vehicles/RA/edit", "/vehicles/AN/edit", "/vehicles/AN/move"),
    *("/vehicles/AN/history", "/vehicles/AN/away", "/vehicles/AN/tags", "/vehicles/AN/work", "/vehicles/AN/reading"),
    *("/new-vehicle", "/new-vehicle?step=2&name=Zed&kind=trailer&called=trailer", "/plan", "/plan?vehicle=AN"),
    *("/findings", "/handbook", "/handbook/rear-axle-fluid", "/shopping", "/readings", "/readings/held", "/calendar"),
    *("/calendar/shared", "/find?words=wagon", "/find?words=oil", "/people", "/people/teo", "/people/ines"),
    *("/people/p001", "/stickers", "/letters", "/look", "/trust"),
)


def larger(served: Served, first: int, last: int) -> None:
    """More vehicles with an engine, a reading and its work; each third is kept by Ines."""
    with served.parts.store.write(Change("test", "a larger garage", served.clock.now())) as unit:
        (anvil,) = unit.vehicles(("AN",))
        engine = next(each for each in anvil.components if each.key == "engine")
        readings = [each for each in unit.readings(("AN",)) if each.meter == "odometer"][-2:]
        work = [each for each in unit.work(("AN",)) if each.line.component == "engine"]
        for number in range(first, last):
            mark, keeper = f"X{number:04}", "ines" if number % 3 == 0 else f"p{number:03}"
            like = replace(anvil, components=(engine,), towed_by=(), drivers=("teo",), keeper=keeper)
            unit.put_vehicle(replace(like, mark=mark, name=f"Wagon {number:04}"))
            unit.add_readings([replace(each, mark=mark, id=None) for each in readings])
            unit.add_work([replace(each, line=each.line._replace(mark=mark), id=None) for each in work])
    refresh(served.parts.store, served.parts.rules, now=served.clock.now(), base_url=served.url, why="a larger garage")


def with_people(served: Served) -> None:
    """Everybody at once: what 300 people weigh is measured and not told from fewer."""
    with served.parts.store.write(Change("test", "a larger club", served.clock.now())) as unit:
        for number in range(PEOPLE):
            mail = f"member{number:03}@karstridge.example"
            unit.put_person(Person(f"p{number:03}", f"Member {number:03}", mail, roles=(Role.DRIVER, Role.KEEPER)))


def weights(served: Served, pages: tuple[str, ...] = PAGES) -> dict[str, int]:
    """Bytes of each page as who keeps the list gets it."""
    headers = served.session("ines")
    with httpx.Client(base_url=served.url, timeout=60, trust_env=False, headers=headers) as client:
        found = {}
        for page in pages:
            answer = client.get(page)
            assert answer.status_code == 200, page
            found[page] = len(answer.content)
        return found


def at_full_size(few: int, many: int) -> float:
    """Bytes with so many vehicles as are promised, of those with few and many."""
    return many + max(0, many - few) / (MANY - FEW) * (VEHICLES - MANY)


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Served, dict[str, int], dict[str, int]]]:
    """The garage as it is with many, and the weights with few and with many."""
    with serving(tmp_path_factory.mktemp("weights") / "home") as served:
        with_people(served)
        larger(served, 0, FEW)
        few = weights(served)
        larger(served, FEW, MANY)
        yield served, few, weights(served)


def test_the_garages_are_larger_than_any_page_of_a_list() -> None:
    assert VEHICLES_A_PAGE < FEW < MANY < VEHICLES
    assert PEOPLE_A_PAGE < PEOPLE


def test_no_page_is_heavy_with_2000_vehicles(both: tuple[Served, dict[str, int], dict[str, int]]) -> None:
    _, few, many = both
    told = {page: round(at_full_size(few[page], many[page])) for page in PAGES}
    assert {page: weight for page, weight in told.items() if weight >= MOST_BYTES} == {}


def test_a_page_that_lists_every_vehicle_would_be_noticed(
    both: tuple[Served, dict[str, int], dict[str, int]],
) -> None:
    """The guard can fail: a select with a vehicle in each option is some 90 kB."""
    served, _, _ = both
    with served.parts.store.read() as view:
        rows = [f'<option value="{each.mark}">{each.mark} {each.name}</option>' for each in view.vehicles()]
    few, many = (len("".join(rows[:count]).encode()) + 10_000 for count in (FEW, MANY))
    assert many < MOST_BYTES / 4
    assert at_full_size(few, many) >= 90_000
    assert at_full_size(5_000, 5_000) == 5_000
