"""What a change of a due window amounts to, in words, beside the cause that the log names."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime

from fleetcare.due.causes import cause_told
from fleetcare.due.outlook import Cause, DueWindow, NoDate
from fleetcare.language import later, tr
from fleetcare.wording import counted, day_words, joined

State = DueWindow | NoDate

LINE_GONE = later("the line is gone")
"""What the log has in place of a state after the last one of a line."""
_LIMITS = {
    Cause.DISTANCE: later("the limit is now distance"),
    Cause.HOURS: later("the limit is now hours"),
    Cause.DATE: later("the limit is now the date"),
    Cause.EVENT: later("the limit is now the event"),
    Cause.UNKNOWN_HISTORY: later("the limit is now the look"),
}
_WEEKS_FROM, _MONTHS_FROM = 21, 120
_MONTH_DAYS = 365.2425 / 12
_WINDOW = re.compile(
    r"early (\d{4}-\d\d-\d\d), likely (\d{4}-\d\d-\d\d), late (\d{4}-\d\d-\d\d), by "
    rf"({'|'.join(re.escape(cause.value) for cause in Cause)})"
)


@dataclass(frozen=True, slots=True)
class WindowChange:
    """One change of one line as the log has it. on: the day it was, in the garage. told: by how much.

    before, after: None where there was nothing before, or nothing is left.
    """

    at: datetime
    on: date
    who: str
    why: str
    before: State | None
    after: State | None
    told: str

    @property
    def words(self) -> str:
        """`the reading of 31 March 2026: 12 days earlier`; the cause in the language in force."""
        return f"{cause_told(self.why)}: {self.told}" if self.why else self.told


def change_words(before: State | None, after: State | None, today: date) -> str:
    """By how much a line moved: `12 days earlier`, `3 weeks later, the limit is now the date`, `from no reading to`.

    before: None if the line is new. after: None if it is gone. Two days are compared by the likely date; if that one
    stands, by the ends of the window.
    """
    if after is None:
        return tr(LINE_GONE)
    if before is None:
        return tr("new, {state}", state=_state_words(after, today))
    if isinstance(before, NoDate):
        return tr("from {before} to {after}", before=tr(before.value), after=_state_words(after, today))
    if isinstance(after, NoDate):
        return tr("no date any more, {why}; it was {before}", why=tr(after.value), before=_state_words(before, today))
    return _moved(before, after)


def state_read_back(text: str) -> State | None:
    """A state from the very words the log has for it; None for no state. Raises ValueError for anything else."""
    if text in ("", LINE_GONE):
        return None
    found = _WINDOW.fullmatch(text)
    if found is None:
        return NoDate(text)
    early, likely, late = (date.fromisoformat(found[part]) for part in (1, 2, 3))
    return DueWindow(early, likely, late, Cause(found[4]))


def _moved(before: DueWindow, after: DueWindow) -> str:
    parts = [_by(before.likely, after.likely)] if after.likely != before.likely else []
    if not parts:
        if after.early != before.early:
            parts.append(tr("early {by}", by=_by(before.early, after.early)))
        if after.late != before.late:
            parts.append(tr("late {by}", by=_by(before.late, after.late)))
        parts = [tr("likely as before, {ends}", ends=joined(parts))] if parts else []
    if after.cause is not before.cause:
        parts.append(tr(_LIMITS[after.cause]))
    return ", ".join(parts) or tr("as before")


def _by(was: date, now: date) -> str:
    days = abs((now - was).days)
    return tr("{span} earlier", span=_span(days)) if now < was else tr("{span} later", span=_span(days))


def _span(days: int) -> str:
    """Exact in days or whole weeks up to four months, then in months."""
    if days >= _MONTHS_FROM:
        return tr("about {months}", months=counted(round(days / _MONTH_DAYS), "month", "months"))
    return counted(days // 7, "week", "weeks") if days >= _WEEKS_FROM and days % 7 == 0 else counted(days, "day")


def _state_words(state: State, today: date) -> str:
    return tr("likely {day}", day=day_words(state.likely, today)) if isinstance(state, DueWindow) else tr(state.value)
