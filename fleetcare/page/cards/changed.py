"""What a change did, said on top of the page one comes back to: what was written, and which dates moved by it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Protocol

from fleetcare.due.change_words import change_words, state_read_back
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import later, tr, tr_book
from fleetcare.wording import counted, lower_first, sentence

DONE_FIELD = "done"
"""Carries the instant of a change to the page that tells of it."""
_WINDOW = "due window"
_ROWS_AT_MOST = 12
_TAG_OF = "tag of "
_WHATS = (later("spoken for"), later("event"), later("keeper"), later("drivers"), later("laid up"), later("link"))
"""What such a line is about, as the log has it."""


class Written(Protocol):
    """A line of the log."""

    @property
    def subject(self) -> str: ...
    @property
    def what(self) -> str: ...
    @property
    def before(self) -> str: ...
    @property
    def after(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Changed:
    """told: what was done. moved: a row for each date that moved; empty: `still` says that none did."""

    told: str
    moved: tuple[str, ...] = ()
    more: str = ""
    still: str = ""


def changed_card(
    entries: Sequence[Written], *, vehicles: Sequence[Vehicle], shorts: Mapping[str, str], today: date
) -> Changed | None:
    """What the lines of one change say, None if there are none. shorts: short names of services, by key."""
    names = {vehicle.mark: vehicle.name for vehicle in vehicles}
    done = [_done(entry, names) for entry in entries if entry.what != _WINDOW]
    moved = [_moved(entry, names, shorts, today) for entry in entries if entry.what == _WINDOW]
    if not done and not moved:
        return None
    more = len(moved) - _ROWS_AT_MOST
    return Changed(
        " ".join(done),
        tuple(moved[:_ROWS_AT_MOST]),
        tr("And {value}.", value=counted(more, "date more", "dates more")) if more > 0 else "",
        "" if moved else tr("No date moved by it."),
    )


def _done(entry: Written, names: Mapping[str, str]) -> str:
    mark = entry.subject.partition("/")[0]
    whose = f"{names[mark]}, " if mark in names else ""
    before, after = tr(entry.before), tr(entry.after)
    if entry.what == "finding":
        return f"{whose}{lower_first(tr_book(entry.before).rstrip('.'))}: {after.rstrip('.')}."
    if entry.what == "person":
        return f"{before}: {after}." if before else tr("Added: {after}.", after=after)
    if entry.what == "link" and entry.before:
        return f"{sentence(before)}: {after}."
    told = after or tr("{what} is taken away", what=before)
    was = tr(", it was {before}", before=before) if before and after else ""
    return sentence(f"{whose}{_what(entry.what)}: {told}{was}.")


def _what(what: str) -> str:
    component = what.removeprefix(_TAG_OF)
    return tr("tag of {component}", component=tr_book(component)) if component != what else tr(what)


def _moved(entry: Written, names: Mapping[str, str], shorts: Mapping[str, str], today: date) -> str:
    mark, _, rest = entry.subject.partition("/")
    service = rest.rpartition("/")[2]
    called = tr("look again") if service.startswith("look-") else shorts.get(service, service.replace("-", " "))
    line = f"{names.get(mark, mark)}, {lower_first(called)}"
    try:
        before, after = state_read_back(entry.before), state_read_back(entry.after)
    except ValueError:
        was = entry.before or tr("nothing")
        return tr("{line}: from {before} to {after}.", line=line, before=was, after=entry.after)
    told = change_words(before, after, today)
    return f"{line}: {tr('nothing to look at any more') if after is None else told}."
