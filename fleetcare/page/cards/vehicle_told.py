"""What came of a change to a vehicle: what was changed, in words, and which dates are new or moved."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from fleetcare.due.outlook import DueWindow, LineOutlook, NoDate, VehicleOutlook
from fleetcare.fleet.people import Garage
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr, tr_count
from fleetcare.page.cards.frame import ROAD_URL, Frame, Link, Plate, bare_frame, vehicle_plate
from fleetcare.page.cards.sentences import service_title
from fleetcare.wording import day_short, sentence

LINES_AT_MOST = 30

State = DueWindow | NoDate


@dataclass(frozen=True, slots=True)
class MovedLine:
    """One line: its title, and its three dates or why it has none; what it was before, empty if it is new."""

    title: str
    dates: str
    was: str = ""


@dataclass(frozen=True, slots=True)
class VehicleToldCard:
    """The page after a change. told: sentences. changed: one for each thing changed. form: what can be done at once."""

    frame: Frame
    plate: Plate
    heading: str
    told: tuple[str, ...]
    changed: tuple[str, ...]
    lines_title: str
    lines: tuple[MovedLine, ...]
    more: str
    links: tuple[Link, ...]


def vehicle_told_card(
    *,
    garage: Garage,
    vehicle: Vehicle,
    today: date,
    heading: str,
    told: Sequence[str] = (),
    changed: Sequence[str] = (),
    lines_title: str = "",
    lines: Sequence[MovedLine] = (),
    links: Sequence[Link] = (),
) -> VehicleToldCard:
    """The page after a change, with at most LINES_AT_MOST lines."""
    return VehicleToldCard(
        frame=bare_frame(heading, garage=garage, today=today, home_url=ROAD_URL),
        plate=vehicle_plate(vehicle),
        heading=heading,
        told=tuple(told),
        changed=tuple(changed),
        lines_title=lines_title if lines else "",
        lines=tuple(lines[:LINES_AT_MOST]),
        more=_more(len(lines) - LINES_AT_MOST),
        links=tuple(links),
    )


def moved_lines(
    outlooks: Iterable[VehicleOutlook], moved: Iterable[tuple[LineOutlook, State | None, State]], today: date
) -> tuple[MovedLine, ...]:
    """Lines with what they were and what they are now; those with dates first, by their late date.

    moved: line, state before (None: it is new) and after.
    """
    by_mark = {outlook.vehicle.mark: outlook for outlook in outlooks}
    rows = []
    for line, before, after in moved:
        title = service_title(by_mark[line.key.mark], line)
        order = (after.late if isinstance(after, DueWindow) else date.max, line.key)
        rows.append((order, MovedLine(title, state_words(after, today), _was(before, today))))
    return tuple(row for _, row in sorted(rows, key=lambda each: each[0]))


def state_words(state: State, today: date) -> str:
    """`Early 3 May, likely 20 May, late 4 June.`, or why there is no date."""
    if isinstance(state, DueWindow):
        early, likely, late = (day_short(day, today) for day in (state.early, state.likely, state.late))
        return tr("Early {early}, likely {likely}, late {late}.", early=early, likely=likely, late=late)
    return f"{sentence(tr(state.value))}."


def _more(left: int) -> str:
    if left <= 0:
        return ""
    return tr_count(
        "And one more; the vehicle’s page has it.", "And {left} more; the vehicle’s page has them.", left, left=left
    )


def _was(before: State | None, today: date) -> str:
    if before is None:
        return ""
    if isinstance(before, DueWindow):
        return tr("Likely was {day}.", day=day_short(before.likely, today))
    return tr("Before: {reason}.", reason=tr(before.value))
