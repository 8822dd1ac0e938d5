"""What a calendar costs that people leave switched on: `python -m tests.bench.bench_feeds [SUBSCRIBERS]`.

All are ratios, measured in turn in one run, as medians of rounds of CPU time (user and system):

- an unchanged poll, its key looked up in the database each time, against a 5-byte answer of the same server; over kept
  connections, and with one connection for each poll;
- a feed of 1 000 entries of which one changed, joined from its revisions, against reading the same bytes stored whole;
- one entry of 10 000 changed: written, tagged and joined, against writing all of them with the library;
- one recompute of a garage with so many subscribers (10 000) of 100 entries each: entries written, and time.
"""

from __future__ import annotations

import multiprocessing
import resource
import socket
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from icalendar import Calendar

from fleetcare.actions.ports import Change
from fleetcare.actions.refresh import refresh
from fleetcare.actions.settle import settle
from fleetcare.assemble import assemble
from fleetcare.calendar_feed import render
from fleetcare.calendar_feed.publishing import draft_of, press_at
from fleetcare.calendar_feed.render import feed_etag, feed_head
from fleetcare.calendar_feed.values import FEED_END, EntryKind, FeedContents, FeedEntry, PublishedEntry, Revision
from fleetcare.chance import key_hash
from fleetcare.cli.bringing import bring_in_files
from fleetcare.fleet.access import AccessKey, Fetch, Purpose
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.people import Person
from fleetcare.quantities import DateSpan, DistanceUnit
from fleetcare.settings.new_home import write_new_home
from fleetcare.settings.places import shipped_demo
from fleetcare.store.sql_store import open_store
from fleetcare.web.feed_copies import FeedCopies
from fleetcare.web.feeds import FeedDoor
from fleetcare.web.server import open_socket, port_of, start_server
from tests.stand_ins import FixedClock

ROUNDS = 7
POLLS = 6000
AT_ONCE = 16
NOW = datetime(2026, 4, 14, 15, 0, tzinfo=UTC)
KEY = "k" * 43


def cpu_s(work: Callable[[], object]) -> float:
    """CPU time of one call."""
    began = time.process_time()
    work()
    return time.process_time() - began


def entries(count: int) -> list[FeedEntry]:
    """So many, each with a text of some 400 characters, as services have it."""
    text = "Early 27 May, likely 7 June, late 26 June. " + "Distance comes first; worn about 65 %. " * 9
    days = [date(2026, 4, 14) + timedelta(days=number % 700) for number in range(count)]
    return [
        FeedEntry(
            f"due/AN/engine/{number}",
            EntryKind.DUE,
            f"Anvil {number}: engine oil likely due",
            DateSpan.of_days(day, day),
            text=f"{number}: {text}",
            path=f"/vehicles/AN{number}",
        )
        for number, day in enumerate(days)
    ]


def written(count: int) -> list[PublishedEntry]:
    """So many entries, published."""
    press = press_at(NOW)
    for entry in entries(count):
        press.next(None, draft_of(entry, garage_id="bench", base="https://garage.example"))
    return press.made


def store_with_feed(path: Path, parts: list[PublishedEntry]) -> str:
    """A database with one feed of these entries and one key that opens it; the tag of the feed."""
    store = open_store(f"sqlite:///{path}")
    head = feed_head("Karst Ridge garage")
    etag = feed_etag(head, (part.digest for part in parts))
    with store.write(Change("bench", "fill", NOW)) as unit:
        numbers = unit.add_revisions(parts)
        unit.put_feed(FeedContents("ines", "", etag, NOW, head, entries=numbers))
        unit.put_key(AccessKey(key_hash(KEY), Purpose.FEED, "ines", "", NOW))
    store.note_fetch(key_hash(KEY), Fetch(NOW, "a program"))
    store.close()
    return etag


# Polls


def serve(folder: str, sock: socket.socket, line: Any) -> None:
    """The server under measure: the feed door, and a bare answer behind it. `line` is asked for the CPU time so far."""

    async def bare(scope: Any, receive: Any, send: Any) -> None:
        await send({"type": "http.response.start", "status": 200, "headers": [(b"content-length", b"5")]})
        await send({"type": "http.response.body", "body": b"hello"})

    store = open_store(f"sqlite:///{Path(folder) / 'feeds.sqlite3'}")
    door = FeedDoor(bare, store, FixedClock(NOW), FeedCopies(Path(folder) / "copies"))
    server = start_server(door, lambda: line.send("ready"))
    import threading

    def tell() -> None:
        while line.recv() == "cpu":
            used = resource.getrusage(resource.RUSAGE_SELF)
            line.send(used.ru_utime + used.ru_stime)
        server.should_exit = True

    threading.Thread(target=tell, daemon=True).start()
    server.run(sockets=[sock])


