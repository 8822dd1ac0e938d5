"""Fifty real aircraft from files to calendars and letters, and their windows held against what they really flew."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from email import message_from_bytes, policy
from pathlib import Path

import pytest
import vobject

from fleetcare.actions.check_promises import check_promises
from fleetcare.actions.links import make_key
from fleetcare.actions.refresh import refresh
from fleetcare.actions.send_letters import send_due_letters
from fleetcare.actions.write_letters import write_due_letters
from fleetcare.assemble import Parts
from fleetcare.cli.bringing import bring_in_files
from fleetcare.fleet.access import Purpose
from fleetcare.mailer.folder import FolderMailer
from tests.flow.flights import (
    AIRCRAFT,
    KEEPERS,
    MID_YEAR,
    NOON,
    Aircraft,
    Compared,
    Measured,
    chosen,
    lines_at_mid_year,
    measured,
    write_garage,
)
from tests.flow.homes import BASE_URL, answering, open_home
from tests.stand_ins import FixedClock

BAND = (0.65, 0.95)
"""Where the coverage of the 80 % windows may lie.

If the numbers were fitted to these aircraft, some 47 windows that each hold with .8 would give .8 give or take .06, so
.68 to .92 in 19 of 20 cases. The shipped numbers were fitted to private cars, so a little more is allowed to either
side. The windows come out wide rather than narrow: .91 and .92 were measured, and that is the side to err on.
"""

AHEAD_END = date(2015, 7, 1)
"""Calendars reach twenty-five whole months ahead, this one included."""

WANTED_AFTER = timedelta(days=28)
"""A reading is wanted from the day after so long without one, by the shipped config/forecast.toml."""


@dataclass(frozen=True)
class Flown:
    """The garage brought in at mid-year, with its files and the keys of its keepers' feeds."""

    parts: Parts
    files: Path
    feeds: dict[str, str]


Make = Callable[..., Flown]


@pytest.fixture(scope="module")
def make(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Make]:
    """Makes garages of aircraft, each in a home of its own."""
    opened: list[Parts] = []

    def flown(*, named: bool) -> Flown:
        folder = tmp_path_factory.mktemp("flights")
        write_garage(folder / "files", named=named)
        parts = open_home(folder / "home", FixedClock(NOON))
        opened.append(parts)
        parts = bring_in_files(parts, folder / "files").parts
        feeds = {
            key: make_key(parts.store, parts.keys, now=NOON, who="test", purpose=Purpose.FEED, person=key)
            for key in KEEPERS
        }
        refresh(parts.store, parts.rules, now=NOON, base_url=BASE_URL, why="the test begins")
        return Flown(parts, folder / "files", feeds)

    yield flown
    for parts in opened:
        parts.close()


@pytest.fixture(scope="module")
def flown(make: Make) -> Flown:
    """The garage without yearly distances: nothing but the shipped numbers and the readings."""
    return make(named=False)


def test_the_aircraft_are_what_is_said_of_them() -> None:
    """Fifty, read four to eight times at irregular gaps of about a month, each with a look ahead; twice the same."""
    assert len({each.tail for each in chosen()}) == AIRCRAFT
    for each in chosen():
        gaps = {(b - a).days for a, b in zip(each.read_on, each.read_on[1:], strict=False)}
        assert min(gaps) >= 24
        assert max(gaps) <= 37
        assert MID_YEAR - timedelta(days=37) < each.read_on[-1] <= MID_YEAR
        dials = [each.dial(on) for on in each.read_on]
        assert dials == sorted(dials)
        assert dials[0] == 0 < dials[-1] < each.look_miles
    assert len({each.read_on for each in chosen()}) > AIRCRAFT / 2, "days differ from aircraft to aircraft"
    assert {each.keeper for each in chosen()} == set(KEEPERS)
    chosen.cache_clear()
    assert [(a.tail, a.read_on) for a in chosen()] == [(a.tail, a.read_on) for a in chosen()]


def test_everything_in_the_files_arrives_and_holds(flown: Flown) -> None:
    """More miles a day than any car drives are no misfit, where the files say that the vehicle may run that far."""
    with flown.parts.store.read() as view:
        assert {v.mark for v in view.vehicles()} == {each.tail for each in chosen()}
        stored = [(r.mark, r.on, int(r.value)) for r in view.readings()]
        assert stored == [(each.tail, on, each.dial(on)) for each in chosen() for on in each.read_on]
        assert set(view.windows()) == {line.key for line in lines_at_mid_year(flown.parts).values()}
    assert check_promises(flown.parts.store, flown.parts.rules, now=NOON).broken == ()


