"""The same in, the same out: whatever the order of hashes, the machine's clock, or the hour of the day."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from fleetcare.actions.refresh import refresh
from fleetcare.assemble import Parts
from fleetcare.cli.serving import Addresses, load_demo
from tests.calendar_feed.raw_feed import Block, day_of, parsed, unfolded
from tests.flow.homes import BASE_URL, open_home
from tests.house.chain import given_by
from tests.house.tree import ROOT
from tests.stand_ins import FixedClock

TUESDAY = datetime(2026, 4, 14, 15, 0, tzinfo=UTC)
"""Nine in the morning at Karst Ridge."""
ANOTHER_YEAR = "2031-10-09T21:40:00"


def run_chain(folder: Path, *, seed: str, machine: str = "") -> dict[str, bytes]:
    """Everything that one run of the whole chain gives, by file name, from a process of its own."""
    folder.mkdir()
    words = [sys.executable, "-W", "error", "-m", "tests.house.chain", str(folder), TUESDAY.isoformat(), machine]
    environment = {name: value for name, value in os.environ.items() if not name.startswith(("FLEETCARE_", "PYTHON"))}
    ran = subprocess.run(
        words,
        cwd=ROOT,
        env={**environment, "PYTHONHASHSEED": seed},
        capture_output=True,
        text=True,
        stdin=subprocess.DEVNULL,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    return {path.name: path.read_bytes() for path in sorted((folder / "out").iterdir())}


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """What the chain gives with hash seed 0 on the machine's own clock."""
    return run_chain(tmp_path_factory.mktemp("plain") / "run", seed="0")


def test_the_chain_gives_everything_that_goes_out(plain: dict[str, bytes]) -> None:
    """Pages, feeds with tags, letters, windows, exported files, and the log: what the next tests compare."""
    kinds = {re.sub(r"^.*?(\.\w+(\.etag)?)$", r"\1", name) for name in plain}
    assert kinds == {".html", ".ics", ".ics.etag", ".eml", ".json", ".txt", ".toml", ".csv"}
    assert all(plain.values())
    assert sum(name.endswith(".ics") for name in plain) == 7
    assert sum(name.endswith(".eml") for name in plain) >= 6


@pytest.mark.parametrize("seed", ["1", "2"])
def test_the_order_of_hashes_changes_no_byte(plain: dict[str, bytes], tmp_path: Path, seed: str) -> None:
    assert_same(plain, run_chain(tmp_path / "run", seed=seed))


def test_nothing_but_the_clock_it_is_given_tells_the_time(plain: dict[str, bytes], tmp_path: Path) -> None:
    """On a machine whose own clock stands in another year, every byte is the same."""
    assert_same(plain, run_chain(tmp_path / "run", seed="0", machine=ANOTHER_YEAR))


def test_a_byte_that_differs_would_be_noticed(plain: dict[str, bytes]) -> None:
    """Also a file that is missing, and a machine's clock that stands nowhere in what goes out."""
    with pytest.raises(AssertionError, match=r"due\.json"):
        assert_same(plain, plain | {"due.json": plain["due.json"] + b" "})
    with pytest.raises(AssertionError):
        assert_same(plain, {name: content for name, content in plain.items() if name != "due.json"})
    assert not [name for name, content in plain.items() if ANOTHER_YEAR[:10].encode() in content]


def assert_same(one: dict[str, bytes], other: dict[str, bytes]) -> None:
    """Raises AssertionError that names the files which differ."""
    assert one.keys() == other.keys()
    differ = [name for name in one if one[name] != other[name]]
    assert not differ, f"not the same to the byte: {', '.join(differ)}"


class Standing:
    """The demo garage, looked at on one instant after the other."""

    def __init__(self, home: Path) -> None:
        self.clock = FixedClock(TUESDAY)
        parts = open_home(home, self.clock, settings={"FLEETCARE_WEB_OPEN_HOUSE": "true"})
        loaded: tuple[Parts, Addresses] = load_demo(parts)
        self.parts, self.addresses = loaded

    def at(self, now: datetime) -> dict[str, bytes]:
        """Everything worked out anew at that instant, as the program does when it starts or a day begins."""
        self.clock.set(now)
        refresh(self.parts.store, self.parts.rules, now=now, base_url=BASE_URL, why="the test says so")
        return given_by(self.parts, self.addresses)


@pytest.fixture
def standing(tmp_path: Path) -> Iterator[Standing]:
    """The demo garage on Tuesday 14 April 2026."""
    garage = Standing(tmp_path / "home")
    yield garage
    garage.parts.close()


def test_six_hours_later_on_the_same_day_nothing_has_changed(standing: Standing) -> None:
    """Feeds with their tags and windows: the same to the byte; pages but for the instant of asking."""
    one, other = standing.at(TUESDAY), standing.at(TUESDAY + timedelta(hours=6))
    assert_same(*({name: _but_for_asking(content) for name, content in given.items()} for given in (one, other)))
    assert_same(*({name: given[name] for name in given if ".html" not in name} for given in (one, other)))


