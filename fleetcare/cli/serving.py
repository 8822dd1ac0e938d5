"""Commands that serve: serve and demo."""

from __future__ import annotations

import gc
from contextlib import ExitStack, contextmanager
from contextvars import Context, copy_context
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypedDict

import typer

from fleetcare.cli.frame import AsJson, Home, command, home_folder, parts_of, say, show_data
from fleetcare.errors import BadInput, BadSettings
from fleetcare.language import saying, tr

if TYPE_CHECKING:
    import socket
    from collections.abc import Callable, Iterator

    from fleetcare.assemble import Parts

Host = Annotated[str | None, typer.Option("--host", help="Address to listen on; else as in settings.toml.")]
Port = Annotated[int | None, typer.Option("--port", min=0, max=65535, help="Port; 0 picks a free one.")]


class Addresses(TypedDict):
    """Where everything of the demo is, as `demo --json` prints it once it answers."""

    front: str
    feeds: dict[str, str]
    readings: dict[str, str]
    sign_in: str
    letters: str
    home: str


@command("serve")
def serve(host: Host = None, port: Port = None, home: Home = None, as_json: AsJson = False) -> None:
    """Serves pages and feeds and sends letters, until stopped."""
    with _not_looking_for_garbage():
        parts, sock = _open(home, host, port)

    def announce() -> None:
        if as_json:
            show_data({"front": f"{parts.base_url}/", "home": str(parts.home)})
            return
        say(tr("Road ahead: {url}", url=f"{parts.base_url}/"))
        if parts.mail_note:
            say(parts.mail_note)

    _serve(parts, sock, announce)


@command("demo")
def demo(host: Host = None, port: Port = None, home: Home = None, as_json: AsJson = False) -> None:
    """Serves an invented garage from a fresh home, so that there is something to look at."""
    import tempfile

    from fleetcare.settings.new_home import write_new_home

    folder = home_folder(home) if home is not None else Path(tempfile.mkdtemp(prefix="fleetcare-demo-"))
    write_new_home(folder)
    parts, sock = _open(folder, host, port, open_house=True)
    try:
        with parts.store.read() as view:
            if view.garage() is not None:
                raise BadInput(
                    saying("{folder} holds a garage already.", folder=folder), remedy="The demo wants a fresh folder."
                )
        parts, addresses = load_demo(parts)
        _open_sheets(parts)
    except BaseException:
        sock.close()
        parts.close()
        raise

    def announce() -> None:
        if as_json:
            show_data(addresses)
            return
        say(tr("Road ahead: {url}", url=addresses["front"]))
        say(tr("Come in: {url}", url=addresses["sign_in"]))
        say(tr("Calendar feeds:"))
        for person, where in addresses["feeds"].items():
            say(f"  {person:<16} {where}")
        say(tr("Odometer pages:"))
        for mark, where in addresses["readings"].items():
            say(f"  {mark:<16} {where}")
        say(tr("Letters: {folder}", folder=addresses["letters"]))
        say(tr("Home: {folder}", folder=addresses["home"]))
        say(tr("Stop with Ctrl-C."))

    _serve(parts, sock, announce)


