"""The opening sentences of the front page: past late, windows open, readings wanted."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from fleetcare.due.outlook import DueWindow, LineOutlook, VehicleOutlook
from fleetcare.page.cards.frame import CHOOSE_URL
from fleetcare.page.cards.sentences import Run, Sentence, plain, whose
from fleetcare.page.cards.waiting import WANTED_ANCHOR, entry_url
from fleetcare.wording import count_words, counted_words, day_words, days_words, joined, sentence

DatedLine = tuple[VehicleOutlook, LineOutlook, DueWindow]
_NAMED_AT_MOST = 3


def opening(
    outlooks: Sequence[VehicleOutlook], dated: Sequence[DatedLine], *, today: date, can_enter: bool
) -> Sentence:
    """Two or three sentences a keeper could read out to somebody. Empty if there is no vehicle.

    dated: every line that has a window, by its late date.
    """
    if not outlooks:
        return ()
    runs: list[Run] = []
    if dated:
        runs += [*_past_late(dated, today), Run(" "), *_open(dated, today)]
    else:
        runs += plain("No service has a date yet.")
    asked = _readings(outlooks, can_enter=can_enter)
    return (*runs, Run(" "), *asked) if asked else tuple(runs)


def _past_late(dated: Sequence[DatedLine], today: date) -> Sentence:
    late = [row for row in dated if row[2].is_past_late(today)]
    if not late:
        return plain("Nothing is past late.")
    if len(late) > _NAMED_AT_MOST:
        outlook, line, window = late[0]
        longest = f"the longest {whose(outlook, line)}, {days_words(window.days_past_late(today))}"
        return (
            Run(sentence(f"{counted_words(len(late), 'service')} are past late"), is_key=True),
            Run(f", {longest}."),
        )
    outlook, line, window = late[0]
    first = f"{outlook.vehicle.name} is {days_words(window.days_past_late(today))} past late with its {line.row.short}"
    others = [
        f"{o.vehicle.name} {days_words(w.days_past_late(today))} with its {each.row.short}" for o, each, w in late[1:]
    ]
    return (Run(first, is_key=True), Run(f", {joined(others)}." if others else "."))


def _open(dated: Sequence[DatedLine], today: date) -> Sentence:
    windows = [row for row in dated if row[2].is_open(today)]
    if not windows:
        return _next_to_open(dated, today)
    if len(windows) == 1:
        outlook, line, window = windows[0]
        return plain(
            f"One window is open, {whose(outlook, line)}, until {day_words(window.late, today)} at the latest."
        )
    told = sentence(f"{counted_words(len(windows), 'window')} are open")
    if len(windows) > _NAMED_AT_MOST:
        outlook, line, window = windows[0]
        return plain(f"{told}, the first to end is {whose(outlook, line)}, {day_words(window.late, today)}.")
    return plain(f"{told}: {joined([whose(outlook, line) for outlook, line, _ in windows])}.")


def _next_to_open(dated: Sequence[DatedLine], today: date) -> Sentence:
    ahead = [row for row in dated if row[2].early > today]
    if not ahead:
        return plain("No window is open.")
    outlook, line, window = min(ahead, key=lambda row: (row[2].early, row[1].key))
    return plain(f"The next window opens on {day_words(window.early, today)}, {whose(outlook, line)}.")


def _readings(outlooks: Sequence[VehicleOutlook], *, can_enter: bool) -> Sentence:
    wanting = [outlook for outlook in outlooks if outlook.wanted]
    if not wanting:
        return ()
    if len(wanting) == 1:
        vehicle, wanted = wanting[0].vehicle, wanting[0].wanted
        url = entry_url(vehicle, wanted.meter) if can_enter and wanted else WANTED_ANCHOR
        return (Run(f"{vehicle.name} wants a reading.", url=url),)
    if len(wanting) <= _NAMED_AT_MOST:
        who = joined([outlook.vehicle.name for outlook in wanting])
    else:
        who = sentence(f"{count_words(len(wanting))} vehicles")
    return (Run(f"{who} want a reading.", url=CHOOSE_URL if can_enter else WANTED_ANCHOR),)
