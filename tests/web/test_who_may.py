"""The table of who may do what, in DEVELOPERS.md, and the program: every route walked with every role, both ways."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import httpx
import pytest
from starlette.applications import Starlette
from starlette.routing import BaseRoute, Route

from fleetcare.actions.look_at_findings import findings_waiting
from fleetcare.actions.order_work import Opening, open_order
from fleetcare.actions.ports import Change
from fleetcare.actions.record_reading import Given, Recorded, record_reading
from fleetcare.chance import key_hash
from fleetcare.fleet.access import Purpose
from fleetcare.fleet.people import Person, Role
from fleetcare.meter.reading import Door, ReadingState
from fleetcare.quantities import DistanceUnit
from fleetcare.web.app import create_app
from tests.web.conftest import Served, serving

GUIDE = Path(__file__).parents[2] / "DEVELOPERS.md"
ROLES = ("stranger", "onlooker", "driver", "mechanic", "keeper", "list keeper")
CELLS = {"yes", "no", "own", "key", "open house"}
OWN, OTHER = "BE", "AN"
"""The vehicle that the driver drives, the keeper keeps and the onlooker is down for in vain; and one of others."""
PEOPLE = {"onlooker": "olga", "driver": "dora", "mechanic": "milo", "keeper": "kaya", "list keeper": "ines"}
KEY_PURPOSES = {
    "/o/": Purpose.ODOMETER,
    "/calendar/add/": Purpose.FEED,
    "/sign-in/": Purpose.SIGN_IN,
    "/letters/stop/": Purpose.STOP_LETTERS,
}
ODD_FORM = {"odo": "84k", "form": "x", "from": "x", "out": "x", "how": "maybe", "mail": "x", "name": "", "kind": "x"}
"""Nobody's form: who may send one is told what is wrong with it, who may not is refused before it is looked at."""


@dataclass(frozen=True)
class Row:
    """One row of the table."""

    method: str
    path: str
    cells: dict[str, str]

    @property
    def name(self) -> str:
        """As routes are named here."""
        return f"{self.method} {self.path}"


def rows() -> list[Row]:
    """The rows between the two marks of the guide."""
    text = GUIDE.read_text(encoding="utf-8").partition("<!-- doors:begin -->")[2].partition("<!-- doors:end -->")[0]
    lines = [[cell.strip() for cell in line.strip("|").split("|")] for line in text.strip().splitlines()]
    head, _, *body = lines
    assert tuple(head) == ("method", "address", *ROLES)
    return [Row(line[0], line[1].strip("`"), dict(zip(ROLES, line[2:], strict=True))) for line in body]


