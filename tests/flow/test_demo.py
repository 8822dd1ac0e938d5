"""The invented garage from its files to calendars, letters and back into files, on both databases."""

from __future__ import annotations

import io
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from email import message_from_bytes, policy
from email.message import EmailMessage
from email.utils import parsedate_to_datetime
from pathlib import Path

import pytest
import vobject
from ical.calendar_stream import IcsCalendarStream
from typer.testing import CliRunner

from fleetcare.actions.check_promises import check_promises
from fleetcare.actions.close_work import close_work
from fleetcare.actions.look_ahead import look_ahead
from fleetcare.actions.note_event import note_event
from fleetcare.actions.ports import LogEntry
from fleetcare.assemble import Parts
from fleetcare.cli import files, frame
from fleetcare.cli.bringing import bring_in_files
from fleetcare.cli.serving import Addresses, load_demo
from fleetcare.digest.values import Delivery
from fleetcare.due.outlook import Cause, DueWindow
from fleetcare.fleet.booking import UseEvent
from fleetcare.fleet.people import Garage
from fleetcare.settings.places import shipped_demo
from fleetcare.timetable import Round
from tests.calendar_feed.raw_feed import Block, day_of, moment_of, parsed, unfolded, when
from tests.demo import garage_files
from tests.flow.homes import BASE_URL, answering, open_home, path_of
from tests.mailer.servers import Kept, RealServer
from tests.stand_ins import FixedClock, NumberedKeys

TUESDAY = datetime(2026, 4, 14, 15, 0, tzinfo=UTC)
"""Nine in the morning at Karst Ridge, on the day the demo files stand at."""
PEOPLE = ("ines", "marit", "noor", "piet", "rufus", "teo", "wanda")
SENDER = "garage@karstridge.example"


@dataclass
class Home:
    """The demo garage in a home of its own, which can be left and opened anew."""

    home: Path
    database: str
    mail_port: int
    clock: FixedClock = field(default_factory=lambda: FixedClock(TUESDAY))
    keys: NumberedKeys = field(default_factory=NumberedKeys)

    def open(self) -> Parts:
        """Its parts, as a program that is started finds them."""
        mail = {"HOST": "127.0.0.1", "PORT": str(self.mail_port), "SECURITY": "none", "FROM_ADDRESS": SENDER}
        settings = {f"FLEETCARE_MAIL_{key}": value for key, value in mail.items()}
        return open_home(self.home, self.clock, keys=self.keys, database=self.database, settings=settings)


@pytest.fixture
def garage(tmp_path: Path, database_url: str, server: RealServer) -> Home:
    """A home on each database, with a mail server that takes everything."""
    return Home(tmp_path / "home", database_url, server.port)


@pytest.fixture
def server() -> Iterator[RealServer]:
    """A mail server on this machine."""
    with RealServer() as running:
        yield running


@dataclass
class Loaded:
    """The demo, loaded, with its addresses."""

    parts: Parts
    addresses: Addresses

    @property
    def now(self) -> datetime:
        """What its clock shows."""
        return self.parts.clock.now()

    def feeds(self) -> dict[str, bytes]:
        """Everybody's calendar as a phone fetches it."""
        with answering(self.parts) as client:
            got = {person: client.get(path_of(address)) for person, address in self.addresses["feeds"].items()}
        assert {answer.status_code for answer in got.values()} == {200}
        return {person: answer.content for person, answer in got.items()}

    def windows(self) -> dict[str, object]:
        """What is stored for each line, by its key in words."""
        with self.parts.store.read() as view:
            return {str(key): state for key, state in view.windows().items()}

    def check(self) -> None:
        """Nothing that the program promises is broken."""
        assert check_promises(self.parts.store, self.parts.rules, now=self.now).broken == ()


@pytest.fixture
def loaded(garage: Home) -> Iterator[Loaded]:
    """The demo garage on the day its files stand at."""
    parts, addresses = load_demo(garage.open())
    yield Loaded(parts, addresses)
    parts.close()


def events_in(body: bytes) -> dict[str, Block]:
    """The events of a feed by UID."""
    calendar = parsed(unfolded(body))
    events = {block.one("UID").value: block for block in calendar.blocks}
    assert len(events) == len(calendar.blocks)
    return events


