"""What can be done where: every command and every file has its page, or the reason why it has none."""

from __future__ import annotations

import re

import pytest

from fleetcare.intake import writing
from fleetcare.settings import places
from tests.house.guide import code_spans, first_cells, section
from tests.house.test_docs import commands_of_the_program, guide

ALONE = re.compile(r"by (?:command|file) alone(?:: | as |, as ).{4,}")
"""What stands in the place of a page: that there is none, and why."""
SHIPPED_ALONE = {places.SHIPPED_GEAR_OILS, places.SHIPPED_BOOK, places.SHIPPED_JOBS}
"""Nothing of a home is laid over the first; the other two are written otherwise in a home."""


def tables() -> tuple[dict[str, str], dict[str, str]]:
    """What stands in the last cell, by command and by file."""
    text = guide("DEVELOPERS.md").partition("<!-- places:begin -->")[2].partition("<!-- places:end -->")[0]
    commands, _, files = text.partition("| file |")
    return rows(commands), rows(files)


def rows(text: str) -> dict[str, str]:
    """First cell to last cell, of the rows that begin with code."""
    lines = [[cell.strip() for cell in line.strip().strip("|").split("|")] for line in text.splitlines()]
    return {cells[0].strip("`"): cells[-1] for cells in lines if cells[0].startswith("`")}


def missing(there: set[str], told: dict[str, str]) -> list[str]:
    """What has no row, and what has one and is not there."""
    return sorted(there ^ set(told))


def troubles(told: dict[str, str], addresses: set[str]) -> list[str]:
    """Rows that name an address nobody answers, or neither a page nor a reason."""
    found = []
    for name, cell in told.items():
        named = [span for span in code_spans(cell) if span.startswith("/")]
        found += [f"{name}: {span}" for span in named if span not in addresses]
        if not named and not ALONE.match(cell):
            found.append(f"{name}: neither a page nor a reason")
    return found


def addresses() -> set[str]:
    """Every address of the table of who may do what; `tests/web/test_who_may.py` holds that to the routes."""
    doors = section(guide("DEVELOPERS.md"), "Who may do what")
    return set(re.findall(r"^\| (?:GET|POST) \| `([^`]+)` \|", doors, re.MULTILINE))


def files_of_a_garage() -> set[str]:
    """Files that come in and go out, and those of a home."""
    in_and_out = {value for name, value in vars(writing).items() if name.endswith("_FILE")}
    shipped = {value for name, value in vars(places).items() if name.startswith("SHIPPED_")} - SHIPPED_ALONE
    return in_and_out | shipped | {places.OWN_JOBS, places.OWN_BOOK.name, places.SETTINGS_FILE}


def test_every_command_has_its_page_or_the_reason_why_not() -> None:
    known = commands_of_the_program()
    single = {name for name in known if name and not any(other.startswith(f"{name} ") for other in known)}
    commands, _ = tables()
    assert missing(single, commands) == []
    assert troubles(commands, addresses()) == []


def test_every_file_of_a_garage_has_its_page_or_the_reason_why_not() -> None:
    _, files = tables()
    assert missing(files_of_a_garage(), files) == []
    assert troubles(files, addresses()) == []


def test_each_command_and_file_stands_there_once() -> None:
    cells = first_cells(section(guide("DEVELOPERS.md"), "What can be done where"))
    named = [cell.strip("`") for cell in cells]
    assert len(named) == len(set(named)) > 0


@pytest.mark.parametrize(
    ("cell", "told"),
    [
        ("`/look`", []),
        ("by command alone: it begins a server", []),
        ("by file alone, as jobs", []),
        ("by command alone", ["x: neither a page nor a reason"]),
        ("", ["x: neither a page nor a reason"]),
        ("`/loook`", ["x: /loook"]),
        ("by command alone: as `/loook`", ["x: /loook"]),
    ],
)
def test_a_row_that_says_nothing_true_is_noticed(cell: str, told: list[str]) -> None:
    assert troubles({"x": cell}, {"/look"}) == told


def test_a_command_without_a_row_and_a_row_without_a_command_are_noticed() -> None:
    assert missing({"look", "due"}, rows("| `look` | `/look` |\n| `scrap` | `/scrap` |")) == ["due", "scrap"]
