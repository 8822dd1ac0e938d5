"""Sentences made of runs: plain words, key words, and words that lead somewhere."""

from __future__ import annotations

from dataclasses import dataclass

from fleetcare.due.outlook import LineOutlook, VehicleOutlook
from fleetcare.wording import of_vehicle


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch of text. `is_key`: set bold. `url`: where it leads, empty if nowhere."""

    text: str
    is_key: bool = False
    url: str = ""


Sentence = tuple[Run, ...]


def plain(text: str) -> Sentence:
    """A sentence of plain words."""
    return (Run(text),)


def lower_first(title: str) -> str:
    """A title inside a sentence: its first letter small, unless the word is in capitals."""
    return title if title[1:2].isupper() else title[:1].lower() + title[1:]


def whose(outlook: VehicleOutlook, line: LineOutlook) -> str:
    """`Raft's coupling`."""
    return f"{of_vehicle(outlook.vehicle.name)} {line.row.short}"


def service_title(outlook: VehicleOutlook, line: LineOutlook) -> str:
    """The service's title, with its component where two lines of the vehicle are called the same."""
    alike = [other for other in outlook.lines if other.row.title == line.row.title]
    return f"{line.row.title}, {lower_first(line.component.title)}" if len(alike) > 1 else line.row.title
