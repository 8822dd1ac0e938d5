"""One row of a table while it is read: every fault with its line, and reading goes on."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from functools import partial
from typing import TypeVar

from fleetcare.errors import BadInput, Fault, shown
from fleetcare.intake.csv_files import CsvRow, CsvTable
from fleetcare.intake.dates import parse_day
from fleetcare.intake.numbers import parse_amount, parse_decimal, plain
from fleetcare.intake.text import clean_text
from fleetcare.language import saying
from fleetcare.wording import grouped

T = TypeVar("T")

MOST_FAULTS = 200
"""Of one file; then reading it stops, and says so."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where in the files a value stands."""

    file: str
    line: int

    def fault(self, what: str, instead: str) -> Fault:
        """A fault at that place."""
        return Fault(self.file, self.line, what, instead)

    def seen_from(self, other: Place) -> str:
        """How this place is called in a sentence that stands at another."""
        return f"line {self.line}" if self.file == other.file else f"{self.file}, line {self.line}"


@dataclass(slots=True)
class Found:
    """What is gathered while rows are read: faults stop the file, warnings do not."""

    faults: list[Fault] = field(default_factory=list)
    warnings: list[Fault] = field(default_factory=list)


@dataclass(slots=True)
class Row:
    """One row while it is read: `take` notes what is wrong with a cell and goes on."""

    table: CsvTable
    row: CsvRow
    found: Found
    is_whole: bool = True

    @property
    def place(self) -> Place:
        """Where this row stands."""
        return Place(self.table.file, self.row.line)

    def take(self, column: str, read: Callable[[str], T], *, blank: T | None = None) -> T | None:
        """The cell as `read` gives it; `blank` for an empty cell that is not needed; None if there is a fault."""
        text = self.row[column]
        if not text and column not in self.table.columns.needed:
            return blank
        try:
            return read(text)
        except BadInput as bad:
            self.blame(column, bad.what, bad.remedy)
            return None

    def blame(self, column: str, what: str, instead: str) -> None:
        """Notes what is wrong with a cell and what to write instead; the row is not whole then."""
        self.is_whole = False
        self.found.faults.append(self.place.fault(saying("{column}: {what}", column=column, what=what), instead))

    def text(self, column: str, *, required: bool = False) -> str:
        """The cell as clean text, empty if it is empty and not needed."""
        taken = self.take(column, lambda text: clean_text(text, field=column, required=required), blank="")
        return taken or ""

    def day(self, column: str, today: date | None) -> date | None:
        """A day; one that is still to come is refused if `today` is given."""
        day = self.take(column, parse_day)
        if day is not None and today is not None and day > today:
            self.blame(
                column, saying("{row} is still to come.", row=shown(self.row[column], 30)), "Write the day it happened."
            )
        return day

    def amount(self, column: str) -> Decimal | None:
        """A figure as this table writes its decimals; None if the cell is empty or wrong."""
        style = self.table.decimal_comma
        if style is None:
            return self.take(column, parse_amount)
        return self.take(column, lambda text: parse_decimal(text, decimal_comma=style, places=1))


def rows_of(tables: Sequence[CsvTable], found: Found) -> Iterator[Row]:
    """Each row of these tables; a table with too many faults is left with a word about it."""
    for table in tables:
        _warn_of_thousands(table, found)
        before = len(found.faults)
        for csv_row in table.rows:
            row = Row(table, csv_row, found)
            yield row
            if len(found.faults) - before >= MOST_FAULTS:
                what = saying(
                    "There are {most_faults} faults up to here; what follows was not looked at.",
                    most_faults=MOST_FAULTS,
                )
                found.faults.append(Fault(table.file, csv_row.line + 1, what, "Put these right first."))
                break


def _warn_of_thousands(table: CsvTable, found: Found) -> None:
    """Says how 84,210 was read where nothing else in the file shows what the comma means."""
    unsure = set(table.unsure)
    for row in table.rows:
        if row.line not in unsure:
            continue
        for column in table.columns.numbers:
            text = row[column]
            try:
                value = parse_amount(text)
            except BadInput:
                continue
            what = saying(
                "{column}: {text_} was taken for {value}.",
                column=column,
                text_=shown(text, 30),
                value=partial(grouped, value),
            )
            found.warnings.append(
                Fault(table.file, row.line, what, saying("Write {value} to leave no doubt.", value=plain(value)))
            )


def note_repeat(row: Row, earlier: tuple[object, Place], again: object, what: str) -> None:
    """Warns that a row says what another said; one that says it otherwise is a fault."""
    value, where = earlier[0], earlier[1].seen_from(row.place)
    if value == again:
        found = row.place.fault(saying("This row repeats {where}, {what}.", where=where, what=what), "It counts once.")
        row.found.warnings.append(found)
    else:
        row.blame(
            "date",
            saying("There is {what} in {where} already, and not alike.", what=what, where=where),
            "Take one of the two away.",
        )
