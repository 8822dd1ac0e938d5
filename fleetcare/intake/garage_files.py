"""A garage's file, or a folder of them, read as a whole: recognised by content, checked against each other."""

from __future__ import annotations

import itertools
import re
import zoneinfo
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from fleetcare.book.rows import IntervalBook
from fleetcare.book.shopping import ShelfItem
from fleetcare.errors import BadFile, Fault, shown
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.fleet.busy import CalendarSource
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.intake.csv_files import MOST_BYTES, MOST_ROWS, Columns, CsvTable, decoded, head_of, read_csv
from fleetcare.intake.csv_rows import Found, Place
from fleetcare.intake.csv_values import (
    BOOKINGS,
    EVENTS,
    READINGS,
    TABLES,
    VISITS,
    WORK,
    bookings_in,
    events_in,
    readings_in,
    visits_in,
    work_in,
)
from fleetcare.intake.known import KnownNames, nearest
from fleetcare.intake.nouns import BOOK_TABLE, GARAGE_TABLES, CheckTag, Nouns, ParseBook
from fleetcare.intake.order_files import ORDER_TABLES, orders_in
from fleetcare.intake.shelf_csv import SHELF, shelf_of
from fleetcare.intake.toml_files import ReadToml, TomlDocument
from fleetcare.language import saying
from fleetcare.meter.reading import Reading
from fleetcare.work.found import Found as OrderFound
from fleetcare.work.moves import Move
from fleetcare.work.order import WorkOrder
from fleetcare.work.record import WorkDone

_TOML_TABLES = (*GARAGE_TABLES, *ORDER_TABLES, BOOK_TABLE)
_ALL_TABLES = (*TABLES, SHELF)
_ENDINGS = (".toml", ".csv")
_NO_PLACES = frozenset({"localtime", "Factory"})
"""Names that are in the list of time zones but are none: they mean whatever the machine is set to."""


@dataclass(frozen=True, slots=True)
class Incoming:
    """What one file or folder holds, checked; nothing of it is stored yet.

    book_text: a garage's own interval book as it stands in the file (`book` is the book in force with it), or None.
    reading_places and the like: where each of them stands, in the same order. warnings: worth reading, nothing stops.
    """

    garage: Garage | None = None
    people: tuple[Person, ...] = ()
    vehicles: tuple[Vehicle, ...] = ()
    book_text: str | None = None
    book_file: str = ""
    book: IntervalBook | None = None
    readings: tuple[Reading, ...] = ()
    work: tuple[WorkDone, ...] = ()
    bookings: tuple[Booking, ...] = ()
    events: tuple[UseEvent, ...] = ()
    calendars: tuple[CalendarSource, ...] = ()
    visits: tuple[BayVisit, ...] = ()
    shelf: tuple[ShelfItem, ...] = ()
    orders: tuple[WorkOrder, ...] = ()
    found: tuple[OrderFound, ...] = ()
    moves: tuple[Move, ...] = ()
    reading_places: tuple[Place, ...] = ()
    work_places: tuple[Place, ...] = ()
    booking_places: tuple[Place, ...] = ()
    event_places: tuple[Place, ...] = ()
    warnings: tuple[Fault, ...] = ()
    files: tuple[str, ...] = ()

    @property
    def reading_lines(self) -> tuple[int, ...]:
        """The line of each reading in its file."""
        return tuple(place.line for place in self.reading_places)


