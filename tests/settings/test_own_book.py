"""One row of a garage's own book is changed; everything else in it stays as it was."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from fleetcare.errors import BadInput, BadSettings, NotFound
from fleetcare.quantities import DistanceUnit
from fleetcare.settings.book_files import GivenRow, laid_over, load_book, parse_rows
from fleetcare.settings.book_writing import write_own_rows
from fleetcare.settings.own_book import Figures, RowChange, rows_in, with_change, without_change, written_beside
from fleetcare.settings.places import SHIPPED_BOOK, shipped_config, shipped_demo

DUTIES = frozenset({"daily", "towing", "track"})
SHIPPED = load_book(shipped_config() / SHIPPED_BOOK, duties=DUTIES)
DEMO = parse_rows((shipped_demo() / "book.toml").read_text(encoding="utf-8"), "book.toml")
OWN = """
[rows.engine-oil]
reason = "short trips"
[rows.engine-oil.repeat]
months = 6
[rows.engine-oil.repeat.by_duty]
daily = "no wear"

[rows.winch-rope]
title = "Winch rope"
short = "winch rope"
components = ["body"]
[rows.winch-rope.repeat]
months = 24
[[rows.winch-rope.after]]
event = "off-road day"
"""


def changed(rows: tuple[GivenRow, ...], key: str, reason: str = "because", **figures: object) -> tuple[GivenRow, ...]:
    change = RowChange(reason, DistanceUnit.MI, **figures)  # type: ignore[arg-type]
    return with_change(rows, key, change, SHIPPED, duties=DUTIES)


def text(rows: tuple[GivenRow, ...]) -> str:
    return write_own_rows(rows)


def test_a_figure_is_changed_with_its_reason_and_the_book_says_so() -> None:
    rows = changed((), "rear-axle-fluid", "long grades", distance=Decimal(40000), by_duty={"towing": Decimal(20000)})
    row = laid_over(SHIPPED, rows).rows["rear-axle-fluid"]
    assert row.rule.repeat.distance is not None
    assert row.rule.repeat.distance.mi == 40000
    assert {change.field for change in row.overrides} == {"repeat distance", "repeat distance under towing"}
    assert {change.reason for change in row.overrides} == {"long grades"}
    assert row.rule.repeat.months == SHIPPED.rows["rear-axle-fluid"].rule.repeat.months


def test_figures_of_the_book_again_take_the_row_out_of_the_file() -> None:
    rows = changed((), "rear-axle-fluid", distance=Decimal(40000))
    assert changed(rows, "rear-axle-fluid") == ()
    assert without_change(rows, "rear-axle-fluid", SHIPPED) == ()


def test_other_rows_and_other_fields_stay_as_they_are() -> None:
    own = parse_rows(OWN, "own")
    rows = changed(own, "engine-oil", months=9)
    by_key = {row.key: row for row in rows}
    assert text((by_key["winch-rope"],)) == text(tuple(row for row in own if row.key == "winch-rope"))
    oil = laid_over(SHIPPED, rows).rows["engine-oil"]
    assert oil.rule.repeat.months == 9
    daily = next(figure for figure in oil.rule.repeat.by_duty if figure.duty == "daily")
    assert daily.distance is None, "no wear stays no wear, although the form has no word for it"


@pytest.mark.parametrize("row", DEMO, ids=lambda row: row.key)
def test_the_same_figures_again_change_nothing_but_the_reason(row: GivenRow) -> None:
    """Every row of the demo garage, given back as the form shows it."""
    limits = laid_over(SHIPPED, DEMO).rows[row.key].rule.repeat
    base = SHIPPED.rows[row.key].rule.repeat if row.key in SHIPPED.rows else None
    shipped = {figure.duty: figure.distance for figure in base.by_duty} if base else {}
    before = laid_over(SHIPPED, DEMO).rows[row.key]
    again = with_change(
        DEMO,
        row.key,
        RowChange(
            row.given.reason or "because",
            DistanceUnit.MI,
            distance=None
            if limits.distance is None or (base and base.distance == limits.distance)
            else limits.distance.mi,
            months=None if base and base.months == limits.months else limits.months,
            by_duty={
                figure.duty: figure.distance.mi
                for figure in limits.by_duty
                if figure.distance is not None and shipped.get(figure.duty) != figure.distance
            },
        ),
        SHIPPED,
        duties=DUTIES,
    )
    assert laid_over(SHIPPED, again).rows[row.key] == before


def test_every_part_of_a_row_can_be_changed() -> None:
    rows = changed(
        (),
        "rear-axle-fluid",
        weeks=200,
        hours=Decimal(900),
        first=Figures(distance=Decimal(500), months=3),
        modifier=Figures(distance=Decimal(15000)),
        after=({"event": "immersion", "days": 3}, {"event": "gears renewed", "mi": Decimal(500)}),
        waived={"towing": ("75W-140 GL-5",)},
    )
    row = laid_over(SHIPPED, parse_rows(text(rows), "own", duties=DUTIES)).rows["rear-axle-fluid"]
    repeat, first = row.rule.repeat, row.rule.first
    assert (repeat.weeks, repeat.hours) == (200, Decimal(900))
    assert first is not None
    assert first.distance is not None
    assert first.distance.mi == 500
    assert first.months == 3
    assert repeat.with_modifier is not None
    assert repeat.with_modifier.distance is not None
    assert repeat.with_modifier.distance.mi == 15000
    assert [(each.event, each.days) for each in row.rule.after] == [("immersion", 3), ("gears renewed", None)]
    towing = next(figure for figure in repeat.by_duty if figure.duty == "towing")
    book = next(f for f in SHIPPED.rows["rear-axle-fluid"].rule.repeat.by_duty if f.duty == "towing")
    assert towing.distance == book.distance, "the figure stays the book’s own"
    assert towing.waived_by == ("75W-140 GL-5",)
    assert changed(rows, "rear-axle-fluid", waived={"towing": book.waived_by}) == ()


def test_a_duty_can_be_said_not_to_count() -> None:
    row = laid_over(SHIPPED, changed((), "rear-axle-fluid", by_duty={"daily": "no wear"})).rows["rear-axle-fluid"]
    assert next(figure for figure in row.rule.repeat.by_duty if figure.duty == "daily").distance is None


def test_a_row_of_its_own_is_changed_and_cannot_go_back() -> None:
    own = parse_rows(OWN, "own")
    rope = laid_over(SHIPPED, changed(own, "winch-rope", months=12)).rows["winch-rope"]
    assert rope.rule.repeat.months == 12
    assert rope.rule.after
    with pytest.raises(BadInput, match="nothing to go back to"):
        without_change(own, "winch-rope", SHIPPED)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(NotFound, match="rear-axle-fluid"):
        changed((), "rear-axle-flood", months=3)
    with pytest.raises(NotFound):
        without_change((), "rear-axle-fluid", SHIPPED)
    with pytest.raises(BadInput):
        changed((), "rear-axle-fluid", by_duty={"flying": Decimal(3)})
    with pytest.raises(BadInput):
        changed((), "rear-axle-fluid", months=100_000)


def test_the_file_is_written_beside_and_a_folder_that_takes_none_is_said(tmp_path: Path) -> None:
    own = tmp_path / "config" / "interval_book.toml"
    rows = changed((), "rear-axle-fluid", distance=Decimal(40000))
    beside = written_beside(own, rows)
    assert not own.exists()
    beside.replace(own)
    assert text(rows_in(own)) == text(rows)
    blocked = tmp_path / "file"
    blocked.write_text("")
    with pytest.raises(BadSettings, match="cannot be written"):
        written_beside(blocked / "interval_book.toml", rows)
    assert rows_in(tmp_path / "none.toml") == ()
