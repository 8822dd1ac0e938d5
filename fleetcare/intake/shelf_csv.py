"""What lies on the shelf as a table: shelf.csv in, shelf.csv out."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from fleetcare.book.shopping import ShelfItem
from fleetcare.errors import BadInput
from fleetcare.intake.csv_files import Columns, CsvTable, write_csv
from fleetcare.intake.csv_values import Found, Place
from fleetcare.intake.numbers import parse_decimal, plain
from fleetcare.intake.text import clean_text

SHELF = Columns(
    "shelf", ("item", "amount", "unit", "pack", "note"), frozenset({"item", "amount"}), frozenset({"amount", "pack"})
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
            what = f"{item.what} stands on the shelf already."
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


def _figure(text: str, table: CsvTable) -> Decimal:
    return parse_decimal(text, decimal_comma=table.decimal_comma is True)
