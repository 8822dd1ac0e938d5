"""What lies on the shelf as a table: shelf.csv in, shelf.csv out."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from fleetcare.book.shopping import ShelfItem, ToBuy
from fleetcare.errors import BadInput
from fleetcare.intake.csv_files import Columns, CsvTable, write_csv
from fleetcare.intake.csv_rows import Found, Place
from fleetcare.intake.numbers import parse_decimal, plain
from fleetcare.intake.text import clean_text
from fleetcare.language import saying

SHELF = Columns(
    "shelf", ("item", "amount", "unit", "pack", "note"), frozenset({"item", "amount"}), frozenset({"amount", "pack"})
)

SHOPPING = Columns(
    "shopping",
    ("item", "needed", "unit", "on_shelf", "buy", "packs", "pack", "by", "for"),
    frozenset({"item"}),
    frozenset({"needed", "on_shelf", "buy", "packs", "pack"}),
)


def shelf_of(tables: Iterable[CsvTable], faults_and_warnings: Found) -> tuple[ShelfItem, ...]:
    """The items of these tables; what is wrong with a row goes into `faults_and_warnings`, two of one name too."""
    found: dict[str, ShelfItem] = {}
    for table, row in ((each, row) for each in tables for row in each.rows):
        place = Place(table.file, row.line)
        try:
            item = ShelfItem(
                clean_text(row["item"], required=True),
                _figure(row["amount"], table),
                clean_text(row["unit"]) or "pieces",
                _figure(row["pack"], table) if row["pack"] else None,
                clean_text(row["note"], field="note"),
            )
        except BadInput as bad:
            faults_and_warnings.faults.append(place.fault(bad.what, bad.remedy))
            continue
        if item.key in found:
            what = saying("{what} stands on the shelf already.", what=item.what)
            faults_and_warnings.faults.append(place.fault(what, "Add the two up in one row."))
            continue
        found[item.key] = item
    return tuple(found.values())


def shelf_as_text(items: Iterable[ShelfItem]) -> str:
    """The table, by name; empty text if nothing lies there."""
    rows = sorted(items, key=lambda item: item.key)
    if not rows:
        return ""
    return write_csv(
        SHELF,
        ((i.what, plain(i.amount), i.unit, "" if i.pack is None else plain(i.pack), i.note) for i in rows),
    )


def shopping_as_text(lines: Iterable[ToBuy]) -> str:
    """A shopping list as a table for a spreadsheet; an amount that is not known is an empty cell."""
    return write_csv(
        SHOPPING,
        (
            (
                line.what,
                _cell(line.needed),
                line.unit,
                _cell(line.on_shelf),
                _cell(line.buy),
                "" if line.packs is None else str(line.packs),
                _cell(line.pack),
                line.by.isoformat(),
                "; ".join(f"{mark} {service}" for mark, service in line.used_for),
            )
            for line in lines
        ),
    )


def _cell(figure: Decimal | None) -> str:
    return "" if figure is None else plain(figure)


def _figure(text: str, table: CsvTable) -> Decimal:
    return parse_decimal(text, decimal_comma=table.decimal_comma is True)
