"""What leads a proposed visit to its day: kept with it with its figures, told in the reader's language.

A visit keeps one sentence, a person's or this one. Before migration 0017 the English alone was kept, which is taken
apart again where it is shown; what a person wrote stands as it is.
"""

from __future__ import annotations

import re
from datetime import date
from functools import cache

from fleetcare.due.outlook import VehicleOutlook
from fleetcare.figures import kept_day, kept_many
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.language import FromBook, Saying, as_written_down, saying, together, tr, tr_book
from fleetcare.language.tongue import ENGLISH_MONTHS
from fleetcare.wording import count_words, day_words, sentence

_DAY = rf"(\d{{1,2}}) ({'|'.join(ENGLISH_MONTHS)})(?: (\d{{4}}))?"
_LEAD = re.compile(
    rf"(?P<title>.+?)(?: is past late since (?P<since>{_DAY})|: likely (?P<likely>{_DAY}), late (?P<late>{_DAY}))\."
    r"(?: (?P<others>\S+) more rides? along\.)?"
)


def lead_reason(visit: BayVisit, outlook: VehicleOutlook, today: date) -> str:
    """The service whose late date comes first, with its dates; English as text, empty if no service has a window."""
    dated = [(line.window, line) for line in outlook.lines if line.key in visit.lines and line.window is not None]
    if not dated:
        return ""
    window, line = min(dated, key=lambda each: (each[0].late, each[1].key))
    title, likely, late = FromBook(line.row.title), kept_day(window.likely, today), kept_day(window.late, today)
    lead = (
        saying("{title} is past late since {day}.", title=title, day=late)
        if window.is_past_late(today)
        else saying("{title}: likely {likely}, late {late}.", title=title, likely=likely, late=late)
    )
    others = len(visit.lines) - 1
    if others == 0:
        return lead
    along = (
        saying("One more rides along.") if others == 1 else saying("{many} more ride along.", many=kept_many(others))
    )
    return together(lead, along)


def reason_told(reason: str) -> str:
    """A visit's reason in the language in force; as it stands if a person wrote it."""
    if isinstance(reason, Saying):
        return tr(reason)
    found = _LEAD.fullmatch(reason)
    if found is None:
        return reason
    others = _counts().get(found["others"] or "")
    if others is None:
        return reason
    days = {name: _day_told(found[name]) for name in ("since", "likely", "late") if found[name]}
    return _said(tr_book(found["title"]), others, **days)


def why_told(visit: BayVisit) -> str:
    """Why a visit is on its day, in the language in force. What a person wrote for a day that people had counted on,
    and that the visit was moved off, names that day: it may be no reason for the new one."""
    told = reason_told(visit.reason)
    if not told or visit.moved_from is None or _LEAD.fullmatch(visit.reason) is not None:
        return told
    # Told from the visit and not from today, so that a calendar entry does not change with the year.
    return tr("Written for {day}: {reason}", day=day_words(visit.moved_from, visit.begins_at.date()), reason=told)


def _said(title: str, others: int, *, since: str = "", likely: str = "", late: str = "") -> str:
    lead = (
        tr("{title} is past late since {day}.", title=title, day=since)
        if since
        else tr("{title}: likely {likely}, late {late}.", title=title, likely=likely, late=late)
    )
    if others == 0:
        return lead
    along = tr("One more rides along.") if others == 1 else tr("{many} more ride along.", many=_many(others))
    return f"{lead} {along}"


def _many(number: int) -> str:
    return sentence(count_words(number))


def _day_told(text: str) -> str:
    found = re.fullmatch(_DAY, text)
    assert found is not None  # the pattern of the whole has it in it
    # Without a year it is told without one; a leap year has every day.
    year = int(found[3] or 2000)
    try:
        day = date(year, ENGLISH_MONTHS.index(found[2]) + 1, int(found[1]))
    except ValueError:
        return text
    return day_words(day, day if found[3] is None else day.replace(year=year - 1, day=1))


@cache
def _counts() -> dict[str, int]:
    """How many ride along, by the word it is written down with."""
    with as_written_down():
        return {"": 0, "One": 1} | {_many(number): number for number in range(2, 100)}
