"""Tables in CSV: read with every fault named by its line, written so that a spreadsheet takes no cell for a formula."""

from __future__ import annotations

import csv
import difflib
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fleetcare.errors import BadFile, Fault, shown
from fleetcare.intake.numbers import decimal_mark, is_grouped_by_mark
from fleetcare.language import saying

MOST_BYTES = 10_000_000
MOST_ROWS = 50_000
MOST_CELL = 20_000

_DELIMITERS = (",", ";", "\t")
_FORMULA_SIGNS = "=+-@\uff1d\uff0b\uff0d\uff20"
"""Signs that make a spreadsheet take a cell for a formula, the full-width ones too. Source: OWASP, CSV Injection."""
_GUARD = "'"
_NAMES = {"\t": "tab", ",": "comma", ";": "semicolon"}


@dataclass(frozen=True, slots=True)
class Columns:
    """What a kind of table may have as its head, in the order in which it is written."""

    kind: str
    """`readings`, `work` ..."""
    names: tuple[str, ...]
    needed: frozenset[str]
    numbers: frozenset[str] = frozenset()
    """Columns with numbers; they show whether the file has decimal commas."""


@dataclass(frozen=True, slots=True)
class CsvRow:
    """One row: its 1-based line in the file, and its cells by column, guards and blanks around them taken away."""

    line: int
    cells: dict[str, str]

    def __getitem__(self, column: str) -> str:
        """The cell in that column; empty if the file has no such column."""
        return self.cells.get(column, "")


@dataclass(frozen=True, slots=True)
class CsvTable:
    """A table whose head and shape are right; what its cells mean is not looked at yet.

    decimal_comma: True or False as the numbers of the file show it, None if none of them does.
    faults: what is wrong with single rows; they are not among `rows`.
    """

    file: str
    columns: Columns
    rows: tuple[CsvRow, ...]
    decimal_comma: bool | None
    faults: tuple[Fault, ...] = ()
    unsure: tuple[int, ...] = ()
    """Lines with a number such as 84,210, taken for thousands although no other number shows the decimal mark."""


def decoded(raw: bytes, file: str, *, most_bytes: int = MOST_BYTES) -> str:
    """The text of a file: UTF-8, with or without a byte order mark, or UTF-16 with one. Raises BadFile."""
    if len(raw) > most_bytes:
        raise BadFile(
            [
                Fault(
                    file,
                    0,
                    saying("The file is larger than {megabytes}.", megabytes=_megabytes(most_bytes)),
                    "Cut it into smaller ones.",
                )
            ]
        )
    encoding = "utf-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise BadFile(
            [Fault(file, line, "There is a character that is not UTF-8.", "Save the file as CSV UTF-8.")]
        ) from None
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        raise BadFile([Fault(file, line, "There is a character nought (NUL).", "Save the file as CSV UTF-8 text.")])
    return text


def head_of(text: str) -> tuple[str, ...]:
    """Names in the first row that is not blank, lower case, by whichever delimiter cuts it into most pieces."""
    line = next((line for line in io.StringIO(text.removeprefix("\ufeff"), newline=None) if line.strip(" \t\n;,")), "")
    cut = [_cut(line[:MOST_CELL], delimiter) for delimiter in _DELIMITERS]
    return max(cut, key=len)


