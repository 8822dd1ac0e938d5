"""Visits to the bay for the tests of calendar entries, ordinary and nasty ones."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from fleetcare.calendar_feed.bay_entries import bay_entries
from fleetcare.calendar_feed.entries import Form
from fleetcare.calendar_feed.rules import FeedRules
from fleetcare.calendar_feed.values import FeedEntry
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.bay_visit import BayVisit, StretchKind, VisitState, laid_end_to_end
from fleetcare.fleet.component import LineKey
from tests.calendar_feed.garage import TODAY, karst_ridge, nasty_garage

ZONE = ZoneInfo("America/Denver")
HANDS, STANDS = StretchKind.HANDS_ON, StretchKind.STANDING
SATURDAY = datetime(2026, 4, 25, 9, 0, tzinfo=ZONE).astimezone(UTC)
RESEAL = ((HANDS, timedelta(minutes=140)), (STANDS, timedelta(hours=25)), (HANDS, timedelta(minutes=80)))
"""Anvil's rear axle: 9:00 to 11:20, stands until 12:20 the next day, done at 13:40."""


def visit(**changes: object) -> BayVisit:
    """Anvil's visit of 25 April, inked, or what the changes make of it."""
    given: dict[str, object] = {
        "mark": "AN",
        "number": 1,
        "lines": (LineKey("AN", "rear-axle", "axle-fluid"), LineKey("AN", "engine", "engine-oil")),
        "stretches": laid_end_to_end(SATURDAY, RESEAL),
        "state": VisitState.INKED,
        "mechanic": "ines",
        "reason": "The last free weekend before the hill climb.",
    }
    return BayVisit(**(given | changes))  # type: ignore[arg-type]


def visits() -> tuple[BayVisit, ...]:
    """Anvil's, one of Raft's that is pencilled, and one that was rubbed out."""
    raft = {"mark": "RA", "lines": (LineKey("RA", "trailer-coupling", "coupling"),)}
    short = laid_end_to_end(SATURDAY - timedelta(days=9), [(HANDS, timedelta(minutes=50))])
    return (
        visit(),
        visit(**raft, stretches=short, state=VisitState.PENCILLED, mechanic="", reason=""),
        visit(**raft, number=2, state=VisitState.RUBBED_OUT),
    )


def entries_of(
    of: tuple[BayVisit, ...],
    outlook: VehicleOutlook,
    form: Form | None = None,
    people: dict[str, str] | None = None,
    sheets: dict[tuple[str, int], int] | None = None,
) -> tuple[FeedEntry, ...]:
    """What these visits put into a calendar."""
    return bay_entries(
        of,
        outlook,
        outlook.vehicle.name,
        form or Form(),
        sheets=sheets or {},
        people={"ines": "Ines Calloway"} if people is None else people,
        zone=ZONE,
        today=TODAY,
        rules=FeedRules(),
    )


def bay_entries_of(form: Form | None = None) -> tuple[FeedEntry, ...]:
    """What the ordinary garage's visits put into a calendar of that form."""
    return tuple(entry for outlook in karst_ridge() for entry in entries_of(visits(), outlook, form))


def rich_bay_entries() -> tuple[FeedEntry, ...]:
    """Nasty names of vehicles and services, nasty reasons and mechanics."""
    found: list[FeedEntry] = []
    for place, outlook in enumerate(nasty_garage()[0]):
        text, mark = outlook.vehicle.name, outlook.vehicle.mark
        begins = SATURDAY + timedelta(days=3 * place)
        theirs = visit(
            mark=mark,
            lines=(LineKey(mark, "engine", "oil"),),
            stretches=laid_end_to_end(begins, RESEAL),
            state=VisitState.PENCILLED,
            reason=text,
        )
        found += entries_of((theirs,), outlook, people={"ines": text})
    return tuple(found)