def bytes_in(body: bytes) -> dict[str, bytes]:
    """The bytes of each event by UID, and of what stands around them under the empty name."""
    found = {}
    for each in re.findall(rb"BEGIN:VEVENT\r\n.*?END:VEVENT\r\n", body, re.DOTALL):
        uid = re.search(rb"\r\nUID:([^\r]+)\r\n", each)
        assert uid is not None
        found[uid[1].decode()] = each
    around = re.sub(rb"BEGIN:VEVENT\r\n.*?END:VEVENT\r\n", b"", body, flags=re.DOTALL)
    return found | {"": re.sub(rb"LAST-MODIFIED:[^\r]*\r\n", b"", around)}


def letter_of(kept: Kept) -> EmailMessage:
    """A letter as the standard library reads it."""
    message = message_from_bytes(kept.content, policy=policy.default)
    assert isinstance(message, EmailMessage)
    return message


def theirs() -> dict[str, set[str]]:
    """Names of the vehicles each person keeps or drives, and all for who keeps the list; read from the files alone."""
    vehicles = garage_files.vehicles()
    found = {
        person: {name for name, v in vehicles.items() if person in (v.get("keeper"), *v.get("drivers", []))}
        for person in PEOPLE
    }
    found[garage_files.toml("garage.toml")["garage"]["list_keeper"]] = set(vehicles)
    return found


def test_every_feed_reads_the_same_in_two_other_programs(loaded: Loaded) -> None:
    """vobject and ical find the entries that stand in the bytes, and each person is shown their own vehicles alone."""
    loaded.check()
    feeds = loaded.feeds()
    assert set(feeds) == set(PEOPLE)
    for person, body in feeds.items():
        events = events_in(body)
        wanted = sorted(
            (e.one("SUMMARY").text, str(when(e.one("DTSTART"))), str(when(e.one("DTEND")))) for e in events.values()
        )
        (calendar,) = vobject.readComponents(io.StringIO(body.decode("utf-8")))
        assert (
            sorted((e.summary.value, str(e.dtstart.value), str(e.dtend.value)) for e in calendar.vevent_list) == wanted
        )
        read = IcsCalendarStream.calendar_from_ics(body.decode("utf-8"))
        assert sorted((e.summary, str(e.dtstart), str(e.dtend)) for e in read.events) == wanted
        named = {
            name for name in garage_files.vehicles() if any(title.startswith(f"{name}: ") for title, _, _ in wanted)
        }
        assert named, person
        assert named <= theirs()[person], person


def test_letters_go_through_a_mail_server_to_whom_they_are_meant_for(loaded: Loaded, server: RealServer) -> None:
    """A garage letter for everybody who wants one, none for Noor; both drivers of Bellows owe its reading.

    Ines, who keeps Raft, hears once that it is past late.
    """
    Round(loaded.parts).run()
    loaded.check()
    got: Counter[tuple[str, str]] = Counter()
    for kept in server.kept:
        letter = letter_of(kept)
        (to,) = letter["To"].addresses
        assert kept.recipients == [to.addr_spec]
        assert kept.sender == SENDER
        assert parsedate_to_datetime(letter["Date"]) == loaded.now
        plain, html = letter.get_body(("plain",)), letter.get_body(("html",))
        assert plain is not None and html is not None  # noqa: PT018 (for the type checker)
        person = next(p for p in garage_files.toml("people.toml")["person"] if p["mail"] == to.addr_spec)
        assert person["name"].split()[0] in plain.get_content()
        assert "List-Unsubscribe" in letter
        got[person["key"], "garage letter" if letter["Subject"].startswith("Garage letter") else letter["Subject"]] += 1
    request = "Bellows: what does the odometer show?"
    # Last read on 12 March, the only dial that nobody looked at for more than 28 days; Ines and Teo drive Bellows.
    old = [
        name
        for name in garage_files.vehicles()
        if (seen := garage_files.used_readings(name)) and (garage_files.TODAY - seen[-1].on).days > 28
    ]
    assert old == ["Bellows"]
    assert got == Counter(
        {
            **{(p, "garage letter"): 1 for p in PEOPLE if p != "noor"},
            ("ines", request): 1,
            ("teo", request): 1,
            ("ines", "Raft is past late: coupling"): 1,
            ("ines", "You in the bay on Thursday: Raft"): 1,
        }
    )
    assert len({letter_of(kept)["Message-ID"] for kept in server.kept}) == len(server.kept)


