"""The opening sentences of the front page: past late, windows open, readings wanted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from zoneinfo import ZoneInfo

from fleetcare.due.outlook import DueWindow, LineOutlook, VehicleOutlook
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.component import LineKey
from fleetcare.language import tr, tr_book
from fleetcare.page.cards.frame import BAY_URL, CHOOSE_URL
from fleetcare.page.cards.sentences import Run, Sentence, plain, whose
from fleetcare.page.cards.waiting import WANTED_ANCHOR, entry_url
from fleetcare.wording import (
    count_words,
    counted_words,
    day_words,
    days_words,
    joined,
    sentence,
    weekday_name,
    weekday_words,
)

DatedLine = tuple[VehicleOutlook, LineOutlook, DueWindow]
_NAMED_AT_MOST = 3
_ANY_ZONE = ZoneInfo("UTC")
"""Where no visit is given, none is asked for."""


def opening(
    outlooks: Sequence[VehicleOutlook],
    dated: Sequence[DatedLine],
    *,
    today: date,
    can_enter: bool,
    visits: Sequence[BayVisit] = (),
    zone: ZoneInfo = _ANY_ZONE,
) -> Sentence:
    """A few sentences a keeper could read out to somebody. Empty if there is no vehicle.

    dated: every line that has a window, by its late date. visits: those that take place and are not over; zone: on
    whose clock.
    """
    if not outlooks:
        return ()
    runs: list[Run] = []
    if dated:
        plan = _Plan(visits, zone, today)
        runs += [*_past_late(dated, today, plan), Run(" "), *_open(dated, today, plan)]
        runs += plan.next_day({outlook.vehicle.mark: outlook.vehicle.name for outlook in outlooks})
    else:
        runs += plain(tr("No service has a date yet."))
    asked = _readings(outlooks, can_enter=can_enter)
    return (*runs, Run(" "), *asked) if asked else tuple(runs)


class _Plan:
    """The bay days ahead, as the sentences need them."""

    def __init__(self, visits: Sequence[BayVisit], zone: ZoneInfo, today: date) -> None:
        self._visits = sorted(visits, key=lambda each: (each.begins_at, each.key))
        self._zone = zone
        self._today = today
        self._told: set[tuple[str, int]] = set()

    def cover(self, line: LineKey) -> BayVisit | None:
        """The first visit that takes care of it."""
        return next((visit for visit in self._visits if line in visit.lines), None)

    def comes_in(self, line: LineKey) -> Sentence:
        """` and comes in on Thursday 16 April`, empty if no visit takes care of it."""
        visit = self.cover(line)
        if visit is None:
            return ()
        self._told.add(visit.key)
        return (Run(tr(" and comes in on ")), Run(self._day(visit), url=BAY_URL))

    def covered(self, lines: Sequence[LineKey]) -> str:
        """`, both with a bay day`, `, one of them with a bay day`; empty while nothing is planned at all."""
        if not self._visits:
            return ""
        count = sum(1 for line in lines if self.cover(line) is not None)
        if count == len(lines):
            return (
                tr(", with a bay day")
                if count == 1
                else tr(", {word} with a bay day", word=tr("both") if count == 2 else tr("all"))
            )
        return (
            tr(", without a bay day")
            if not count
            else tr(", {number} of them with a bay day", number=count_words(count))
        )

    def next_day(self, names: Mapping[str, str]) -> Sentence:
        """The next bay day that was not told yet, and until when it takes the vehicle if that is another day."""
        visit = next((each for each in self._visits if each.key not in self._told and each.mark in names), None)
        if visit is None:
            return ()
        free = visit.free_at.astimezone(self._zone)
        until = (
            tr(" until {weekday} {free}", weekday=weekday_name(free.weekday()), free=f"{free:%H:%M}")
            if free.date() != self._on(visit)
            else ""
        )
        return (
            Run(" "),
            Run(sentence(self._day(visit)), url=BAY_URL),
            Run(tr(" takes {names}{until}.", names=names[visit.mark], until=until)),
        )

    def _on(self, visit: BayVisit) -> date:
        return visit.begins_at.astimezone(self._zone).date()

    def _day(self, visit: BayVisit) -> str:
        return weekday_words(self._on(visit), self._today)


def _past_late(dated: Sequence[DatedLine], today: date, plan: _Plan) -> Sentence:
    late = [row for row in dated if row[2].is_past_late(today)]
    if not late:
        return plain(tr("Nothing is past late."))
    if len(late) > _NAMED_AT_MOST:
        outlook, line, window = late[0]
        longest = tr(
            "the longest {whose}, {days}", whose=whose(outlook, line), days=days_words(window.days_past_late(today))
        )
        return (
            Run(
                sentence(tr("{services} are past late", services=counted_words(len(late), "service", "services"))),
                is_key=True,
            ),
            Run(f", {longest}."),
        )
    outlook, line, window = late[0]
    first = tr(
        "{vehicle} is {days} past late with its {service}",
        vehicle=outlook.vehicle.name,
        days=days_words(window.days_past_late(today)),
        service=tr_book(line.row.short),
    )
    others = [
        tr(
            "{vehicle} {days} with its {service}",
            vehicle=o.vehicle.name,
            days=days_words(w.days_past_late(today)),
            service=tr_book(each.row.short),
        )
        for o, each, w in late[1:]
    ]
    if others:
        return (Run(first, is_key=True), Run(f", {joined(others)}."))
    return (Run(first, is_key=True), *plan.comes_in(line.key), Run("."))


def _open(dated: Sequence[DatedLine], today: date, plan: _Plan) -> Sentence:
    windows = [row for row in dated if row[2].is_open(today)]
    if not windows:
        return _next_to_open(dated, today)
    if len(windows) == 1:
        outlook, line, window = windows[0]
        until = tr("until {day} at the latest", day=day_words(window.late, today))
        return plain(
            tr(
                "One window is open, {whose}, {until}{covered}.",
                whose=whose(outlook, line),
                until=until,
                covered=plan.covered([line.key]),
            )
        )
    told = sentence(
        tr(
            "{windows} are open{covered}",
            windows=counted_words(len(windows), "window", "windows"),
            covered=plan.covered([row[1].key for row in windows]),
        )
    )
    if len(windows) > _NAMED_AT_MOST:
        outlook, line, window = windows[0]
        return plain(
            tr(
                "{told}, the first to end is {whose}, {day}.",
                told=told,
                whose=whose(outlook, line),
                day=day_words(window.late, today),
            )
        )
    return plain(f"{told}: {joined([whose(outlook, line) for outlook, line, _ in windows])}.")


def _next_to_open(dated: Sequence[DatedLine], today: date) -> Sentence:
    ahead = [row for row in dated if row[2].early > today]
    if not ahead:
        return plain(tr("No window is open."))
    outlook, line, window = min(ahead, key=lambda row: (row[2].early, row[1].key))
    return plain(
        tr("The next window opens on {day}, {whose}.", day=day_words(window.early, today), whose=whose(outlook, line))
    )


def _readings(outlooks: Sequence[VehicleOutlook], *, can_enter: bool) -> Sentence:
    wanting = [outlook for outlook in outlooks if outlook.wanted]
    if not wanting:
        return ()
    if len(wanting) == 1:
        vehicle, wanted = wanting[0].vehicle, wanting[0].wanted
        url = entry_url(vehicle, wanted.meter) if can_enter and wanted else WANTED_ANCHOR
        return (Run(tr("{vehicle} wants a reading.", vehicle=vehicle.name), url=url),)
    if len(wanting) <= _NAMED_AT_MOST:
        who = joined([outlook.vehicle.name for outlook in wanting])
    else:
        who = sentence(tr("{wanting} vehicles", wanting=count_words(len(wanting))))
    return (Run(tr("{who} want a reading.", who=who), url=CHOOSE_URL if can_enter else WANTED_ANCHOR),)
