"""Letters against the plain way, side by side: `python -m tests.bench.bench_letters [LETTERS [MANY]]`.

A mail server (aiosmtpd) runs in a process of its own. In turn, round after round, over so many letters each:

- `one connection a mail`: the message is built anew with the standard library and sent over a connection of its own;
- `and marked as sent`: the same with one synced commit to a bare SQLite file after each, so that it is known what was
  sent, which is the least that a sender can do;
- `mailer`: the prepared bytes over the connection that is kept;
- `outbox`: the same through the ledger in SQLite, each letter leased, sent and settled at once, without and with the
  sync to the disk.

The rates are told against `one connection a mail`, which marks nothing as sent, and behind the stroke against the one
that does. Compared are medians of wall time and of CPU time in this process. The server says that it takes commands in
groups (PIPELINING), as those in use do. Then the same over STARTTLS, and with a server that does not say so. Last, MANY
(10,000) letters are written and sent, and the memory that the process took on top is told.
"""

from __future__ import annotations

import resource
import shutil
import smtplib
import sqlite3
import ssl
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from email.message import EmailMessage
from pathlib import Path
from typing import Any

from fleetcare.actions.ports import Change
from fleetcare.actions.send_letters import send_due_letters
from fleetcare.actions.write_letters import write_due_letters
from fleetcare.assemble import Parts
from fleetcare.digest.values import Delivery, DeliveryState, LetterKind
from fleetcare.fleet.people import Person
from fleetcare.mailer.message import build_message
from fleetcare.mailer.smtp import SmtpMailer
from fleetcare.quantities import DistanceUnit
from fleetcare.store.sql_store import open_store
from tests.cli.small_garage import write_garage
from tests.faults.mail_world import BEGIN, SENDER, FastClock, letters, open_home
from tests.house.tree import ROOT
from tests.mailer.letters import LETTER
from tests.stand_ins import FixedClock

ROUNDS = 5
Took = tuple[float, float]
"""Wall and CPU seconds."""
TO = "teo@garage.example"


def serve(port_file: str, certificate: str, key: str, extension: str) -> None:
    """The server: takes everything and keeps nothing. extension: one more that it says it has."""
    import asyncio

    from aiosmtpd.smtp import SMTP

    class Sink:
        """Says yes to all."""

        async def handle_EHLO(  # noqa: N802
            self, server: object, session: Any, envelope: object, hostname: str, responses: list[str]
        ) -> list[str]:
            # aiosmtpd reads line by line, so it can take commands in groups, and does not say so.
            session.host_name = hostname
            return [responses[0], *([f"250-{extension}"] if extension else []), *responses[1:]]

        async def handle_DATA(self, server: object, session: object, envelope: object) -> str:  # noqa: N802
            return "250 2.0.0 taken"

    context = None
    if certificate:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(certificate, key)
    loop = asyncio.new_event_loop()
    made = loop.create_server(
        lambda: SMTP(Sink(), loop=loop, hostname="sink.test", tls_context=context, require_starttls=bool(context)),
        "127.0.0.1",
        0,
    )
    listener = loop.run_until_complete(made)
    Path(port_file).write_text(str(listener.sockets[0].getsockname()[1]))
    loop.run_forever()


@contextmanager
def server(
    folder: Path, certificate: tuple[Path, Path] | None = None, *, extension: str = "PIPELINING"
) -> Iterator[int]:
    """The port of a server in a process of its own."""
    port_file = folder / f"port-{len(list(folder.glob('port-*')))}"
    words = [str(port_file), *(map(str, certificate) if certificate else ("", "")), extension]
    process = subprocess.Popen([sys.executable, "-m", "tests.bench.bench_letters", "--serve", *words], cwd=ROOT)
    try:
        while not port_file.exists() or not port_file.read_text():
            time.sleep(0.05)
        yield int(port_file.read_text())
    finally:
        process.terminate()
        process.wait()


def certificate_in(folder: Path) -> tuple[Path, Path]:
    """A certificate for 127.0.0.1 that nobody vouches for, and its key."""
    openssl = shutil.which("openssl")
    assert openssl is not None, "openssl makes the certificate"
    cert, key = folder / "cert.pem", folder / "key.pem"
    subprocess.run(
        [openssl, "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-days", "2"]
        + ["-subj", "/CN=localhost", "-addext", "subjectAltName=IP:127.0.0.1", "-keyout", str(key), "-out", str(cert)],
        check=True,
        capture_output=True,
    )
    return cert, key