@pytest.mark.parametrize("named", [False, True], ids=["shipped numbers alone", "yearly distance named"])
def test_windows_given_at_mid_year_hold_about_as_often_as_they_say(
    make: Make, named: bool, record_property: Callable[[str, object], None]
) -> None:
    """No window is missing (`measured` sees to it), and the share that held lies in the band."""
    came = measured(make(named=named).parts)
    record_property("coverage", round(came.coverage, 3))
    record_property("in words", came.sentence())
    print(came.sentence())
    assert len(came.compared) == AIRCRAFT
    assert len(came.judged) >= 40
    assert BAND[0] <= came.coverage <= BAND[1], came.sentence()
    # Dates in order mean that more is due before each next one, and few before the early one.
    assert came.share_before("early") <= 0.2 < came.share_before("likely") < 0.9, came.sentence()
    assert came.share_before("late") >= 0.8, came.sentence()


def test_windows_that_say_too_much_would_be_noticed(flown: Flown) -> None:
    """Windows of the same garage, drawn together to a week or pushed away, fall out of the band."""
    came = measured(flown.parts)
    week = timedelta(days=3)

    def changed(change: Callable[[Compared], Compared]) -> float:
        return Measured(tuple(change(each) for each in came.compared)).coverage

    def narrow(each: Compared) -> Compared:
        window = each.window
        return replace(each, window=replace(window, early=window.likely - week, late=window.likely + week))

    def earlier(each: Compared) -> Compared:
        really_on = each.really_on
        return replace(each, really_on=None if really_on is None else really_on - timedelta(days=60))

    assert changed(narrow) < BAND[0]
    assert changed(earlier) < BAND[0]


def test_each_keeper_reads_the_windows_of_their_own_aircraft_in_a_calendar(flown: Flown) -> None:
    """Over real HTTP, read back by vobject: one due entry for each aircraft they keep, on its likely date.

    The list's keeper is shown all of them.
    """
    lines = lines_at_mid_year(flown.parts)
    with answering(flown.parts) as client:
        for keeper, key in flown.feeds.items():
            answer = client.get(f"/feeds/{key}.ics")
            assert (answer.status_code, answer.headers["content-type"]) == (200, "text/calendar; charset=utf-8")
            due: dict[str, date] = {}
            for event in vobject.readOne(answer.text).vevent_list:
                if event.categories.value == ["service due"]:
                    tail = re.match(r"\w+", event.summary.value)
                    assert tail is not None
                    assert tail[0] not in due
                    due[tail[0]] = event.dtstart.value
            windows = {
                each.tail: window.likely
                for each in chosen()
                if keeper in ("ada", each.keeper)
                and (window := lines[each.tail].window) is not None
                and not window.is_past_late(MID_YEAR)
                and window.likely < AHEAD_END
            }
            assert due == windows, keeper


def test_each_keeper_gets_one_garage_letter_and_a_request_for_each_reading_they_owe(
    flown: Flown, tmp_path: Path
) -> None:
    """30 June 2013 is a Sunday, the day of their letters. A second pass writes and sends nothing."""
    parts, folder = flown.parts, tmp_path / "letters"
    mailer = FolderMailer(folder)
    write_due_letters(parts.store, parts.rules, parts.desk, now=NOON)
    first = send_due_letters(parts.store, mailer, parts.clock)
    letters = [message_from_bytes(path.read_bytes(), policy=policy.default) for path in sorted(folder.glob("*.eml"))]
    assert first.sent == len(letters)
    assert (first.failed, first.put_off, first.expired) == (0, 0, 0)

    owed = [each for each in chosen() if MID_YEAR - each.read_on[-1] > WANTED_AFTER]
    assert owed
    for keeper in KEEPERS:
        mine = [letter for letter in letters if letter["To"].addresses[0].addr_spec == f"{keeper}@runways.example"]
        asked = sorted(each.tail for each in owed if each.keeper == keeper)
        assert len(mine) == 1 + len(asked), keeper
        requests = [_text(letter) for letter in mine if any(tail in letter["Subject"] for tail in asked)]
        assert len(requests) == len(asked)
        (weekly,) = [_text(letter) for letter in mine if not any(tail in letter["Subject"] for tail in asked)]
        headed = set(re.findall(r"^(N\w+), WHICH YOU KEEP$", weekly, re.MULTILINE))
        assert headed <= {each.tail for each in chosen() if each.keeper == keeper}
        assert headed >= {each.tail for each in _open_now(flown) if each.keeper == keeper}

    assert write_due_letters(parts.store, parts.rules, parts.desk, now=NOON) == 0
    assert send_due_letters(parts.store, mailer, parts.clock).sent == 0
    assert len(list(folder.iterdir())) == len(letters)


def _open_now(flown: Flown) -> list[Aircraft]:
    """Aircraft whose window is open or over, so that no letter may pass over them."""
    lines = lines_at_mid_year(flown.parts)
    return [a for a in chosen() if (window := lines[a.tail].window) is not None and window.early <= MID_YEAR]


def _text(letter: object) -> str:
    """The plain text of a letter."""
    body = letter.get_body(("plain",))  # type: ignore[attr-defined]
    return str(body.get_content()).replace("\r\n", "\n")
