"""Sentences made of runs: plain words, key words, and words that lead somewhere."""

from __future__ import annotations

from dataclasses import dataclass

from fleetcare.due.outlook import LineOutlook, VehicleOutlook
from fleetcare.language import tr_book
from fleetcare.wording import lower_first, of_vehicle


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


def whose(outlook: VehicleOutlook, line: LineOutlook) -> str:
    """`Raft's coupling`."""
    return f"{of_vehicle(outlook.vehicle.name)} {tr_book(line.row.short)}"


def sheet_title(title: str) -> str:
    """The title of a sheet: as somebody wrote it, or made of titles of services, each in the reader's language."""
    return _told_in_parts(title.split(", "), least_words=1) or _told_in_parts(
        title.split(", "), least_words=2, own=True
    )


def _told_in_parts(rest: list[str], *, least_words: int, own: bool = False) -> str:
    """Titles of services with what the garage called itself between them if `own`; empty where that is not allowed."""
    parts = []
    while rest:
        # Titles have commas of their own, so the longest that the book knows comes first.
        heads = (", ".join(rest[:many]) for many in range(len(rest), 0, -1))
        head = next((text for text in heads if len(text.split()) >= least_words and tr_book(text) != text), None)
        if head is None and not own:
            return ""
        taken = rest[0] if head is None else head
        parts.append(tr_book(head) if head else taken)
        rest = rest[taken.count(", ") + 1 :]
    return ", ".join(parts)


def service_title(outlook: VehicleOutlook, line: LineOutlook) -> str:
    """The service's title, with its component where two lines of the vehicle are called the same."""
    alike = [other for other in outlook.lines if other.row.title == line.row.title]
    return (
        f"{tr_book(line.row.title)}, {lower_first(tr_book(line.component.title))}"
        if len(alike) > 1
        else tr_book(line.row.title)
    )