def test_a_garage_brought_in_six_hours_later_gives_the_same_windows_and_front_page(tmp_path: Path) -> None:
    """What is fresh in feeds and entry pages are the instants of making them, and nothing else."""
    garages = []
    for hours in (0, 6):
        now = TUESDAY + timedelta(hours=hours)
        clock = FixedClock(now)
        parts = open_home(tmp_path / f"home-{hours}", clock, settings={"FLEETCARE_WEB_OPEN_HOUSE": "true"})
        parts, addresses = load_demo(parts)
        garages.append(given_by(parts, addresses))
        parts.close()
    one, other = (
        {
            name: re.sub(rb"(CREATED|DTSTAMP|LAST-MODIFIED):\d{8}T\d{6}Z", rb"\1", _but_for_asking(content)).replace(
                f"home-{hours}".encode(), b"home"
            )
            for name, content in given.items()
            if not name.endswith(".etag")
        }
        for hours, given in zip((0, 6), garages, strict=True)
    )
    assert_same(one, other)


@pytest.mark.parametrize(
    ("day", "seen"),
    [
        # Raft's coupling is past late since 8 April, so its bar of nine days ends on 16 April.
        (date(2026, 4, 14), {"stretched"}),
        # Bramble's dial was read last on 29 March.
        (date(2026, 4, 26), {"worn", "reading wanted"}),
        # Lantern's gearbox was bought with unknown history; its first look is late after 11 May.
        (date(2026, 5, 11), {"stretched", "reading wanted", "past late"}),
    ],
    ids=["14 April", "26 April", "11 May"],
)
def test_from_one_day_to_the_next_only_dated_transitions_change_a_feed(
    standing: Standing, day: date, seen: set[str]
) -> None:
    """Nothing was entered, so no window moves. These may happen from one day to the next, and nothing else:

    worn: a service that the date limits is said to be worn 5 % further; SEQUENCE and days stay;
    stretched: a bar that must reach beyond today, and would not, is made longer by a week;
    reading wanted: nobody looked at a dial for four weeks, and an entry says so from today;
    past late: the late date was yesterday, so the entry on the likely date goes, and one from the late date on comes.
    """
    noon = datetime(day.year, day.month, day.day, 18, tzinfo=UTC)
    before, after = standing.at(noon), standing.at(noon + timedelta(days=1))
    assert after["windows.txt"] == before["windows.txt"]
    happened = {
        what
        for name in before
        if name.endswith(".ics")
        for what in transitions(events_in(before[name]), events_in(after[name]), day + timedelta(days=1))
    }
    assert happened == seen


def events_in(body: bytes) -> dict[str, Block]:
    """The events of a feed by UID."""
    return {block.one("UID").value: block for block in parsed(unfolded(body)).blocks}


def transitions(before: dict[str, Block], after: dict[str, Block], today: date) -> Iterator[str]:
    """What happened to each entry that is not as it was the day before. Raises AssertionError if it may not."""
    come = [after[uid] for uid in sorted(after.keys() - before.keys())]
    gone = [before[uid] for uid in sorted(before.keys() - after.keys())]
    for event in come:
        kind = event.one("CATEGORIES").value
        since = {"past late": today - timedelta(days=1), "reading wanted": today}
        assert day_of(event.one("DTSTART")) == since[kind]
        yield kind
    late = [event.one("URL").value for event in come if event.one("CATEGORIES").value == "past late"]
    assert sorted(event.one("URL").value for event in gone) == sorted(late)
    assert {event.one("CATEGORIES").value for event in gone} <= {"service due"}
    for uid in sorted(before.keys() & after.keys()):
        old, new = (_but_for_instants(each[uid]) for each in (before, after))
        if old == new:
            continue
        differ = {name for name in old if old[name] != new[name]}
        assert old.keys() == new.keys()
        if "DESCRIPTION" in differ:
            was, now_so = (re.search(r"Worn about (\d+) %", each["DESCRIPTION"]) for each in (old, new))
            assert was is not None
            assert now_so is not None
            assert int(now_so[1]) == int(was[1]) + 5
            assert new["DESCRIPTION"] == old["DESCRIPTION"].replace(was[0], now_so[0])
            assert "The date comes first" in new["DESCRIPTION"]
            yield "worn"
        if differ - {"DESCRIPTION"}:
            assert differ - {"DESCRIPTION"} == {"DTEND", "SEQUENCE"}
            assert int(new["SEQUENCE"]) == int(old["SEQUENCE"]) + 1
            first, ended, ends = (
                day_of(e.one(n)) for e, n in ((after[uid], "DTSTART"), (before[uid], "DTEND"), (after[uid], "DTEND"))
            )
            was_one_day = ended == first + timedelta(days=1)
            assert ends - ended == timedelta(days=8 if was_one_day else 7)
            assert today == (ended if was_one_day else ended - timedelta(days=2))
            yield "stretched"


def _but_for_asking(page: bytes) -> bytes:
    """A page without the instant it was asked for, in its form or in words, and without the key no other form has."""
    return re.sub(rb'name="(form|once)" value="[^"]*"', rb'name="\1"', re.sub(rb"Figures from \d\d:\d\d", b"", page))


def _but_for_instants(event: Block) -> dict[str, str]:
    """The values of an event by name, without the instants that go along with any change."""
    instants = ("DTSTAMP", "LAST-MODIFIED")
    return {
        prop.name: f"{prop.params}:{prop.value}".removeprefix(":")
        for prop in event.properties
        if prop.name not in instants
    }
