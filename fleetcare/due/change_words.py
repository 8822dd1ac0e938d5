"""What a change of a due window amounts to, in words, beside the cause that the log names."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime

from fleetcare.due.outlook import Cause, DueWindow, NoDate
from fleetcare.wording import counted, day_words, joined

State = DueWindow | NoDate

LINE_GONE = "the line is gone"
"""What the log has in place of a state after the last one of a line."""
_LIMITS = {
    Cause.DISTANCE: "distance",
    Cause.HOURS: "hours",
    Cause.DATE: "the date",
    Cause.EVENT: "the event",
    Cause.UNKNOWN_HISTORY: "the look",
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
        """`the reading of 31 March 2026: 12 days earlier`; the cause as the log has it."""
        return f"{self.why}: {self.told}" if self.why else self.told


def change_words(before: State | None, after: State | None, today: date) -> str:
    """By how much a line moved: `12 days earlier`, `3 weeks later, the limit is now the date`, `from no reading to`.

    before: None if the line is new. after: None if it is gone. Two days are compared by the likely date; if that one
    stands, by the ends of the window.
    """
    if after is None:
        return LINE_GONE
    if before is None:
        return f"new, {_state_words(after, today)}"
    if isinstance(before, NoDate):
        return f"from {before.value} to {_state_words(after, today)}"
    if isinstance(after, NoDate):
        return f"no date any more, {after.value}; it was {_state_words(before, today)}"
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
        parts = [
            f"{name} {_by(was, now)}"
            for name, was, now in (("early", before.early, after.early), ("late", before.late, after.late))
            if was != now
        ]
        parts = [f"likely as before, {joined(parts)}"] if parts else []
    if after.cause is not before.cause:
        parts.append(f"the limit is now {_LIMITS[after.cause]}")
    return ", ".join(parts) or "as before"


def _by(was: date, now: date) -> str:
    days = abs((now - was).days)
    return f"{_span(days)} {'earlier' if now < was else 'later'}"


def _span(days: int) -> str:
    """Exact in days or whole weeks up to four months, then in months."""
    if days >= _MONTHS_FROM:
        return f"about {counted(round(days / _MONTH_DAYS), 'month')}"
    return counted(days // 7, "week") if days >= _WEEKS_FROM and days % 7 == 0 else counted(days, "day")


def _state_words(state: State, today: date) -> str:
    return f"likely {day_words(state.likely, today)}" if isinstance(state, DueWindow) else state.value