def routes_of(routes: list[BaseRoute]) -> Iterator[str]:
    """Every method and path of the application, through included routers."""
    for route in routes:
        if isinstance(route, Route):
            yield from (f"{method} {route.path}" for method in sorted(route.methods or ()) if method != "HEAD")
        inner = getattr(route, "routes", None) or getattr(getattr(route, "original_router", None), "routes", None)
        if inner and not isinstance(route, Route):
            yield from routes_of(inner)


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A closed house with one person of each role, and a held reading of each of two vehicles."""
    with serving(tmp_path_factory.mktemp("closed") / "home", open_house=False) as served:
        with served.parts.store.write(Change("test", "people of every role", served.clock.now())) as unit:
            for role, key in PEOPLE.items():
                if role != "list keeper":
                    roles = (Role(role),)
                    unit.put_person(Person(key, key.title(), f"{key}@karst.example", "UTC", DistanceUnit.MI, roles))
            (own,), (other,) = unit.vehicles((OWN,)), unit.vehicles((OTHER,))
            unit.put_vehicle(replace(own, keeper=PEOPLE["keeper"], drivers=(PEOPLE["driver"], PEOPLE["onlooker"])))
            unit.put_vehicle(replace(other, keeper="teo", drivers=("teo",)))
        yield served


def test_the_table_and_the_routes_are_the_same_both_ways(house: Served) -> None:
    inner = create_app(house.parts)._app._app  # type: ignore[attr-defined]  # behind the feed door and the guard
    assert isinstance(inner, Starlette)
    assert sorted(routes_of(inner.routes)) == sorted(row.name for row in rows())
    assert len({row.name for row in rows()}) == len(rows())


def test_a_route_without_a_row_would_be_noticed() -> None:
    """The guard can fail."""
    extra = Route("/vehicles/{mark}/scrap", lambda request: None, methods=["POST"])
    assert set(routes_of([extra])) - {row.name for row in rows()} == {"POST /vehicles/{mark}/scrap"}


def is_form(row: Row) -> bool:
    """Sent by a page that only a session sees; links and programs carry a key instead."""
    return row.method == "POST" and not row.path.startswith(("/api/", "/o/", "/sign-in", "/letters/stop", "/stop"))


@pytest.mark.parametrize("row", rows(), ids=lambda row: row.name)
def test_every_role_may_what_the_table_says_and_no_more(house: Served, client: httpx.Client, row: Row) -> None:
    assert set(row.cells.values()) <= CELLS
    for role in ROLES:
        cell = row.cells[role]
        answers = {mark: asked(house, client, row, role, mark) for mark in (OWN, OTHER)}
        wanted = {
            "yes": {OWN: True, OTHER: True},
            "key": {OWN: True, OTHER: True},
            "no": {OWN: False, OTHER: False},
            "open house": {OWN: False, OTHER: False},
            "own": {OWN: True, OTHER: False},
        }[cell]
        found = {mark: is_let_in(answer, row) for mark, answer in answers.items()}
        assert found == wanted, (role, {mark: (a.status_code, a.text[:300]) for mark, a in answers.items()})
        if cell == "key":
            wrong = row.path.replace("{key}", "x" * 43)
            gone = client.request(row.method, house.url + wrong, headers=browser(house, role))
            assert gone.status_code == 404


@pytest.mark.parametrize("row", [row for row in rows() if is_form(row)], ids=lambda row: row.name)
def test_no_form_of_a_session_counts_without_its_seal(house: Served, client: httpx.Client, row: Row) -> None:
    headers = browser(house, "list keeper")
    path = house.url + filled_in(house, row, OWN)
    for data in (ODD_FORM, {**ODD_FORM, "seal": "x", "form": "x"}):
        assert client.request(row.method, path, headers=headers, data=data).status_code == 403


def is_let_in(answer: httpx.Response, row: Row) -> bool:
    """True unless the answer refuses: sent to the door, 401, 403; of a sticker of others, that there is none."""
    assert answer.status_code < 500
    if answer.status_code == 200 and row.path == "/api/readings/batch":
        return bool(answer.json()["results"][0]["status"] != 403)
    if answer.status_code == 303 and answer.headers["location"] == "/sign-in":
        return False
    return answer.status_code not in ((401, 403, 404) if row.path == "/stickers/{short}/end" else (401, 403))


def browser(house: Served, role: str) -> dict[str, str]:
    return {} if role == "stranger" else house.session(PEOPLE[role])


def asked(house: Served, client: httpx.Client, row: Row, role: str, mark: str) -> httpx.Response:
    """The answer to somebody of that role who asks about that vehicle."""
    path = house.url + filled_in(house, row, mark)
    if row.path.startswith("/api/"):
        headers = {} if role == "stranger" else house.bearer(PEOPLE[role])
        return client.request(row.method, path, headers=headers, json=api_body(row, mark))
    headers = browser(house, role)
    if row.method == "GET":
        return client.get(path, headers=headers)
    sealed = house.sealed(headers) if headers else {}
    form = {
        **ODD_FORM,
        **sealed,
        "vehicle": mark,
        "of": mark,
        **({"form": sealed.get("seal", "")} if "/calendar/" in path else {}),
    }
    if row.path == "/stickers":
        page = client.get(path, headers=headers).text
        form["stand"] = page.partition('name="stand" value="')[2].partition('"')[0]
        form["copies"] = "1"
    return client.request(row.method, path, headers=headers, data=form)


def api_body(row: Row, mark: str) -> object:
    if row.method == "GET":
        return None
    if row.path.endswith("settle"):
        return {"vehicle": mark, "value": 1, "on": "2026-01-01", "how": "right"}
    if row.path.startswith("/api/plan/"):
        return {"stand": "x"} if row.path.endswith("take") else {}
    odd = {"vehicle": mark, "value": "84k"}
    return {"readings": [odd]} if row.path.endswith("batch") else odd


def filled_in(house: Served, row: Row, mark: str) -> str:
    """The path with a vehicle, a good key, a held reading or a sticker of it."""
    path = row.path.replace("{mark}", mark).replace("{vehicle}", mark)
    if "{component}" in path:
        with house.parts.store.read() as view:
            line = next(iter(view.lines((mark,))))
        path = path.replace("{component}", line.component).replace("{service}", line.service)
    if "{sheet}" in path:
        path = path.replace("{sheet}", str(open_sheet(house, mark)))
    if "{finding}" in path:
        waiting = findings_waiting(house.parts.store, house.parts.rules, now=house.clock.now()).findings
        path = path.replace("{finding}", next(each.key for each in waiting if each.line.mark == mark))
    path = path.replace("{person}", "piet")
    if row.path.startswith("/people/"):
        return path.replace("{what}", "sessions")
    if row.path.startswith(("/plan/", "/api/plan/")):
        return path.replace("{number}", "1").replace("{what}", "pencil")
    if "{number}" in path:
        path = path.replace("{number}", str(held_one(house, mark)))
    if "/stickers/{short}" in path:
        path = path.replace("{short}", key_hash(house.key(Purpose.ODOMETER, mark=mark))[:12])
    for begins, purpose in KEY_PURPOSES.items():
        if path.startswith(begins) and "{key}" in path:
            is_vehicles = purpose is Purpose.ODOMETER
            key = house.key(purpose, mark=mark) if is_vehicles else house.key(purpose, person="ines")
            path = path.replace("{key}", key)
    return path.replace("{short}", "nothing")


def open_sheet(house: Served, mark: str) -> int:
    """A sheet of that vehicle that is not closed."""
    parts, now = house.parts, house.clock.now()
    with parts.store.read() as view:
        there = [order.number for order in view.orders((mark,)) if order.state.is_open]
    if there:
        return there[0]
    return open_order(
        parts.store, parts.rules, Opening(mark, ("engine oil",)), now=now, who="test", base_url="http://x"
    ).number


def held_one(house: Served, mark: str) -> int:
    """A held reading of that vehicle."""
    parts, now = house.parts, house.clock.now()
    with parts.store.read() as view:
        held = [r.id for r in view.readings((mark,)) if r.state is ReadingState.HELD]
        latest = max(r.value for r in view.readings((mark,)) if r.state is ReadingState.USED)
    if held:
        return held[0] or 0
    given = Given(mark, latest * 3, "test", Door.API, hold=True)
    came = record_reading(parts.store, parts.rules, given, now=now, base_url=parts.base_url)
    assert isinstance(came, Recorded)
    assert came.reading.state is ReadingState.HELD
    return came.reading.id or 0
