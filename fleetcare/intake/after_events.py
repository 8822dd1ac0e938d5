"""Events after which a service is due, one on a line, as people write them.

    line   := event [ ":" limits ]
    limits := limit { "," limit }        whichever comes first; none: at once
    limit  := number unit                unit: km, mi, days (day, d), hours (hour, h)

`immersion: 5 days`, `gears renewed: 500 mi, 14 days`, `track day`.
"""

from __future__ import annotations

import re
from decimal import Decimal

from fleetcare.book.rows import AfterEvent
from fleetcare.errors import BadInput, shown
from fleetcare.intake.numbers import parse_decimal, parse_whole
from fleetcare.intake.text import clean_text
from fleetcare.language import saying
from fleetcare.quantities import DistanceUnit, PrintedDistance

MOST_EVENTS = 20
_LIMIT = re.compile(r"(?P<figure>[0-9][0-9 .,]*?)\s*(?P<unit>[a-z]+)")
_UNITS = {
    "km": "km", "mi": "mi", "miles": "mi", "d": "days", "day": "days", "days": "days",
    "h": "hours", "hour": "hours", "hours": "hours",
}  # fmt: skip


def parse_after_events(text: str, *, field: str = "after") -> tuple[AfterEvent, ...]:
    """The events in the order of the lines; empty lines are passed over. Raises BadInput, naming the line."""
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    if len(lines) > MOST_EVENTS:
        raise BadInput(
            saying("More than {most_events} events.", most_events=MOST_EVENTS),
            remedy="Leave out the rarest.",
            field=field,
        )
    found = tuple(_event(line, field) for line in lines)
    twice = next((each.event for each in found if sum(other.event == each.event for other in found) > 1), None)
    if twice is not None:
        raise BadInput(
            saying("“{twice}” stands there twice.", twice=twice), remedy="Put its limits on one line.", field=field
        )
    return found


def _event(line: str, field: str) -> AfterEvent:
    name, mark, rest = line.partition(":")
    event = clean_text(name, field=field, limit=60, required=True)
    figures: dict[str, Decimal | int] = {}
    for part in (each.strip() for each in rest.split(",")) if mark and rest.strip() else ():
        match = _LIMIT.fullmatch(part.lower())
        unit = _UNITS.get(match["unit"]) if match else None
        if match is None or unit is None or unit in figures:
            raise BadInput(
                saying("{line} cannot be read.", line=shown(line, 60)),
                remedy="Write an event to a line, such as: immersion: 5 days. Or: gears renewed: 500 mi, 14 days.",
                field=field,
            )
        if unit == "days":
            figures[unit] = parse_whole(match["figure"], least=0, most=36_500, field=field)
        else:
            figures[unit] = parse_decimal(match["figure"], decimal_comma=False, field=field)
            if not figures[unit]:
                raise BadInput(
                    saying("{line}: nought is no limit.", line=shown(line, 60)),
                    remedy="Leave it out for at once.",
                    field=field,
                )
    if "km" in figures and "mi" in figures:
        raise BadInput(saying("{line} has two distances.", line=shown(line, 60)), remedy="Give km or mi.", field=field)
    unit_given = next((each for each in DistanceUnit if each.value in figures), None)
    distance = None
    if unit_given is not None:
        value = Decimal(figures[unit_given.value])
        distance = PrintedDistance(unit_given, **{unit_given.value: value})
    days, hours = figures.get("days"), figures.get("hours")
    return AfterEvent(event, distance, None if days is None else int(days), None if hours is None else Decimal(hours))