def test_a_restart_sends_nothing_twice_and_changes_no_feed(loaded: Loaded, garage: Home, server: RealServer) -> None:
    """A program that is started again on the same home finds what was sent; a week later the next letters go out."""
    Round(loaded.parts).run()
    feeds, windows, sent = loaded.feeds(), loaded.windows(), len(server.kept)
    assert sent > 0
    again = Loaded(garage.open(), loaded.addresses)
    try:
        for later in (timedelta(), timedelta(minutes=1), timedelta(hours=6)):
            garage.clock.set(TUESDAY + later)
            fresh = Round(again.parts)
            fresh.run()
            fresh.run()
            assert fresh.last_trouble == ""
            assert len(server.kept) == sent
            assert again.feeds() == feeds
        assert again.windows() == windows
        garage.clock.set(TUESDAY + timedelta(days=7))
        Round(again.parts).run()
        assert len(server.kept) > sent
        again.check()
        periods = [(d.person, d.kind, d.period) for d in _deliveries(again.parts)]
        assert len(set(periods)) == len(periods)
    finally:
        again.parts.close()


def test_a_reading_moves_its_own_vehicle_and_nothing_else(loaded: Loaded) -> None:
    """From the odometer page to the calendars: entries of Bellows that moved have a higher SEQUENCE, and only those.

    Bellows was reckoned at some 84 100 mi; 84 700 is well beyond, so dates move by more than the few days that
    published dates are kept still for.
    """
    before, windows = loaded.feeds(), loaded.windows()
    loaded.parts.clock.move(timedelta(minutes=5))  # type: ignore[attr-defined]
    with answering(loaded.parts) as client:
        answer = client.post(path_of(loaded.addresses["readings"]["BE"]), data={"odo": "84700"})
    assert (answer.status_code, "Is that right?" in answer.text) == (200, False), answer.text
    loaded.check()
    after = loaded.feeds()

    changed = {key for key, state in loaded.windows().items() if windows[key] != state}
    assert changed
    assert {key.partition("/")[0] for key in changed} == {"BE"}
    shown_to = {person for person, names in theirs().items() if "Bellows" in names}
    assert shown_to == {"ines", "teo"}
    for person in PEOPLE:
        if person not in shown_to:
            assert after[person] == before[person], person
            continue
        old, new = events_in(before[person]), events_in(after[person])
        old_bytes, new_bytes = bytes_in(before[person]), bytes_in(after[person])
        moved = 0
        for uid in old_bytes.keys() & new_bytes.keys():
            if not uid or not old[uid].one("SUMMARY").text.startswith("Bellows: "):
                assert new_bytes[uid] == old_bytes[uid]
                continue
            rises = _days(old[uid]) != _days(new[uid])
            moved += rises
            assert int(new[uid].one("SEQUENCE").value) == int(old[uid].one("SEQUENCE").value) + rises
            assert new[uid].one("CREATED") == old[uid].one("CREATED")
            if new_bytes[uid] != old_bytes[uid]:
                assert moment_of(new[uid].one("LAST-MODIFIED")) == loaded.now
        assert moved > 0
        # The reading is no longer wanted, so that entry is gone; nothing else came or went.
        gone = {old[uid].one("SUMMARY").text for uid in old.keys() - new.keys()}
        assert len(gone) == 1
        assert "odometer" in gone.pop()
        assert new.keys() <= old.keys()


def test_work_done_starts_its_line_anew(loaded: Loaded) -> None:
    """The entry keeps its UID and goes on to the next time; every other entry stays as it is."""
    before = loaded.feeds()["ines"]
    was = loaded.windows()["AN/rear-axle/rear-axle-fluid"]
    assert isinstance(was, DueWindow)
    closed = close_work(
        loaded.parts.store,
        loaded.parts.rules,
        now=loaded.now,
        base_url=BASE_URL,
        who="ines",
        vehicle_name="Anvil",
        service="rear axle fluid",
    )
    loaded.check()
    now_so = loaded.windows()["AN/rear-axle/rear-axle-fluid"]
    assert isinstance(now_so, DueWindow)
    assert now_so.early > was.early
    assert closed.line.last_done_on == date(2026, 4, 14)
    assert closed.line.q_now == 0
    _only_these_differ(before, loaded.feeds()["ines"], r"Anvil: .*rear axle fluid|Anvil in the bay|Anvil stands")
    with loaded.parts.store.read() as view:
        assert {entry.what for entry in view.log("AN/rear-axle/rear-axle-fluid", 2)} == {"due window", "work done"}