def read_path(
    path: Path,
    *,
    known: KnownNames,
    entered_at: datetime,
    read_toml: ReadToml,
    parse_book: ParseBook | None = None,
    vin_doubts: Callable[[str], tuple[str, ...]] | None = None,
    tag_doubts: CheckTag | None = None,
    today: date | None = None,
    zones: Collection[str] | None = None,
    most_bytes: int = MOST_BYTES,
    most_rows: int = MOST_ROWS,
    apart: Collection[str] = (),
) -> Incoming:
    """What the file, or every .toml and .csv in the folder, holds.

    entered_at: the instant given to readings without one, UTC. read_toml, parse_book: of the room `settings`.
    today: given, readings, work and events of later days are refused. zones: the time zones there are. apart: names of
    files that somebody else reads.
    Raises BadFile with every fault of every file; then nothing is to be taken from any of them.
    """
    texts: dict[str, str] = {}
    faults: list[Fault] = []
    files = _files_at(path)
    if files and all(file.name in apart for file in files):
        return Incoming(files=tuple(file.name for file in files))
    for file in files:
        if file.name in apart:
            continue
        try:
            texts[file.name] = decoded(_bytes_of(file, most_bytes), file.name, most_bytes=most_bytes)
        except BadFile as bad:
            faults += bad.faults
    return read_texts(
        texts,
        known=known,
        entered_at=entered_at,
        read_toml=read_toml,
        parse_book=parse_book,
        vin_doubts=vin_doubts,
        tag_doubts=tag_doubts,
        today=today,
        zones=zones,
        most_rows=most_rows,
        faults=faults,
    )


def read_texts(
    texts: dict[str, str],
    *,
    known: KnownNames,
    entered_at: datetime,
    read_toml: ReadToml,
    parse_book: ParseBook | None = None,
    vin_doubts: Callable[[str], tuple[str, ...]] | None = None,
    tag_doubts: CheckTag | None = None,
    today: date | None = None,
    zones: Collection[str] | None = None,
    most_rows: int = MOST_ROWS,
    faults: Iterable[Fault] = (),
) -> Incoming:
    """As `read_path`, for texts by file name; `faults` were found before."""
    found = Found(faults=list(faults))
    documents, tables = _sorted_out(texts, read_toml, found)
    head = Nouns(known, found, zones if zones is not None else time_zones())
    head.read_garage(documents)
    head.read_people(documents)
    head.read_book(documents, texts, parse_book)
    head.read_vehicles(documents)
    roster = head.roster()
    head.check_names(roster)
    head.note_doubts(vin_doubts)
    head.check_tags(tag_doubts)

    read: dict[str, list[CsvTable]] = {columns.kind: [] for columns in _ALL_TABLES}
    for file, columns in sorted(tables.items()):
        try:
            table = read_csv(texts[file], file, columns, most_rows=most_rows)
        except BadFile as bad:
            found.faults += bad.faults
            continue
        found.faults += table.faults
        read[columns.kind].append(table)
    readings = readings_in(read[READINGS.kind], roster, entered_at=entered_at, today=today, found=found)
    work = work_in(read[WORK.kind], roster, today=today, found=found)
    bookings = bookings_in(read[BOOKINGS.kind], roster, found=found)
    events = events_in(read[EVENTS.kind], roster, today=today, found=found)
    visits = visits_in(read[VISITS.kind], roster, found=found)
    shelf = shelf_of(read[SHELF.kind], found)
    orders, seen, moves = orders_in(documents, roster.vehicle, found.faults)
    if found.faults:
        raise BadFile(sorted(found.faults, key=_order_of_faults))
    return Incoming(
        garage=head.garage,
        people=tuple(head.people),
        vehicles=tuple(head.vehicles),
        book_text=head.book_text,
        book_file=head.book_file,
        book=head.book,
        readings=tuple(reading for reading, _ in readings),
        work=tuple(done for done, _ in work),
        bookings=tuple(booking for booking, _ in bookings),
        events=tuple(event for event, _ in events),
        calendars=tuple(head.calendars),
        visits=tuple(visit for visit, _ in visits),
        shelf=shelf,
        orders=orders,
        found=seen,
        moves=moves,
        reading_places=tuple(place for _, place in readings),
        work_places=tuple(place for _, place in work),
        booking_places=tuple(place for _, place in bookings),
        event_places=tuple(place for _, place in events),
        warnings=tuple(sorted(found.warnings, key=_order_of_faults)),
        files=tuple(sorted(texts)),
    )


def time_zones() -> frozenset[str]:
    """Names that are taken for a time zone: those of the IANA list, never a path or `localtime`."""
    return frozenset(zoneinfo.available_timezones() - _NO_PLACES)


