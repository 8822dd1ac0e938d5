"""The chain of a date reckoned again, from the figures of its steps alone, as a program gets them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

import pytest

from fleetcare.due.limit import LAST_DAY
from fleetcare.due.outlook import LineOutlook
from fleetcare.page.as_data import step_data
from fleetcare.quantities import DateSpan

PLAIN_YEAR = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


@dataclass
class Links:
    """How many links of the chain were reckoned again, so that a test can say that it saw any."""

    seen: dict[str, int] = field(default_factory=dict)

    def saw(self, link: str) -> None:
        """One more."""
        self.seen[link] = self.seen.get(link, 0) + 1


def steps_of(line: LineOutlook) -> list[dict[str, Any]]:
    """The steps as plain data."""
    return [step_data(step) for step in line.steps]


def figures_of(step: Mapping[str, Any]) -> dict[str, Any]:
    """Figures by name; days as days."""
    return {
        each["name"]: date.fromisoformat(each["value"]) if isinstance(each["value"], str) else each["value"]
        for each in step["figures"]
    }


def reckon_again(
    steps: Sequence[Mapping[str, Any]], season: Sequence[float], laid_up: Sequence[DateSpan], links: Links
) -> None:
    """Fails where a link does not follow from the figures before it. Rounding: six decimals, and whole days.

    spans by duty -> used share -> left -> what trips leave -> running days at the pace -> likely day -> first of all.
    """
    limits: list[dict[str, date]] = []
    used: dict[str, Any] = {}
    left: dict[str, Any] = {}
    trips: dict[str, Any] = {}
    ahead: dict[str, Any] = {}
    for step in steps:
        figures = figures_of(step)
        match step["part"]:
            case "used":
                used, left, trips, ahead = figures, {}, {}, {}
                _used(used, links)
            case "left":
                left = figures
                _left(used, left, links)
            case "severe ahead":
                left = figures
            case "trips":
                trips = figures
            case "ahead":
                ahead = figures
                _ahead(left, trips, ahead, links)
                _calendar(ahead, season, laid_up, links)
            case "reached by trip":
                ahead = figures
                links.saw("by trip")
            case "limit":
                limits.append(figures)
                if ahead and "likely" in figures:
                    assert figures["likely"] == ahead["likely"]
                    links.saw("likely")
                ahead = {}
            case "window":
                _window(limits, figures, links)
            case _:
                pass


def _used(used: Mapping[str, Any], links: Links) -> None:
    terms = {name.removeprefix("used under "): km for name, km in used.items() if name.startswith("used under ")}
    assert sum(terms.values()) == pytest.approx(used["used in all"], abs=1e-5)
    if used["used"] >= 0:
        lives = {duty: used.get(f"life under {duty}", math.inf) for duty in terms}
        assert sum(km / lives[duty] for duty, km in terms.items()) == pytest.approx(used["used"], abs=1e-5)
        links.saw("used")


def _left(used: Mapping[str, Any], left: Mapping[str, Any], links: Links) -> None:
    if not left:
        return
    assert used["used"] + left["left"] == pytest.approx(1.0, abs=1e-5)
    if "wear" not in left:
        return
    mix = {name.removeprefix("mix under "): share for name, share in left.items() if name.startswith("mix under ")}
    if mix:
        assert sum(mix.values()) == pytest.approx(1.0, abs=1e-5)
        lives = {duty: left.get(f"life under {duty}", math.inf) for duty in mix}
        wear = sum(share / lives[duty] for duty, share in mix.items())
        # Shares are told with six decimals, so each term is off by at most half of the last, and so is what is left.
        # Where one use wears many times as fast as the rest, that is much of the sum; the finer figure is the one told.
        told = 1e-6 * sum(1.0 / life for life in lives.values()) / wear
        assert left["left"] / wear == pytest.approx(left["left in all"], rel=1e-4 + told, abs=max(1e-3, 1e-6 / wear))
        links.saw("mix")
    links.saw("left")


def _ahead(left: Mapping[str, Any], trips: Mapping[str, Any], ahead: Mapping[str, Any], links: Links) -> None:
    everyday = ahead["left for everyday use"]
    if "left in all" in left:
        # A share is left, of which trips use some; the rest is as much of the amount that is left.
        share = (left["left"] - trips.get("used by trips", 0.0)) / left["left"]
        assert share * left["left in all"] == pytest.approx(everyday, rel=1e-3, abs=0.1)
    if ahead["pace over so long"] == 0.0:
        # Told with six decimals: either trips to come use up all that is left, or it runs slower than can be told.
        assert everyday <= 1e-6 * ahead["running days"] + 1e-6
        links.saw("days")
        return
    # The solver's own error is .03 day (and a thousandth of a long way).
    assert everyday / ahead["pace over so long"] == pytest.approx(ahead["running days"], rel=2e-3, abs=0.06)
    links.saw("days")


def _calendar(ahead: Mapping[str, Any], season: Sequence[float], laid_up: Sequence[DateSpan], links: Links) -> None:
    """Second method: the calendar is walked day by day, each with its month's factor, none while it is laid up."""
    scale = 365.0 / sum(factor * days for factor, days in zip(season, PLAIN_YEAR, strict=True))
    day, left = ahead["counted from"], ahead["running days"]
    while True:
        runs = 0.0 if any(day in spell for spell in laid_up) else season[day.month - 1] * scale
        if runs >= left:
            break
        day, left = day + timedelta(days=1), left - runs
    likely = day + timedelta(days=round(left / runs)) if runs else day
    assert abs((likely - ahead["likely"]).days) <= 1
    assert (ahead["likely"] - ahead["counted from"]).days == pytest.approx(ahead["calendar days"], abs=0.501)
    links.saw("calendar")


def _window(limits: Sequence[Mapping[str, date]], window: Mapping[str, date], links: Links) -> None:
    # A day that is not named lies past the calendar that is kept, which ends with 2199.
    early, likely, late = (min(limit.get(name, LAST_DAY) for limit in limits) for name in ("early", "likely", "late"))
    assert (window["early"], window["likely"], window["late"]) == (min(early, likely), likely, max(likely, late))
    links.saw("window")
