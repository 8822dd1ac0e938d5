"""Real subscribers over HTTP: vdirsyncer keeps a folder of the calendar, khal lists it. One change is one change.

Both run as programs of their own, in folders of their own, against a garage that is really served.
"""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import httpx
import pytest

from fleetcare.actions.links import make_key, revoke_feed_key, rotate_feed_key
from fleetcare.actions.ports import Change
from fleetcare.actions.settle import settle
from fleetcare.fleet.access import Purpose
from fleetcare.fleet.booking import Booking
from fleetcare.quantities import DateSpan, DistanceUnit
from tests.calendar_feed.raw_feed import end_of, parsed, start_of, unfolded
from tests.web.conftest import Served

KEPT = """[general]
status_path = "{folder}/status"

[pair garage]
a = "feed"
b = "kept"
collections = null
conflict_resolution = "a wins"

[storage feed]
type = "http"
url = "{url}"

[storage kept]
type = "filesystem"
path = "{folder}/kept"
fileext = ".ics"
"""
SHOWN = """[calendars]
[[garage]]
path = {folder}/kept
type = calendar

[locale]
timeformat = %H:%M
dateformat = %Y-%m-%d
longdateformat = %Y-%m-%d
datetimeformat = %Y-%m-%d %H:%M
longdatetimeformat = %Y-%m-%d %H:%M

[sqlite]
path = {folder}/khal.db
"""


@dataclass
class Subscriber:
    """A calendar program of one person, with its own folder."""

    folder: Path

    def subscribe(self, url: str) -> None:
        """Takes the address on, or another in its place."""
        for name in ("status", "kept"):
            (self.folder / name).mkdir(parents=True, exist_ok=True)
        (self.folder / "sync.conf").write_text(KEPT.format(folder=self.folder, url=url))
        (self.folder / "khal.conf").write_text(SHOWN.format(folder=self.folder))
        self._run("vdirsyncer", "-c", str(self.folder / "sync.conf"), "discover", "--no-list")

    def sync(self) -> subprocess.CompletedProcess[str]:
        """Fetches once."""
        return self._run("vdirsyncer", "-c", str(self.folder / "sync.conf"), "sync", "--force-delete", check=False)

    def files(self) -> dict[str, bytes]:
        """What it keeps: one file for each event, named by a hash of what it says (it writes UIDs of its own)."""
        found = {}
        for path in (self.folder / "kept").glob("*.ics"):
            body = path.read_bytes().replace(b"\r\n", b"\n").replace(b"\n", b"\r\n")
            event = parsed(unfolded(body)).blocks[0]
            found[event.one("UID").value] = body
        return found

    def listed(self, first: str, days: int) -> list[str]:
        """What the program lists of so many days: title and days of each event, once for each day it lies on."""
        ran = self._run(
            *("khal", "-c", str(self.folder / "khal.conf"), "list", "--format", "{title}"),
            *("--day-format", "", "--once", first, f"{days}d"),
        )
        return sorted(line for line in ran.stdout.split("\n") if line.strip())

    def _run(self, program: str, *words: str, check: bool = True) -> subprocess.CompletedProcess[str]:
        ran = subprocess.run(
            [str(Path(sys.executable).parent / program), *words],
            capture_output=True,
            text=True,
            input="",
            timeout=120,
            env={**os.environ, "HOME": str(self.folder), "LC_ALL": "C.UTF-8", "XDG_CACHE_HOME": str(self.folder)},
            check=False,
        )
        assert not check or ran.returncode == 0, ran.stderr
        return ran


def title_of(body: bytes) -> str:
    """The title of the one event in a file."""
    return parsed(unfolded(body)).blocks[0].one("SUMMARY").text


@pytest.fixture
def subscriber(tmp_path: Path) -> Subscriber:
    """One that has nothing yet."""
    return Subscriber(tmp_path / "subscriber")


def address(served: Served, name: str) -> str:
    """A new address of Ines's calendar."""
    parts = served.parts
    key = make_key(
        parts.store,
        parts.keys,
        now=served.clock.now(),
        who="test",
        purpose=Purpose.FEED,
        person="ines",
        name=name,
    )
    return f"{served.url}/feeds/{key}.ics"


def book(served: Served, key: str, title: str, in_days: int) -> None:
    """One booking of Anvil more, with everything that follows from it."""
    parts, now = served.parts, served.clock.now()
    first = now.date() + timedelta(days=in_days)
    booking = Booking(key, title, DateSpan.of_days(first, first), ("AN",), Decimal(0), DistanceUnit.KM)
    with parts.store.write(Change("test", "booked", now)) as unit:
        unit.put_booking(booking)
        settle(unit, parts.rules, now=now, base_url=parts.base_url, marks=("AN",))


def test_p04_a_subscriber_shows_every_entry_of_the_demo(served: Served, subscriber: Subscriber) -> None:
    """By khal's own reader: every title the feed has, and none twice."""
    url = address(served, "phone")
    subscriber.subscribe(url)
    assert subscriber.sync().returncode == 0
    events = parsed(unfolded(httpx.get(url, trust_env=False).content)).blocks
    assert len(subscriber.files()) == len(events)
    first = min(start_of(event.one("DTSTART")) for event in events) - timedelta(days=1)
    end = max(end_of(event.one("DTEND")) for event in events)
    shown = subscriber.listed(first.isoformat(), (end - first).days)
    assert shown == sorted(event.one("SUMMARY").text for event in events)


def test_one_change_is_one_change_and_nothing_else_is_touched(served: Served, subscriber: Subscriber) -> None:
    subscriber.subscribe(address(served, "phone"))
    subscriber.sync()
    before = subscriber.files()
    served.clock.move(timedelta(hours=6))
    assert "Copying" not in subscriber.sync().stderr
    assert subscriber.files() == before
    book(served, "hill", "Hill run", 40)
    subscriber.sync()
    after = subscriber.files()
    new = set(after) - set(before)
    assert len(new) == 1
    assert {uid: body for uid, body in after.items() if uid not in new} == before
    (title,) = {title_of(after[uid]) for uid in new}
    assert title == "Anvil spoken for: Hill run"
    book(served, "hill", "Hill run", 41)
    subscriber.sync()
    moved = subscriber.files()
    (gone,), (come,) = set(after) - set(moved), set(moved) - set(after)
    assert {gone} == new
    assert title_of(moved[come]) == title
    assert all(moved[uid] == before[uid] for uid in before)


def test_after_a_rotation_the_old_address_shows_one_entry_and_the_new_one_what_there_was(
    served: Served, subscriber: Subscriber, tmp_path: Path
) -> None:
    subscriber.subscribe(address(served, "phone"))
    subscriber.sync()
    before = subscriber.files()
    parts = served.parts
    key = rotate_feed_key(parts.store, parts.keys, "phone", now=served.clock.now(), who="test", person="ines")
    subscriber.sync()
    (left,) = subscriber.files().values()
    assert title_of(left) == "This calendar address was replaced"
    fresh = Subscriber(tmp_path / "fresh")
    fresh.subscribe(f"{served.url}/feeds/{key}.ics")
    fresh.sync()
    assert set(fresh.files()) == set(before)


def test_a_revoked_address_fails_and_what_was_kept_stays(served: Served, subscriber: Subscriber) -> None:
    """A 404 takes nothing away from a reader; it only brings nothing new."""
    subscriber.subscribe(address(served, "phone"))
    subscriber.sync()
    before = subscriber.files()
    revoke_feed_key(served.parts.store, "phone", now=served.clock.now(), who="test", person="ines")
    assert subscriber.sync().returncode != 0
    assert subscriber.files() == before
