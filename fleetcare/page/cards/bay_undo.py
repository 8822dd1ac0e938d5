"""What was just done with a visit, said on top of the page of bay days, with the form that takes it back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from fleetcare.fleet.bay_visit import BayVisit, VisitState, stand_of_visit
from fleetcare.language import tr
from fleetcare.page.cards.frame import BAY_URL
from fleetcare.wording import weekday_words

STAND_FIELD = "stand"
"""Carries which state of a visit a form was shown in, so that an older one undoes nothing."""
OUT_FIELD, MOVED_FIELD, WAS_FIELD = "out", "moved", "was"
"""Name in the address which visit was rubbed out or moved, and how or when it was before."""


@dataclass(frozen=True, slots=True)
class BayUndo:
    """told: what was done. button: what its form does. url, fields: where the form goes and what it sends.
    place: of the visit on the page, where it is said; empty for on top."""

    told: str
    button: str
    url: str
    fields: tuple[tuple[str, str], ...]
    place: str = ""


def put_back(visit: BayVisit, name: str, was: VisitState, zone: ZoneInfo, today: date) -> BayUndo:
    """For a visit that is rubbed out. was: the state it goes back to."""
    begins = visit.begins_at.astimezone(zone)
    return BayUndo(
        tr(
            "{name}, {day} at {time}: rubbed out.",
            name=name,
            day=weekday_words(begins.date(), today),
            time=f"{begins:%H:%M}",
        ),
        tr("Put it back"),
        f"{BAY_URL}/{visit.mark}/{visit.number}/{'ink' if was is VisitState.INKED else 'pencil'}",
        ((STAND_FIELD, stand_of_visit(visit)),),
    )


def moved_back(
    visit: BayVisit, name: str, was: datetime, zone: ZoneInfo, today: date, *, day_field: str, time_field: str
) -> BayUndo:
    """For a visit that was moved. was: its first hand before, in the garage's own zone."""
    begins = visit.begins_at.astimezone(zone)
    return BayUndo(
        tr(
            "{name} was moved to {day} at {time}, from {was} at {then}.",
            name=name,
            day=weekday_words(begins.date(), today),
            time=f"{begins:%H:%M}",
            was=weekday_words(was.date(), today),
            then=f"{was:%H:%M}",
        ),
        tr("Move it back"),
        f"{BAY_URL}/{visit.mark}/{visit.number}/move",
        ((STAND_FIELD, stand_of_visit(visit)), (day_field, was.date().isoformat()), (time_field, f"{was:%H:%M}")),
        f"{visit.mark}-{visit.number}",
    )