def test_an_event_makes_its_service_due(loaded: Loaded) -> None:
    """Bellows goes through deep water: what follows an immersion is due by event, on Bellows alone."""
    before, windows = loaded.feeds(), loaded.windows()
    event = UseEvent("Bellows", "immersion", date(2026, 4, 14))
    note_event(loaded.parts.store, loaded.parts.rules, event, now=loaded.now, base_url=BASE_URL, who="ines")
    loaded.check()
    changed = {key: state for key, state in loaded.windows().items() if windows[key] != state}
    assert changed
    assert all(key.startswith("BE") for key in changed)
    assert {state.cause for state in changed.values() if isinstance(state, DueWindow)} == {Cause.EVENT}
    after = loaded.feeds()
    _only_these_differ(before["ines"], after["ines"], r"Bellows: ")
    assert {person for person in PEOPLE if before[person] != after[person]} == {
        person for person, names in theirs().items() if "Bellows" in names
    }


def test_what_is_exported_comes_back_without_loss(loaded: Loaded, tmp_path: Path) -> None:
    """Export, import into a fresh home on SQLite, export again: the same bytes, and the same windows."""
    close_work(
        loaded.parts.store,
        loaded.parts.rules,
        now=loaded.now,
        base_url=BASE_URL,
        who="ines",
        vehicle_name="Anvil",
        service="rear axle fluid",
        note='a comma, and a "quote"; =1+1',
    )
    loaded.check()
    first = exported(loaded.parts, tmp_path / "first")
    fresh = open_home(tmp_path / "fresh", FixedClock(TUESDAY))
    try:
        fresh = bring_in_files(fresh, tmp_path / "first").parts
        assert check_promises(fresh.store, fresh.rules, now=TUESDAY).broken == ()
        assert Loaded(fresh, loaded.addresses).windows() == loaded.windows()
        assert exported(fresh, tmp_path / "second") == first
        assert look_ahead(fresh.store, fresh.rules, now=TUESDAY).garage == _garage(loaded.parts)
    finally:
        fresh.close()
    assert set(first) >= {"garage.toml", "people.toml", "vehicles.toml", "book.toml", "readings.csv", "work.csv"}


def test_the_same_folder_brought_in_twice_changes_nothing(loaded: Loaded) -> None:
    """No reading, record or event is new, no date moves, and the log gains the import's own line alone."""
    before, windows, log = loaded.feeds(), loaded.windows(), _log(loaded.parts)
    loaded.parts.clock.move(timedelta(minutes=5))  # type: ignore[attr-defined]
    came = bring_in_files(loaded.parts, shipped_demo()).came
    assert (came.people, came.vehicles, came.readings, came.work, came.events) == (0, 0, 0, 0, 0)
    assert came.known_readings == len(garage_files.rows("readings.csv"))
    assert came.settled.moved == ()
    new = _log(loaded.parts)[: -len(log)]
    assert [entry.what for entry in new] == ["brought in"]
    assert _log(loaded.parts)[1:] == log
    assert loaded.windows() == windows
    assert loaded.feeds() == before
    loaded.check()


def exported(parts: Parts, folder: Path) -> dict[str, bytes]:
    """The files that `fleetcare export` writes, by name."""
    assert callable(files.export)  # the command is registered by its module
    environment = {"FLEETCARE_HOME": str(parts.home), "FLEETCARE_DATABASE": parts.settings.database}
    result = CliRunner().invoke(frame.app, ["export", str(folder)], env=environment)
    assert result.exit_code == 0, result.output
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def _garage(parts: Parts) -> Garage | None:
    with parts.store.read() as view:
        return view.garage()


def _log(parts: Parts) -> tuple[LogEntry, ...]:
    with parts.store.read() as view:
        return view.log()


def _deliveries(parts: Parts) -> tuple[Delivery, ...]:
    with parts.store.read() as view:
        return view.deliveries()


def _days(event: Block) -> tuple[date, date]:
    return day_of(event.one("DTSTART")), day_of(event.one("DTEND"))


def _only_these_differ(before: bytes, after: bytes, pattern: str) -> None:
    """Entries that differ, came or went have such a title; the rest is the same to the byte, and something differs."""
    old, new = bytes_in(before), bytes_in(after)
    titles = {uid: event.one("SUMMARY").text for body in (before, after) for uid, event in events_in(body).items()}
    differ = {titles.get(uid, "the calendar itself") for uid in old.keys() | new.keys() if old.get(uid) != new.get(uid)}
    assert differ
    assert all(re.match(pattern, title) for title in differ), differ