def plain_way(port: int, count: int, ca_file: Path | None, marks: Path | None = None) -> None:
    """Each message built anew and sent over a connection of its own. marks: a file in which each is marked as sent."""
    raw = sqlite3.connect(marks or ":memory:", isolation_level=None)
    raw.execute("PRAGMA journal_mode=WAL")
    raw.execute("PRAGMA synchronous=FULL")
    raw.execute("CREATE TABLE IF NOT EXISTS sent (number INTEGER)")
    context = None if ca_file is None else ssl.create_default_context(cafile=str(ca_file))
    for number in range(count):
        message = EmailMessage()
        message["From"], message["To"], message["Subject"] = SENDER, TO, LETTER.subject
        message["Message-ID"] = f"<{number}@garage.example>"
        message["Date"] = "Tue, 14 Apr 2026 05:00:00 +0000"
        message.set_content(LETTER.plain)
        message.add_alternative(LETTER.html, subtype="html")
        with smtplib.SMTP("127.0.0.1", port) as line:
            if context is not None:
                line.starttls(context=context)
            line.send_message(message)
        if marks is not None:
            raw.execute("INSERT INTO sent VALUES (?)", (number,))
    raw.close()


def mailer_to(port: int, ca_file: Path | None) -> SmtpMailer:
    """Ours."""
    return SmtpMailer("127.0.0.1", port, "starttls" if ca_file else "none", from_address=SENDER, ca_file=ca_file)


def prepared(port: int, raws: list[bytes], ca_file: Path | None) -> None:
    """Prepared bytes over the connection that is kept."""
    mailer = mailer_to(port, ca_file)
    for number, raw in enumerate(raws):
        mailer.send(raw, TO, next_to_mail=TO if number + 1 < len(raws) else None)
    mailer.finish()


def rows(raws: list[bytes]) -> list[Delivery]:
    """Those letters as rows of the ledger."""
    first = Delivery(
        "teo", LetterKind.GARAGE, "0", "<0@x>", "x", TO, b"", BEGIN, BEGIN + timedelta(days=7), DeliveryState.DUE
    )
    return [replace(first, period=str(n), message_id=f"<{n}@x>", raw=raw) for n, raw in enumerate(raws)]


def outbox(folder: Path, name: str, port: int, raws: list[bytes], ca_file: Path | None, *, synced: bool) -> Took:
    """The same through the ledger; writing the rows is not counted."""
    store = open_store(f"sqlite:///{folder / name}.sqlite3")
    with store.write(Change("bench", "letters", BEGIN)) as unit:
        for row in rows(raws):
            unit.add_delivery(row)
    used: Any = store if synced else _Unsynced(store)
    took = timed(lambda: send_due_letters(used, mailer_to(port, ca_file), FixedClock(BEGIN)))
    assert all(each.state is DeliveryState.SENT for each in letters(store))
    store.close()
    return took


class _Unsynced:
    """A store whose commits do not wait for the disk: what the ledger itself costs."""

    def __init__(self, within: object) -> None:
        self._within = within

    def __getattr__(self, name: str) -> object:
        return getattr(self._within, name)

    def write(self, change: Change, *, typed: bool = True) -> object:
        """As usual, not brought to the disk."""
        return self._within.write(change, typed=False)  # type: ignore[attr-defined]


def timed(work: Callable[[], object]) -> Took:
    """Wall and CPU seconds of one call."""
    wall_s, cpu_s = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - wall_s, time.process_time() - cpu_s