def read_csv(text: str, file: str, columns: Columns, *, most_rows: int = MOST_ROWS) -> CsvTable:
    """The table in a text: comma, semicolon or tab, columns in any order, lines ended in any way, blank rows skipped.

    Raises BadFile if the head is not right or the text cannot be taken apart; faults of single rows are in the table.
    """
    text = text.removeprefix("\ufeff")
    delimiter = _delimiter(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    head: tuple[str, ...] | None = None
    rows: list[CsvRow] = []
    faults: list[Fault] = []
    while True:
        line = reader.line_num + 1
        try:
            cells = next(reader)
        except StopIteration:
            break
        except csv.Error as error:
            # the reader cannot go on from here; what was wrong before is said as well
            raise BadFile([*faults, _unreadable(file, line, error)]) from None
        if not any(cell.strip() for cell in cells):
            continue
        if head is None:
            head = _checked_head([_name(cell) for cell in cells], file, line, columns)
            continue
        if len(rows) >= most_rows:
            what = saying("There are more than {most_rows} rows.", most_rows=most_rows)
            raise BadFile([*faults, Fault(file, line, what, "Cut the file into smaller ones.")])
        row = _row(cells, head, file, line, delimiter)
        if isinstance(row, Fault):
            faults.append(row)
        else:
            rows.append(row)
    if head is None:
        raise BadFile(
            [
                Fault(
                    file,
                    0,
                    "The file is empty.",
                    saying("Its first row names the columns: {listed}.", listed=_listed(columns)),
                )
            ]
        )
    return _with_decimal_mark(file, columns, rows, faults)


def write_csv(columns: Columns, rows: Iterable[Sequence[str]]) -> str:
    """The table as text: UTF-8, commas, one line feed after each row, cells guarded; `read_csv` reads it back."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns.names)
    writer.writerows([guarded(cell) for cell in row] for row in rows)
    return out.getvalue()


def guarded(cell: str) -> str:
    """The cell with an apostrophe before it if a spreadsheet would take it for a formula; `unguarded` undoes it."""
    is_ours = cell[:1] == _GUARD and cell[1:2] != "" and cell[1] in _FORMULA_SIGNS + _GUARD
    return _GUARD + cell if is_ours or (cell and cell[0] in _FORMULA_SIGNS) else cell


def unguarded(cell: str) -> str:
    """The cell as it was before `guarded`; an apostrophe before anything else belongs to the text and stays."""
    is_guarded = cell[:1] == _GUARD and cell[1:2] != "" and cell[1] in _FORMULA_SIGNS + _GUARD
    return cell[1:] if is_guarded else cell


def _delimiter(text: str) -> str:
    line = next((line for line in io.StringIO(text, newline=None) if line.strip(" \t\n;,")), "")
    return max(_DELIMITERS, key=lambda delimiter: len(_cut(line[:MOST_CELL], delimiter)))


def _cut(line: str, delimiter: str) -> tuple[str, ...]:
    return tuple(_name(cell) for cell in line.rstrip("\n").split(delimiter))


def _name(cell: str) -> str:
    return cell.strip().strip('"').strip().casefold().replace(" ", "_")


def _checked_head(names: list[str], file: str, line: int, columns: Columns) -> tuple[str, ...]:
    """The names of the head. Raises BadFile: unknown, double or missing ones, all at once."""
    while names and not names[-1]:
        names.pop()
    faults = []
    for place, name in enumerate(names):
        if name not in columns.names:
            close = difflib.get_close_matches(name[:80], columns.names, n=1, cutoff=0.6)
            instead = (
                saying("Did you mean {close}?", close=close[0])
                if close
                else saying("Columns are {listed}.", listed=_listed(columns))
            )
            what = (
                saying("There is no column {name}.", name=shown(name, 40))
                if name
                else saying("Column {place} has no name.", place=place + 1)
            )
            faults.append(Fault(file, line, what, instead))
        elif name in names[:place]:
            faults.append(
                Fault(
                    file, line, saying("The column {name} stands there twice.", name=name), "Take one of the two away."
                )
            )
    missing = [name for name in columns.names if name in columns.needed and name not in names]
    if missing:
        # a column that is only misspelt was named above already
        what = saying("There is no column {missing}.", missing=", ".join(missing))
        faults.append(
            Fault(
                file,
                line,
                what,
                saying("For {kind} the file needs {needed}.", kind=columns.kind, needed=", ".join(_needed(columns))),
            )
        )
    if faults:
        raise BadFile(faults)
    return tuple(names)


def _row(cells: list[str], head: tuple[str, ...], file: str, line: int, delimiter: str) -> CsvRow | Fault:
    if any(cell.strip() for cell in cells[len(head) :]):
        hint = saying(" A comma inside a number cuts it in two: put the cell in quotes.") if delimiter == "," else ""
        what = saying("The row has {cells} cells, the head {head}.", cells=len(cells), head=len(head))
        return Fault(
            file, line, what, saying("One {names} between two cells.{hint}", names=_NAMES[delimiter], hint=hint)
        )
    for name, cell in zip(head, cells, strict=False):
        if len(cell) > MOST_CELL:
            return Fault(
                file,
                line,
                saying("{name}: The cell has {cell} characters.", name=name, cell=len(cell)),
                "Look for a missing quote.",
            )
    trimmed = (unguarded(cell.strip()) for cell in cells)
    return CsvRow(line, {name: cell for name, cell in zip(head, trimmed, strict=False) if cell})


def _with_decimal_mark(file: str, columns: Columns, rows: list[CsvRow], faults: list[Fault]) -> CsvTable:
    numbers = [(row.line, row[name]) for row in rows for name in columns.numbers if row[name]]
    seen: dict[str, tuple[int, str]] = {}
    for line, text in numbers:
        mark = decimal_mark(text)
        if mark is not None:
            seen.setdefault(mark, (line, text))
    if len(seen) == 2:
        (first, one), (second, two) = sorted(seen.values())
        what = saying(
            "The decimal mark is not the same everywhere: {one} in line {first}, {two} here.",
            one=shown(one, 30),
            first=first,
            two=shown(two, 30),
        )
        raise BadFile([*faults, Fault(file, second, what, "Use a point or a comma in the whole file.")])
    mark = next(iter(seen), None)
    unsure = sorted({line for line, text in numbers if is_grouped_by_mark(text)}) if mark is None else []
    decimal_comma = None if mark is None else mark == ","
    return CsvTable(file, columns, tuple(rows), decimal_comma, tuple(faults), tuple(unsure))


def _unreadable(file: str, line: int, error: csv.Error) -> Fault:
    text = str(error)
    if "field larger" in text:
        return Fault(file, line, "A cell is larger than any text can be.", "Look for a missing quote.")
    if "end of data" in text:
        return Fault(file, line, "A quote that begins here never ends.", "Close it, or take it away.")
    return Fault(file, line, "The quotes in this row do not fit.", 'Write a quote inside a quoted cell twice: "".')


def _listed(columns: Columns) -> str:
    return ", ".join(columns.names)


def _needed(columns: Columns) -> list[str]:
    return [name for name in columns.names if name in columns.needed]


def _megabytes(count: int) -> str:
    return f"{count / 1_000_000:g} MB"
