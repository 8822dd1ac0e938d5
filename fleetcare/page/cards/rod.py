"""One service with its dipstick and the same in words."""

from __future__ import annotations

from dataclasses import dataclass

from fleetcare.due.outlook import Cause, LineOutlook
from fleetcare.language import later, tr
from fleetcare.page.drawings.dipstick import Dipstick, RodForm, Standing, dipstick
from fleetcare.wording import share_words

_GOES_BY = {
    Cause.DISTANCE: later("Goes by distance"),
    Cause.HOURS: later("Goes by hours"),
    Cause.DATE: later("Goes by date"),
    Cause.EVENT: later("Goes by its event"),
    Cause.UNKNOWN_HISTORY: later("History unknown, a look comes first"),
}


@dataclass(frozen=True, slots=True)
class Rod:
    """A dipstick and the line of figures that says it again."""

    drawing: Dipstick
    figures: str


def rod(line: LineOutlook, form: RodForm) -> Rod:
    """The dipstick of one line, in one of the three forms."""
    drawing = dipstick(
        q_read=line.q_read,
        q_now=line.q_now,
        q_early=line.q_early,
        q_late=line.q_late,
        standing=standing(line),
        form=form,
    )
    return Rod(drawing, figures(line))


def standing(line: LineOutlook) -> Standing:
    """Where today lies against the line's window."""
    if line.window is None:
        return Standing.NO_DATE
    if line.window.is_past_late(line.today):
        return Standing.PAST_LATE
    return Standing.OPEN if line.window.is_open(line.today) else Standing.AHEAD


def figures(line: LineOutlook) -> str:
    """`Goes by distance: 97 % worn by reckoning, 96 % by the last reading, zone 98 to 103 %.`"""
    goes_by = tr(_GOES_BY[line.window.cause]) if line.window else ""
    if line.window is not None and line.window.cause is Cause.UNKNOWN_HISTORY:
        # The rod counts the days to the look; of the wear itself nobody knows.
        return f"{goes_by}."
    worn = _worn(line)
    zone = ""
    if worn and line.q_early is not None and line.q_late is not None:
        zone = tr(
            ", zone {early} to {late}",
            early=share_words(line.q_early).removesuffix(" %"),
            late=share_words(line.q_late),
        )
    if goes_by and worn:
        return f"{goes_by}: {worn}{zone}."
    return f"{goes_by or worn[:1].upper() + worn[1:]}." if goes_by or worn else ""


def _worn(line: LineOutlook) -> str:
    if line.q_now is None:
        return ""
    now = share_words(line.q_now)
    dated = line.window is not None and line.window.cause not in (Cause.DISTANCE, Cause.HOURS)
    if line.q_read is None or dated:
        return tr("{now} worn", now=now)
    read = share_words(line.q_read)
    if read == now:
        return tr("{now} worn by the last reading", now=now)
    return tr("{now} worn by reckoning, {read} by the last reading", now=now, read=read)
