"""Findings that cut an interval short: which services each of them shortens, as long as it does."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from fleetcare.due.outlook import LineOutlook, VehicleOutlook
from fleetcare.fleet.component import LineKey
from fleetcare.work.found import Found
from fleetcare.work.open_findings import WaitingFinding, interval_cuts


@dataclass(frozen=True, slots=True)
class ShortenedLine:
    """A service whose interval is cut short. until: the likely day on which it is done again, None if none is known."""

    key: LineKey
    short: str
    until: date | None


@dataclass(frozen=True, slots=True)
class IntervalCut:
    """A finding that cuts intervals short at present, and which, the soonest first.

    outdone: another finding of the same work cuts them shorter, and that one counts.
    """

    finding: WaitingFinding
    lines: tuple[ShortenedLine, ...]
    outdone: bool = False


def cuts_in_force(found: Iterable[Found], outlook: VehicleOutlook) -> tuple[IntervalCut, ...]:
    """The cuts that still shorten something on that vehicle; one whose services were all done again is over.

    found: findings of the vehicle, under the place where their component is now.
    """
    cuts = []
    for finding in interval_cuts(found):
        lines = [line for line in outlook.lines if _is_cut(line, finding)]
        if lines:
            lines.sort(key=lambda line: (line.window.likely if line.window else date.max, line.key))
            told = (
                ShortenedLine(line.key, line.row.short, line.window.likely if line.window else None) for line in lines
            )
            cuts.append(IntervalCut(finding, tuple(told), any(line.cut_by != finding.key for line in lines)))
    return tuple(cuts)


def _is_cut(line: LineOutlook, finding: WaitingFinding) -> bool:
    return bool(line.cut_by) and line.key.component == finding.line.component and line.counted_on == finding.on