def load_demo(parts: Parts) -> tuple[Parts, Addresses]:
    """Brings the invented garage in, moved to this week, and makes a link to everything worth opening.

    Returns the parts that go by the demo's own interval book, and the addresses.
    """
    from datetime import date

    from fleetcare.actions.links import make_key
    from fleetcare.actions.refresh import refresh
    from fleetcare.cli.bringing import bring_in_files
    from fleetcare.fleet.access import PRINTED_SIGN_IN_TIME, Purpose, link_address
    from fleetcare.settings.places import shipped_demo

    now = parts.clock.now()
    # The files stand at Tuesday 14 April 2026; whole weeks keep every weekday what it is.
    weeks = (now.date() - date(2026, 4, 14)).days // 7
    parts = bring_in_files(parts, shipped_demo(), shift_days=7 * weeks).parts

    def link(purpose: Purpose, *, person: str = "", mark: str = "") -> str:
        lasts = PRINTED_SIGN_IN_TIME if purpose is Purpose.SIGN_IN else None
        key = make_key(
            parts.store, parts.keys, now=now, who="demo", purpose=purpose, lasts=lasts, person=person, mark=mark
        )
        return link_address(parts.base_url, purpose, key)

    with parts.store.read() as view:
        people, vehicles, garage = view.people(), view.vehicles(), view.garage()
    assert garage is not None  # the demo brings one
    addresses: Addresses = {
        "front": f"{parts.base_url}/",
        "feeds": {person.key: link(Purpose.FEED, person=person.key) for person in people},
        "readings": {v.mark: link(Purpose.ODOMETER, mark=v.mark) for v in vehicles if v.meters},
        "sign_in": link(Purpose.SIGN_IN, person=garage.list_keeper),
        "letters": str(parts.letters_folder),
        "home": str(parts.home),
    }
    refresh(parts.store, parts.rules, now=now, base_url=parts.base_url, why="the demo begins")
    return parts, addresses


def _open_sheets(parts: Parts) -> None:
    """A sheet for each inked visit, so that a newcomer finds one to print and hand in."""
    from fleetcare.actions.order_work import Opening, open_order
    from fleetcare.fleet.bay_visit import VisitState

    now = parts.clock.now()
    with parts.store.read() as view:
        inked = sorted(v.key for v in view.bay_visits() if v.state is VisitState.INKED and v.begins_at > now)
    for mark, number in inked:
        given = Opening(mark, (), visit=number)
        open_order(parts.store, parts.rules, given, now=now, who="demo", base_url=parts.base_url)


@contextmanager
def _not_looking_for_garbage() -> Iterator[None]:
    """While modules load there is none, and looking for it took a sixth of the time of a start."""
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


def _open(
    home: Path | None, host: str | None, port: int | None, *, open_house: bool = False
) -> tuple[Parts, socket.socket]:
    """The parts with the address they are really served at, and the socket that listens there."""
    from fleetcare.assemble import note_served_at
    from fleetcare.settings.places import environment
    from fleetcare.settings.settings import load_settings
    from fleetcare.web.server import open_socket, port_of

    folder = home_folder(home)
    settings = load_settings(folder, environment())
    where = host or settings.web.host
    try:
        sock = open_socket(where, settings.web.port if port is None else port)
    except BadSettings:
        if port is not None or not open_house:
            raise
        # A demo that finds the usual port taken takes any other.
        sock = open_socket(where, 0)
    overrides = {"FLEETCARE_WEB_HOST": where, "FLEETCARE_WEB_PORT": str(port_of(sock))}
    if open_house:
        overrides["FLEETCARE_WEB_OPEN_HOUSE"] = "true"
    try:
        note_served_at(folder, load_settings(folder, {**environment(), **overrides}).web.base_url)
        return parts_of(home, overrides=overrides), sock
    except BaseException:
        sock.close()
        raise


def _serve(parts: Parts, sock: socket.socket, announce: Callable[[], None]) -> None:
    # What is served is told in the language of whoever asks, so nothing of it inherits the language of this command.
    Context().run(_run, parts, sock, partial(copy_context().run, announce))


def _run(parts: Parts, sock: socket.socket, announce: Callable[[], None]) -> None:
    with _not_looking_for_garbage():
        from fleetcare.planner import Planner
        from fleetcare.timetable import Round, start_timetable
        from fleetcare.web.app import create_app
        from fleetcare.web.server import run_server

        round_ = Round(parts)
        planner = Planner(parts)
        round_.look_at_plan = planner.look_again
        app = create_app(parts, troubles=round_.troubles, planner=planner)
    # What was loaded until now stays to the end; the collector need not look through it again and again.
    gc.freeze()
    running = ExitStack()

    def ready() -> None:
        # After a crash people wait for the pages; the first round, which works everything out, comes after them.
        running.callback(start_timetable(round_).shutdown, wait=True)
        announce()

    try:
        run_server(app, sock, ready)
    finally:
        planner.stop()
        running.close()
        parts.close()
        sock.close()