def ask(port: int, path: str, etag: str, *, close: bool, polls: int = POLLS) -> None:
    """So many polls over kept connections, or each over one of its own."""
    ending = b"Connection: close\r\n" if close else b""
    request = (
        f"GET {path} HTTP/1.1\r\nHost: garage.example\r\nUser-Agent: bench\r\nAccept: */*\r\n"
        f'If-None-Match: W/"{etag}"\r\n'.encode()
        + ending
        + b"\r\n"
    )
    if close:
        for _ in range(polls // 4):
            with socket.create_connection(("127.0.0.1", port)) as one:
                one.sendall(request)
                while one.recv(4096):
                    pass
        return
    kept = [socket.create_connection(("127.0.0.1", port)) for _ in range(AT_ONCE)]
    for _ in range(polls // AT_ONCE):
        for one in kept:
            one.sendall(request)
        for one in kept:
            answer = b""
            while b"\r\n\r\n" not in answer or (b"200 OK" in answer and not answer.endswith(b"hello")):
                answer += one.recv(4096)
    for one in kept:
        one.close()


def polls(folder: Path) -> dict[str, float]:
    """Server CPU seconds a poll, by what was asked and how."""
    etag = store_with_feed(folder / "feeds.sqlite3", written(100))
    sock = open_socket("127.0.0.1", 0)
    port = port_of(sock)
    ours, theirs = multiprocessing.Pipe()
    server = multiprocessing.get_context("fork").Process(target=serve, args=(str(folder), sock, theirs), daemon=True)
    server.start()
    sock.close()
    assert ours.recv() == "ready"

    def used_s() -> float:
        ours.send("cpu")
        return float(ours.recv())

    took: dict[str, list[float]] = {}
    feed = f"/feeds/{KEY}.ics"
    for path in (feed, "/bare"):
        ask(port, path, etag, close=False, polls=400)
    for _ in range(ROUNDS):
        for close in (False, True):
            for name, path in (("poll", feed), ("bare", "/bare")):
                before = used_s()
                ask(port, path, etag, close=close)
                count = POLLS // 4 if close else POLLS // AT_ONCE * AT_ONCE
                took.setdefault(f"{name}{', one connection each' if close else ''}", []).append(
                    (used_s() - before) / count
                )
    ours.send("stop")
    server.join(10)
    return {name: statistics.median(times) for name, times in took.items()}


# Changed feeds


def changed(folder: Path) -> dict[str, float]:
    """CPU seconds of the answer of a feed of 1 000 entries, and of reading the same bytes stored whole.

    changed: one entry moved since it was asked for last, as it is day by day. first: by a process that never answered
    it. All into fresh memory, as an answer takes it: what was read is kept until the round is over.
    """
    path = folder / "changed.sqlite3"
    parts = written(1000)
    store_with_feed(path, parts)
    store = open_store(f"sqlite:///{path}")
    took: dict[str, list[float]] = {"changed": [], "first": [], "whole": []}
    with closing(sqlite3.connect(folder / "whole.sqlite3", isolation_level=None)) as raw:
        raw.execute("PRAGMA journal_mode=WAL")
        raw.execute("CREATE TABLE whole (hash TEXT PRIMARY KEY, body BLOB)")
        body = store.feed_by_key(key_hash(KEY), NOW)
        assert body is not None
        raw.execute("INSERT INTO whole VALUES (?, ?)", (key_hash(KEY), body.body))
        query = "SELECT body FROM whole WHERE hash = ?"
        kept: list[object] = []
        for number in range(ROUNDS * 30):
            press = press_at(NOW + timedelta(minutes=number + 1))
            press.next(
                None,
                draft_of(
                    replace(entries(1)[0], title=f"moved {number}"), garage_id="bench", base="https://garage.example"
                ),
            )
            with store.write(Change("bench", "moved", NOW), typed=False) as unit:
                (moved,) = unit.add_revisions(press.made)
                (was,) = unit.feed_contents()
                unit.put_feed(replace(was, entries=(*was.entries[:-1], moved)))
            took["changed"].append(cpu_s(lambda: kept.append(store.feed_by_key(key_hash(KEY), NOW))))
            took["whole"].append(cpu_s(lambda: kept.append(raw.execute(query, (key_hash(KEY),)).fetchone())))
            if number % 30 == 0:
                kept.clear()
                other = open_store(f"sqlite:///{path}")
                other.feed_stamp(key_hash(KEY), NOW)
                took["first"].append(cpu_s(lambda: kept.append(other.feed_by_key(key_hash(KEY), NOW))))  # noqa: B023
                other.close()
    store.close()
    return {name: statistics.median(times) for name, times in took.items()}


def one_of_many(count: int = 10_000) -> dict[str, float]:
    """CPU seconds of a new body after one entry changed, and of writing every entry with the library."""
    given, parts = entries(count), written(count)
    head = feed_head("Karst Ridge garage")
    took: dict[str, list[float]] = {"one changed": [], "the library": []}

    def ours() -> None:
        press = press_at(NOW + timedelta(days=1))
        moved = replace(given[count // 2], title="Anvil: moved")
        one = press.next(parts[count // 2], draft_of(moved, garage_id="bench", base="https://garage.example"))
        now: list[Any] = [*parts]
        now[count // 2] = one
        now.sort(key=lambda part: part.sort_key)
        feed_etag(head, [part.digest for part in now])
        b"".join([head, *[part.body for part in now], FEED_END])

    def theirs() -> None:
        calendar = Calendar()
        calendar.add("version", "2.0")
        calendar.add("prodid", render.PRODID)
        for entry in given:
            calendar.add_component(
                render._event(entry, uid=entry.seed, url=entry.path, sequence=0, created_at=NOW, modified_at=NOW)
            )
        calendar.to_ical()

    for _ in range(3):
        took["the library"].append(cpu_s(theirs))
        took["one changed"] += [cpu_s(ours) for _ in range(5)]
    return {name: statistics.median(times) for name, times in took.items()}


# Many subscribers


def subscribers(folder: Path, count: int) -> None:
    """One recompute for so many subscribers of about 100 entries each; prints as it goes."""
    home = folder / "home"
    write_new_home(home)
    parts = assemble(home, {}, clock=FixedClock(NOW))
    parts = bring_in_files(parts, shipped_demo()).parts
    with parts.store.read() as view:
        anvil = next(vehicle for vehicle in view.vehicles() if vehicle.mark == "AN")
        work = [done for done in view.work() if done.line.mark == "AN"]
        readings = [reading for reading in view.readings() if reading.mark == "AN"]
    people = [Person(f"p{number:05}", f"P{number}", unit=DistanceUnit.MI) for number in range(count)]
    marks = [f"V{number:02}" for number in range(50)]
    with parts.store.write(Change("bench", "fill", NOW), typed=False) as unit:
        for person in people:
            unit.put_person(person)
            unit.put_key(AccessKey(key_hash(person.key), Purpose.FEED, person.key, "", NOW))
        for place, mark in enumerate(marks):
            drivers = tuple(p.key for number, p in enumerate(people) if (place - number) % 50 < 13)
            unit.put_vehicle(replace(anvil, mark=mark, name=f"Rig {place}", keeper="", drivers=drivers))
            unit.add_readings([replace(reading, mark=mark, id=None) for reading in readings])
            unit.add_work([replace(done, line=done.line._replace(mark=mark), id=None) for done in work])
    contents: tuple[FeedContents, ...] = ()
    known: dict[int, Revision] = {}
    for what in ("the first", "an unchanged"):
        began, began_cpu = time.perf_counter(), time.process_time()
        refresh(parts.store, parts.rules, now=NOW, base_url="https://garage.example", why="bench")
        with parts.store.read() as view:
            contents, known = view.feed_contents(), view.revisions()
        held = sum(len(each.entries) for each in contents)
        print(
            f"{what} recompute of {len(contents)} feeds with {held} entries: {len(known)} written once, "
            f"{time.process_time() - began_cpu:.1f} s CPU, {time.perf_counter() - began:.1f} s wall"
        )
    first = NOW.date() + timedelta(days=30)
    booking = Booking("bench", "Hill run", DateSpan.of_days(first, first), ("V07",), Decimal(0), DistanceUnit.KM)
    began, began_cpu = time.perf_counter(), time.process_time()
    with parts.store.write(Change("bench", "booked", NOW), typed=False) as unit:
        unit.put_booking(booking)
        settle(unit, parts.rules, now=NOW, base_url="https://garage.example", marks=("V07",))
        now = unit.revisions()
    with parts.store.read() as view:
        changed_feeds = sum(before != after for before, after in zip(contents, view.feed_contents(), strict=True))
    print(
        f"one booking: {len(now) - len(known)} written, {changed_feeds} feeds changed, "
        f"{time.process_time() - began_cpu:.2f} s CPU, {time.perf_counter() - began:.2f} s wall"
    )
    parts.close()


def main() -> None:
    """Prints medians and ratios."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        cost = polls(folder)
        for what, seconds in cost.items():
            print(f"{what:32} {seconds * 1e6:8.1f} us of the server")
        print(f"unchanged poll: {cost['poll'] / cost['bare']:.2f} times a 5-byte answer")
        each = ", one connection each"
        print(f"unchanged poll{each}: {cost['poll' + each] / cost['bare' + each]:.2f} times")
        read = changed(folder)
        for what in ("changed", "first"):
            print(f"{what} answer of 1 000: {read[what] * 1e3:.2f} ms, {read[what] / read['whole']:.2f} times whole")
        many = one_of_many()
        ratio = many["the library"] / many["one changed"]
        print(f"one of 10 000: {many['one changed'] * 1e3:.1f} ms, 1/{ratio:.0f} of the library")
        subscribers(folder, count)


if __name__ == "__main__":
    main()
