"""How many statements each page asks of the database: a fixed number, however many vehicles the garage has.

The counts below were measured and are held so that a page that begins to ask once for each vehicle is noticed. Who
makes a page ask less lowers its number here.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

import httpx
import sqlalchemy as sa

from fleetcare.actions.ports import Change
from fleetcare.actions.refresh import refresh
from tests.web.conftest import Served

MORE = 40
PAGES: dict[str, int] = {
    "/": 20,
    "/vehicles": 13,
    "/vehicles/AN": 32,
    "/find?words=anvil": 17,
    "/readings": 13,
    "/vehicles/AN/reading": 53,
    "/readings/held": 15,
    "/plan": 30,
    "/findings": 11,
    "/people": 15,
    "/people/teo": 15,
    "/vehicles/AN/away": 29,
    "/vehicles/AN/tags": 12,
    "/shopping": 23,
    "/handbook": 9,
    "/handbook/rear-axle-fluid": 9,
    "/vehicles/AN/work": 22,
    "/vehicles/AN/history": 30,
    "/stickers": 15,
    "/new-vehicle": 10,
    "/calendar": 23,
    "/calendar/shared": 13,
    "/letters": 9,
    "/api/due": 13,
    "/api/vehicles": 13,
}
"""Page, and how many statements it asks, those that open and close a read included. Of the whole garage a process has
worked out before where it stands (`actions/kept_outlooks.py`)."""


@contextmanager
def counted() -> Iterator[list[str]]:
    """Statements that reach the database while the block runs, whatever connection they take."""
    asked: list[str] = []

    def note(_c: object, _k: object, statement: str, *_rest: object) -> None:
        asked.append(statement)

    sa.event.listen(sa.Engine, "before_cursor_execute", note)
    try:
        yield asked
    finally:
        sa.event.remove(sa.Engine, "before_cursor_execute", note)


def asked_by(served: Served, client: httpx.Client, path: str, headers: dict[str, str]) -> list[str]:
    """Statements of one look at a page, after a first one that may fill what is kept."""
    client.get(served.url + path, headers=headers)
    with counted() as asked:
        assert client.get(served.url + path, headers=headers).status_code == 200, path
    return asked


def with_more_vehicles(served: Served) -> None:
    """Forty more like Anvil, each with a reading and its work."""
    with served.parts.store.write(Change("test", "a larger garage", served.clock.now())) as unit:
        (anvil,) = unit.vehicles(("AN",))
        readings, work = unit.readings(("AN",)), unit.work(("AN",))
        for number in range(MORE):
            mark = f"X{number}"
            unit.put_vehicle(replace(anvil, mark=mark, name=f"Wagon {number}"))
            unit.add_readings([replace(each, mark=mark, id=None) for each in readings])
            unit.add_work([replace(each, line=each.line._replace(mark=mark), id=None) for each in work])
    refresh(served.parts.store, served.parts.rules, now=served.clock.now(), base_url=served.url, why="a larger garage")


def test_no_page_asks_more_of_the_database_in_a_larger_garage(served: Served, client: httpx.Client) -> None:
    headers = served.session("ines")
    before = {path: len(asked_by(served, client, path, headers)) for path in PAGES}
    with_more_vehicles(served)
    after = {path: asked_by(served, client, path, headers) for path in PAGES}
    assert {path: len(asked) for path, asked in after.items()} == before
    assert before == PAGES


def test_a_page_that_asks_once_for_each_vehicle_would_be_noticed(served: Served) -> None:
    """The guard can fail."""
    with counted() as asked, served.parts.store.read() as view:
        for mark in view.marks():
            view.readings((mark,))
    assert len(asked) > len(served.addresses["readings"])
