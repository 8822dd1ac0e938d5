"""One service line on the vehicle page: its rule, its dipstick, its three dates, and how they came about."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fleetcare.book.rows import Status
from fleetcare.due.change_words import WindowChange
from fleetcare.due.outlook import LineOutlook, NoDate, VehicleOutlook
from fleetcare.due.telling import row_sentences, rule_words
from fleetcare.fleet.component import LineKey
from fleetcare.language import tr, tr_book
from fleetcare.page.cards.handbook import row_url
from fleetcare.page.cards.road import late_words
from fleetcare.page.cards.rod import Rod, rod, standing
from fleetcare.page.cards.sentences import service_title
from fleetcare.page.cards.state_words import state_word
from fleetcare.page.drawings.dipstick import WIDE, Standing
from fleetcare.wording import day_short, day_words, joined, sentence
from fleetcare.work.found import look_of

CHANGES_AT_MOST = 3
_SAID_AT_ONCE = (Status.SECOND_HAND, Status.PRACTICE, Status.MEMORY, Status.DOUBTFUL)
"""How well a figure is known is said beside it if it is anything less than read in a source or set by this garage."""


@dataclass(frozen=True, slots=True)
class ServiceRow:
    """One service line.

    rule: the interval in words. known: how well it is known and whether this garage changed it, empty if neither needs
    saying. early, likely, late: empty without a window; then `state` says why. rod: None if there is nothing to draw.
    steps: how it came about, in sentences. changes: what changed it last, newest first, each with its day and cause.
    book_url: its page in the Handbook; empty for a look that a finding asks for, which is in no book.
    """

    title: str
    rule: str
    known: str
    rod: Rod | None
    early: str
    likely: str
    late: str
    state: str
    is_past_late: bool
    last_done: str
    steps: tuple[str, ...]
    changes: tuple[str, ...]
    action: str
    note: str
    book_url: str = ""


def service_rows(
    outlook: VehicleOutlook, changes: Mapping[LineKey, Sequence[WindowChange]] | None = None
) -> tuple[ServiceRow, ...]:
    """Every line of a vehicle: those with a window by their late date, then the others as they stand in it.

    changes: what changed each of them last, newest first.
    """
    changed = changes or {}
    return tuple(_row(outlook, line, changed.get(line.key, ())) for line in by_late_date(outlook))


def by_late_date(outlook: VehicleOutlook) -> tuple[LineOutlook, ...]:
    """The lines of a vehicle in the order in which its page has them."""
    dated = sorted(
        ((line.window.late, line.window.likely, line.key), line) for line in outlook.lines if line.window is not None
    )
    return (*(line for _, line in dated), *(line for line in outlook.lines if line.window is None))


def no_date_words(line: LineOutlook, name: str) -> str:
    """Why a line has no date, as a sentence; empty if it has one."""
    if line.no_date is None:
        return ""
    if line.no_date is NoDate.NO_EVENT:
        events = sorted({tr_book(after.event) for after in line.row.rule.after})
        waits = tr("the next {events}", events=joined(events, "or")) if events else tr("an event")
        return tr("Due after {waits}; none is waiting.", waits=waits)
    return {
        NoDate.NO_READING: tr("No reading yet, so there is no date."),
        NoDate.NO_USE: tr("No date in sight while {name} does not move.", name=name),
        NoDate.OUT_OF_FLEET: tr("{name} is out of the fleet, so nothing is due.", name=name),
        NoDate.BEYOND: tr("Not before the year 2200 at this pace."),
    }[line.no_date]


def _row(outlook: VehicleOutlook, line: LineOutlook, changes: Sequence[WindowChange]) -> ServiceRow:
    window, today = line.window, line.today
    done = (
        tr("Last done {day}.", day=day_words(line.last_done_on, today))
        if line.last_done_on
        else tr("No record of it here.")
    )
    return ServiceRow(
        title=service_title(outlook, line),
        rule=sentence(rule_words(line.row.rule)),
        known=_known(line),
        rod=rod(line, WIDE) if window or line.q_now is not None else None,
        early=day_short(window.early, today) if window else "",
        likely=day_short(window.likely, today) if window else "",
        late=day_short(window.late, today) if window else "",
        state=_state(line, outlook.vehicle.name),
        is_past_late=standing(line) is Standing.PAST_LATE,
        last_done=done,
        steps=_steps(line) or tuple(row_sentences(line.row)),
        changes=tuple(f"{day_words(change.on, today)}, {change.words}." for change in changes[:CHANGES_AT_MOST]),
        action=_ended(sentence(tr_book(line.row.action))),
        note=_ended(sentence(tr_book(line.row.note))),
        book_url="" if look_of(line.key) is not None else row_url(line.row.key),
    )


def _steps(line: LineOutlook) -> tuple[str, ...]:
    """The steps; what is asked of the whole vehicle stands once at the head of its page, not in every chain."""
    return tuple(step.text for step in line.steps if step.part != "question")


def _state(line: LineOutlook, name: str) -> str:
    if line.window is None:
        return no_date_words(line, name)
    words = late_words(line.window, line.today)
    ahead = not line.window.is_open(line.today) and not line.window.is_past_late(line.today)
    return tr("Window ahead.") if ahead else f"{sentence(words)}."


def _known(line: LineOutlook) -> str:
    told = [state_word(line.row.status)] if line.row.status in _SAID_AT_ONCE else []
    if line.row.overrides:
        told.append(tr("changed by this garage"))
    return f"{sentence(', '.join(told))}." if told else ""


def _ended(text: str) -> str:
    return text if not text or text.endswith((".", "?", "!")) else f"{text}."