def compare(folder: Path, count: int, certificate: tuple[Path, Path] | None, extension: str = "PIPELINING") -> None:
    """The ways side by side."""
    ca_file = certificate[0] if certificate else None
    raws = [
        build_message(LETTER, from_name="Garage", from_address=SENDER, message_id=f"<{n}@x>", date=BEGIN, key=str(n))
        for n in range(count)
    ]
    took: dict[str, list[Took]] = {
        "one connection a mail": [],
        "and marked as sent": [],
        "mailer": [],
        "outbox, not synced": [],
        "outbox": [],
    }
    marks = folder / "marks.sqlite3"
    with server(folder, certificate, extension=extension) as port:
        for number in range(ROUNDS):
            took["one connection a mail"].append(timed(lambda: plain_way(port, count, ca_file)))
            took["and marked as sent"].append(timed(lambda: plain_way(port, count, ca_file, marks)))
            took["mailer"].append(timed(lambda: prepared(port, raws, ca_file)))
            for name, synced in (("outbox, not synced", False), ("outbox", True)):
                where = f"{'tls' if certificate else 'plain'}{extension}-{number}-{synced}"
                took[name].append(outbox(folder, where, port, raws, ca_file, synced=synced))
    how = f"{' over STARTTLS' if certificate else ''}, {'with' if extension else 'without'} PIPELINING"
    print(f"{count} letters of {len(raws[0])} bytes{how}, medians of {ROUNDS}:")
    medians = {name: [statistics.median(one[which] for one in each) for which in (0, 1)] for name, each in took.items()}
    bare, marked = medians["one connection a mail"], medians["and marked as sent"]
    for name, (wall, cpu) in medians.items():
        print(
            f"  {name:<22} wall {1000 * wall / count:6.2f} ms, {bare[0] / wall:4.1f} | {marked[0] / wall:4.1f} times "
            f"the rate; CPU {1000 * cpu / count:6.2f} ms, {bare[1] / cpu:4.1f} | {marked[1] / cpu:4.1f} times"
        )


def memory_mb() -> float:
    """The most memory this process has had."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def many(folder: Path, people: int) -> None:
    """So many letters written and sent."""
    with server(folder) as port:
        clock = FastClock(time.time(), fast=1.0)
        parts = open_home(folder / "many", clock, port)
        vehicles = _garage_of(parts, folder, people)
        before = memory_mb()
        began_s = time.perf_counter()
        written = write_due_letters(parts.store, parts.rules, parts.desk, now=BEGIN, with_requests=False)
        wrote_s, after_writing = time.perf_counter() - began_s, memory_mb()
        began_s = time.perf_counter()
        sent = send_due_letters(parts.store, parts.mailer, FixedClock(BEGIN))
        sent_s, after_sending = time.perf_counter() - began_s, memory_mb()
        with parts.store.read() as view:
            first = view.deliveries()[0]
        size = len(first.raw)
        assert (written, sent.sent) == (people, people), (written, sent)
        parts.close()
    print(f"{people} letters of some {size} bytes ({people * size / 1e6:.0f} MB in all), {vehicles} vehicles:")
    print(f"  written in {wrote_s:.0f} s ({1000 * wrote_s / people:.1f} ms each), {after_writing - before:.0f} MB more")
    print(
        f"  sent in {sent_s:.0f} s ({1000 * sent_s / people:.1f} ms each), {after_sending - after_writing:.0f} MB more"
    )


def _garage_of(parts: Parts, folder: Path, people: int) -> int:
    """A garage in which so many people drive, ten to a vehicle."""
    from fleetcare.cli.bringing import bring_in_files

    bring_in_files(parts, write_garage(folder / "files"))
    persons = [
        Person(f"p{n:05}", f"Driver {n}", f"p{n:05}@garage.example", "UTC", DistanceUnit.KM, letter_weekday=0)
        for n in range(people)
    ]
    with parts.store.write(Change("bench", "people", BEGIN)) as unit:
        (vehicle,) = unit.vehicles()
        (reading, *_) = unit.readings()
        for person in unit.people():
            unit.put_person(replace(person, mail=""))
        for person in persons:
            unit.put_person(person)
        for start in range(0, people, 10):
            keys = tuple(person.key for person in persons[start : start + 10])
            mark = f"V{start // 10}"
            unit.put_vehicle(replace(vehicle, mark=mark, name=f"Vehicle {mark}", keeper=keys[0], drivers=keys))
            unit.add_readings([replace(reading, mark=mark, id=None)])
    return people // 10


def main(count: int = 300, people: int = 10_000) -> None:
    """Prints the comparison."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        compare(folder, count, None)
        compare(folder, count, certificate_in(folder))
        compare(folder, count, None, extension="")
        many(folder, people)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--serve"]:
        serve(*sys.argv[2:])
    else:
        main(*map(int, sys.argv[1:]))
