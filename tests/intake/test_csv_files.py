"""CSV is read in every common dress; each fault has its line and what to write."""

from __future__ import annotations

import contextlib
import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.errors import BadFile, Fault
from fleetcare.intake.csv_files import Columns, CsvTable, decoded, guarded, head_of, read_csv, unguarded, write_csv

COLUMNS = Columns(
    "readings", ("vehicle", "date", "value", "note"), frozenset({"vehicle", "date", "value"}), frozenset({"value"})
)


def read(text: str, **limits: int) -> CsvTable:
    return read_csv(text, "readings.csv", COLUMNS, **limits)


def faults(text: str, **limits: int) -> tuple[Fault, ...]:
    with pytest.raises(BadFile) as caught:
        read(text, **limits)
    return caught.value.faults


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_delimiter_line_end_and_byte_order_mark_do_not_matter(delimiter: str, end: str, mark: str) -> None:
    rows = [
        ["Date", "vehicle", " VALUE "],
        ["2026-03-12", "AN", "83\u2009365"],
        ["", "", ""],
        ["2026-04-14", "AN", "1"],
    ]
    table = read(mark + end.join(delimiter.join(row) for row in rows) + end)
    assert [(row.line, row["vehicle"], row["value"], row["note"]) for row in table.rows] == [
        (2, "AN", "83\u2009365", ""),
        (4, "AN", "1", ""),
    ]


def test_a_line_is_counted_as_an_editor_counts_it() -> None:
    """Quoted cells may hold line ends: the row after one still has its own line."""
    table = read('vehicle,date,value,note\nAN,2026-03-12,1,"two\nlines"\nAN,2026-03-13,2,x\n')
    assert [row.line for row in table.rows] == [2, 4]


def test_an_unknown_column_is_named_with_the_nearest() -> None:
    found = faults("vehicle,date,valeu\nAN,2026-03-12,1\n")
    assert found[0].line == 1
    assert found[0].what == "There is no column “valeu”."
    assert found[0].instead == "Did you mean value?"


def test_a_double_and_a_missing_column_are_both_said() -> None:
    whats = [fault.what for fault in faults("vehicle,vehicle,value\nAN,AN,1\n")]
    assert whats == ["The column vehicle stands there twice.", "There is no column date."]


def test_a_comma_inside_a_number_is_found_out() -> None:
    (fault,) = read("vehicle,date,value\nAN,2026-03-12,84,210\nAN,2026-03-13,1\n").faults
    assert fault.line == 2
    assert "quotes" in fault.instead


def test_an_oversized_cell_is_caught_and_its_line_named() -> None:
    """The csv module gives up at csv.field_size_limit() characters, 131072 unless somebody changed it."""
    found = faults("vehicle,date,value,note\nAN,2026-03-12,1,ok\nAN,2026-03-12,1," + "x" * (csv.field_size_limit() + 1))
    assert [(fault.line, fault.file) for fault in found] == [(3, "readings.csv")]
    (long,) = read("vehicle,date,value,note\nAN,2026-03-12,1," + "x" * 30_000).faults
    assert long.line == 2


def test_a_quote_that_never_ends_is_named_where_it_begins() -> None:
    (fault,) = faults('vehicle,date,value,note\nAN,2026-03-12,1,ok\nAN,2026-03-12,1,"open\nAN,2026-03-13,2,x\n')
    assert fault.line == 3
    assert "never ends" in fault.what


def test_limits_are_kept() -> None:
    text = "vehicle,date,value\n" + "AN,2026-03-12,1\n" * 5
    assert len(read(text, most_rows=5).rows) == 5
    assert faults(text, most_rows=4)[0].line == 6
    with pytest.raises(BadFile, match="larger than 1 MB"):
        decoded(b"x" * 1_000_001, "readings.csv", most_bytes=1_000_000)


def test_the_decimal_mark_is_that_of_the_file() -> None:
    head = "vehicle;date;value\n"
    assert read(head + "AN;2026-03-12;84210,5\nAN;2026-03-13;84.211\n").decimal_comma is True
    assert read(head + "AN;2026-03-12;84210.5\n").decimal_comma is False
    undecided = read(head + "AN;2026-03-12;84,210\nAN;2026-03-13;84211\n")
    assert (undecided.decimal_comma, undecided.unsure) == (None, (2,))
    (mixed,) = faults(head + "AN;2026-03-12;84210,5\nAN;2026-03-13;84211.5\n")
    assert (mixed.line, "line 2" in mixed.what) == (3, True)


def test_what_is_not_text_is_refused_with_its_line() -> None:
    for raw, line in ((b"vehicle\n\xff\xfe\xfa", 2), ("vehicle\nM\u00fcller".encode("latin-1"), 2), (b"a\nb\nc\0", 3)):
        with pytest.raises(BadFile) as caught:
            decoded(raw, "readings.csv")
        assert caught.value.faults[0].line == line
    assert decoded("vehicle\n".encode("utf-16"), "readings.csv") == "vehicle\n"


@pytest.mark.parametrize("text", ["", "\n\n", ",,,\n"])
def test_an_empty_file_is_said_to_be_empty(text: str) -> None:
    assert faults(text)[0].what == "The file is empty."
    assert head_of(text) in ((), ("",))


@given(st.text(max_size=12) | st.text(alphabet="'=+-@x", max_size=4))
def test_a_guard_is_taken_off_again(cell: str) -> None:
    """OWASP, CSV Injection: no cell that is written begins with = + - @."""
    assert unguarded(guarded(cell)) == cell
    assert guarded(cell)[:1] not in ("=", "+", "-", "@", "＝", "＋", "－", "＠")


CELLS = st.text(alphabet=st.characters(exclude_categories=["Cc", "Cs", "Zs", "Zl", "Zp"]), max_size=12)


@given(st.lists(st.tuples(CELLS, CELLS, CELLS, CELLS).filter(any), max_size=8))
def test_a_table_that_was_written_is_read_back(rows: list[tuple[str, str, str, str]]) -> None:
    columns = Columns("readings", COLUMNS.names, COLUMNS.needed)
    text = write_csv(columns, rows)
    table = read_csv(text, "x.csv", columns)
    assert [tuple(row[name] for name in columns.names) for row in table.rows] == rows
    # a second reader agrees on the shape: Python's csv module in its own default dialect
    assert all(len(row) == 4 for row in csv.reader(io.StringIO(text)))


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused(text: str) -> None:
    with contextlib.suppress(BadFile):
        assert read(text).rows is not None
