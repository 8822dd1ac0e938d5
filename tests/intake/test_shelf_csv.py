"""shelf.csv: read strictly, written so that it reads back the same."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.book.shopping import ShelfItem
from fleetcare.errors import BadFile
from fleetcare.intake.garage_files import read_texts
from fleetcare.intake.known import KnownNames
from fleetcare.intake.shelf_csv import shelf_as_text
from fleetcare.settings.toml_text import TomlText
from tests.intake.garage_texts import ENTERED_AT, ZONES

HEAD = "item,amount,unit,pack,note\n"


def come_in(text: str) -> tuple[ShelfItem, ...]:
    return read_texts(
        {"shelf.csv": text}, known=KnownNames(), entered_at=ENTERED_AT, read_toml=TomlText, zones=ZONES
    ).shelf


def test_a_shelf_is_read() -> None:
    assert come_in(HEAD + "75W-140 GL-5,1.9,L,1.893,top left\nLint-free wipes,40,,,\n") == (
        ShelfItem("75W-140 GL-5", Decimal("1.9"), "L", Decimal("1.893"), "top left"),
        ShelfItem("Lint-free wipes", Decimal(40)),
    )
    assert come_in("item;amount;unit\nCoolant;2,5;L\n") == (ShelfItem("Coolant", Decimal("2.5"), "L"),)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (",3,L,,", "is empty"),
        ("Oil,some,L,,", "not a number"),
        ("Oil,-3,L,,", ""),
        ("Oil,3,L,0,", "pack of 0"),
        ("Oil,3,L,,\noil,4,L,,", "stands on the shelf already"),
    ],
)
def test_what_cannot_be_is_refused_with_its_line(row: str, said: str) -> None:
    with pytest.raises(BadFile) as raised:
        come_in(HEAD + "Wipes,1,,,\n" + row + "\n")
    (fault,) = raised.value.faults
    assert fault.line == 3 + row.count("\n")
    assert said in fault.what


figures = st.decimals(min_value=0, max_value=99999, places=3)
items = st.builds(
    ShelfItem,
    st.from_regex(r"[A-Za-z0-9][A-Za-z0-9 ,;\"'=+-]{0,20}[A-Za-z0-9]", fullmatch=True),
    figures,
    st.sampled_from(["L", "mL", "pieces", "g"]),
    st.none() | figures.filter(lambda figure: figure > 0),
)


@given(st.lists(items, min_size=1, max_size=6, unique_by=lambda item: item.key))
def test_what_is_written_reads_back_the_same(shelf: list[ShelfItem]) -> None:
    assert come_in(shelf_as_text(shelf)) == tuple(sorted(shelf, key=lambda item: item.key))


def test_an_empty_shelf_writes_no_file() -> None:
    assert shelf_as_text(()) == ""