def columns_of(head: Iterable[str]) -> Columns | None:
    """The kind of table that has such a head, by the needed columns it names, misspelt ones too; None if none fits."""
    names = [name for name in head if name]

    def fit(columns: Columns) -> tuple[int, int]:
        near = sum(1 for name in columns.needed if name in names or nearest(name, names) is not None)
        return near - len(columns.needed), sum(1 for name in names if name in columns.names)

    best = max(_ALL_TABLES, key=fit)
    missing, in_place = fit(best)
    return best if in_place >= 2 and missing >= -1 else None


def _sorted_out(
    texts: dict[str, str], read_toml: ReadToml, found: Found
) -> tuple[list[TomlDocument], dict[str, Columns]]:
    """Which text is which, by content: TOML with a table we know, or CSV with a head we know."""
    documents: list[TomlDocument] = []
    tables: dict[str, Columns] = {}
    if not texts and not found.faults:
        found.faults.append(Fault("", 0, "There is nothing to read.", "Name a .toml or .csv file, or their folder."))
    for file, text in sorted(texts.items()):
        if not _looks_like_toml(text):
            columns = columns_of(head_of(text))
            if columns is not None:
                tables[file] = columns
            else:
                kinds = "; ".join(f"{c.kind}: {', '.join(n for n in c.names if n in c.needed)}" for c in _ALL_TABLES)
                what = "The first row is not the head of a table that is known here."
                found.faults.append(Fault(file, 1, what, saying("Columns that are needed for {kinds}.", kinds=kinds)))
            continue
        try:
            document = read_toml(text, file)
        except BadFile as bad:
            found.faults += bad.faults
            continue
        names = [name for name in document.tables if name not in _TOML_TABLES]
        for name in names:
            near = nearest(name, _TOML_TABLES)
            instead = (
                saying("Did you mean {near}?", near=near)
                if near
                else saying("Tables are {toml_tables}.", toml_tables=", ".join(_TOML_TABLES))
            )
            found.faults.append(
                document.fault(saying("There is no table {name}.", name=shown(name, 40)), instead, name)
            )
        if not document.tables:
            found.faults.append(
                Fault(
                    file,
                    0,
                    "The file holds nothing.",
                    saying("Tables are {toml_tables}.", toml_tables=", ".join(_TOML_TABLES)),
                )
            )
        documents.append(document)
    return documents, tables


def _looks_like_toml(text: str) -> bool:
    """By its first line that is neither blank nor a comment: a table head, or a key with an equals sign."""
    for line in itertools.islice(text.removeprefix("\ufeff").splitlines(), 10_000):
        stripped = line.strip()
        if stripped and not stripped.startswith("#"):
            return stripped.startswith("[") or re.match(r"[A-Za-z0-9_.\"' -]+=", stripped) is not None
    return bool(text.strip())


def _files_at(path: Path) -> list[Path]:
    """The file itself, or the .toml and .csv files of the folder, by name; hidden ones are left out."""
    if path.is_dir():
        files = sorted(
            file
            for file in path.iterdir()
            if file.suffix.casefold() in _ENDINGS and not file.name.startswith((".", "~")) and file.is_file()
        )
        if not files:
            raise BadFile([Fault(path.name, 0, "The folder has no .toml and no .csv file.", "Name another folder.")])
        return files
    if not path.exists():
        raise BadFile([Fault(path.name, 0, saying("There is no file {path}.", path=path), "Look at its name.")])
    return [path]


def _bytes_of(file: Path, most_bytes: int) -> bytes:
    """The first bytes of a file, one more than are taken, so that a larger one is noticed and not read."""
    try:
        with file.open("rb") as stream:
            return stream.read(most_bytes + 1)
    except OSError as error:
        reason = (error.strerror or "unknown").lower()
        raise BadFile(
            [
                Fault(
                    file.name,
                    0,
                    saying("The file cannot be read ({reason}).", reason=reason),
                    saying("Look at {file}.", file=file),
                )
            ]
        ) from None


def _order_of_faults(fault: Fault) -> tuple[str, int, str]:
    return fault.file, fault.line, fault.what
