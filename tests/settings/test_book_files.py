"""The interval book is the shipped rows with a garage's own laid over them, and every change is kept in words."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from fleetcare.book.printed_pairs import pair_agrees, pair_doubts
from fleetcare.book.rows import AfterEvent, DutyFigure, IntervalBook, Mixing, Override, Status
from fleetcare.errors import BadFile, Fault
from fleetcare.fleet.vehicle import VehicleKind
from fleetcare.quantities import DistanceUnit, PrintedDistance
from fleetcare.settings.book_files import (
    book_with,
    laid_over,
    load_book,
    merged_rows,
    parse_rows,
)
from fleetcare.settings.book_writing import write_own_rows
from fleetcare.settings.duty_files import load_duties
from fleetcare.settings.places import SHIPPED_BOOK, SHIPPED_DUTIES, shipped_config

SHIPPED = """\
[rows.axle-fluid]
title = "Rear axle fluid, cover reseal"
short = "rear axle fluid"
components = ["rear axle"]
vehicles = ["light truck", "van"]
action = "drain, look at the magnet, reseal, refill"
source = "a service manual, p. 3"
status = "published source"
give_days = 21
mixing = "strict"
[rows.axle-fluid.repeat]
distance = { km = 80000, mi = 50000, primary = "mi" }
months = 60
hours = 500.5
[rows.axle-fluid.repeat.by_duty]
towing = { mi = 25000 }
daily = "no wear"
track = { mi = 2000, waived_by = ["75W-140 synthetic"] }
[rows.axle-fluid.first]
distance = { mi = 500 }
[[rows.axle-fluid.after]]
event = "immersion"
days = 5
[[rows.axle-fluid.after]]
event = "gears renewed"
"""
BOOK = laid_over(IntervalBook({}), parse_rows(SHIPPED, "interval_book.toml"), shipped=True)
NEW = '[rows.x]\ntitle = "X"\nshort = "x"\ncomponents = ["engine"]\n'


def faults(text: str, duties: tuple[str, ...] = ()) -> list[Fault]:
    with pytest.raises(BadFile) as caught:
        book_with(BOOK, text, "book.toml", duties=duties)
    return list(caught.value.faults)


def test_a_row_is_read_whole() -> None:
    row = BOOK.rows["axle-fluid"]
    assert row.vehicles == (VehicleKind.LIGHT_TRUCK, VehicleKind.VAN)
    assert row.status is Status.PUBLISHED
    assert row.give_days == 21
    rule = row.rule
    assert rule.mixing is Mixing.STRICT
    assert rule.repeat.distance == PrintedDistance(DistanceUnit.MI, km=Decimal(80000), mi=Decimal(50000))
    assert (rule.repeat.months, rule.repeat.hours) == (60, Decimal("500.5"))
    assert rule.repeat.by_duty == (
        DutyFigure("daily", None),
        DutyFigure("towing", PrintedDistance.of(25000, DistanceUnit.MI)),
        DutyFigure("track", PrintedDistance.of(2000, DistanceUnit.MI), ("75W-140 synthetic",)),
    )
    assert rule.first is not None
    assert rule.first.distance == PrintedDistance.of(500, DistanceUnit.MI)
    assert rule.after == (AfterEvent("immersion", days=5), AfterEvent("gears renewed"))
    assert row.overrides == ()


def test_a_garage_changes_only_the_fields_it_names_and_each_change_is_kept_in_words() -> None:
    own = """
[rows.axle-fluid]
reason = "clean magnet three times"
title = "Rear axle fluid"
[rows.axle-fluid.repeat]
distance = { mi = 60000 }
months = 60
[rows.axle-fluid.repeat.by_duty]
towing = { mi = 30000 }
daily = { mi = 100000 }
"""
    row = book_with(BOOK, own, "book.toml").rows["axle-fluid"]
    was, reason = BOOK.rows["axle-fluid"], "clean magnet three times"
    assert row.overrides == (
        Override("title", "Rear axle fluid, cover reseal", "Rear axle fluid", reason),
        Override("repeat distance", "50\u2009000 mi (printed beside it: 80\u2009000 km)", "60\u2009000 mi", reason),
        Override("repeat distance under daily", "no wear", "100\u2009000 mi", reason),
        Override("repeat distance under towing", "25\u2009000 mi", "30\u2009000 mi", reason),
    )
    assert row.rule.repeat.months == was.rule.repeat.months
    assert row.rule.repeat.by_duty[2] == was.rule.repeat.by_duty[2]
    assert (row.rule.first, row.rule.after, row.source) == (was.rule.first, was.rule.after, was.source)
    assert row.status is Status.GARAGE


def test_a_change_that_leaves_the_limits_alone_leaves_the_status_alone() -> None:
    own = '[rows.axle-fluid]\nreason = "our words"\ntitle = "Fluid"\nproposed = false\nlook_first = false\n'
    row = book_with(BOOK, own, "book.toml").rows["axle-fluid"]
    assert row.status is Status.PUBLISHED
    assert [change.field for change in row.overrides] == ["title", "proposed", "look first"]
    assert (row.proposed, row.look_first) == (False, False)


def test_a_garage_can_add_a_row() -> None:
    row = book_with(BOOK, NEW + "[rows.x.repeat]\nweeks = 6\n", "book.toml").rows["x"]
    assert (row.status, row.source, row.proposed, row.overrides) == (Status.GARAGE, "this garage", True, ())
    assert row.rule.repeat.weeks == 6


@pytest.mark.parametrize(
    ("text", "line", "what", "instead"),
    [
        (NEW, 1, "Row x limits nothing.", "Give distance, months, weeks, hours or an event."),
        (NEW + '[rows.x.repeat.by_duty]\ndaily = "no wear"\n', 1, "Row x limits nothing.", "an event"),
        ('\n[rows.x]\ntitle = "X"\n', 2, "Row x is new and has no short and no components.", "Add what is missing."),
        ("[rows.axle-fluid.repeat]\nmonths = 3\n", 1, "Row axle-fluid changes the shipped row", "Add reason"),
        (NEW + "[rows.x.repeat]\nmonth = 3\n", 6, "There is no key “month” here.", "Did you mean months?"),
        (NEW + "[rows.x.repeat]\nmonths = 0\n", 6, "months is “0”.", "more than 0"),
        (NEW + "[rows.x.repeat]\nmonths = 1.5\n", 6, "months is “1.5”.", "whole number"),
        (NEW + "[rows.x.repeat]\ndistance = 80000\n", 6, "distance is “80000”.", "table"),
        (NEW + "[rows.x.repeat]\ndistance = { }\n", 6, "A distance needs a figure.", "km = 80000"),
        (NEW + "[rows.x.repeat]\ndistance = { km = 1, mi = 1 }\n", 6, "A pair of figures needs its primary", "primary"),
        (NEW + '[rows.x.repeat]\ndistance = { km = 1, primary = "mi" }\n', 6, "The primary figure (mi)", "Add mi"),
        (NEW + "[rows.x.repeat]\ndistance = { km = -1 }\n", 6, "km is “-1”.", "more than 0"),
        (NEW + "[rows.x.repeat]\ndistance = { km = inf }\n", 6, "km is “Infinity”.", "plain number"),
        (NEW + '[rows.x.repeat.by_duty]\ndaily = "none"\n', 6, "A duty cannot be “none”.", "no wear"),
        (NEW + "[rows.x.repeat.by_duty]\ndaily = { }\n", 6, "The duty has no figure.", "no wear"),
        (NEW + "[[rows.x.after]]\ndays = 3\n", 5, "The key event is missing.", "Add event"),
        (NEW + 'status = "sure"\n', 5, "status cannot be “sure”.", "published source"),
        (NEW + 'vehicles = ["lorry"]\n', 5, "vehicles cannot be “lorry”.", "There are car"),
        (NEW + 'action = "a\\u0007b"\n', 5, "The text holds a line break", "one line"),
        ('[rows.x]\nshort = "' + "x" * 25 + '"\n', 2, "short is “", "at most 24"),
        ('[rows.x]\nshort = "Winch"\n', 1, "The short name “Winch” begins with a capital.", "winch"),
        ("[rows.X]\n", 1, "A row cannot be called “X”.", "lower case"),
        ("[row.x]\n", 1, "There is no table “row” in an interval book.", "Did you mean rows?"),
        ("rows = 3\n", 1, "rows is no table.", "[rows.some-key]"),
    ],
)
def test_what_is_wrong_with_a_row_is_said_on_its_line(text: str, line: int, what: str, instead: str) -> None:
    (fault,) = faults(text)
    assert (fault.file, fault.line) == ("book.toml", line)
    assert fault.what.startswith(what)
    assert instead in fault.instead


def test_every_fault_of_a_file_is_said_at_once() -> None:
    text = NEW + "[rows.x.repeat]\nmonth = 3\n[rows.y]\ntitel = 1\n[rows.Z]\n"
    assert [fault.line for fault in faults(text)] == [6, 8, 9]


def test_a_duty_that_is_not_there_is_named_with_the_nearest() -> None:
    (fault,) = faults(NEW + "[rows.x.repeat.by_duty]\ntowng = { mi = 1 }\n", duties=("daily", "towing"))
    assert (fault.line, fault.instead) == (6, "Did you mean towing?")


def test_a_shipped_row_says_where_it_is_from() -> None:
    with pytest.raises(BadFile, match="no source and no status"):
        laid_over(IntervalBook({}), parse_rows(NEW + "[rows.x.repeat]\nweeks = 6\n", "x"), shipped=True)


def test_own_rows_that_were_written_are_read_back() -> None:
    for text in (SHIPPED, NEW + "after = []\nproposed = false\n[rows.x.repeat]\nhours = 12.50\n", ""):
        rows = parse_rows(text, "a")
        written = write_own_rows(rows)
        again = parse_rows(written, "a")
        assert [(row.key, row.given) for row in again] == [(row.key, row.given) for row in rows]
        assert write_own_rows(again) == written


def test_rows_that_come_in_take_the_place_of_those_with_the_same_key() -> None:
    there = parse_rows(NEW + "[rows.x.repeat]\nweeks = 6\n" + NEW.replace("rows.x", "rows.y"), "a")
    coming = parse_rows(NEW + "[rows.x.repeat]\nweeks = 7\n", "b")
    merged = merged_rows(there, coming)
    assert [(row.key, row.file) for row in merged] == [("x", "b"), ("y", "a")]


def test_the_shipped_book_is_whole_and_comes_back_from_its_own_rows() -> None:
    duties = load_duties(shipped_config() / SHIPPED_DUTIES)
    path = shipped_config() / SHIPPED_BOOK
    book = load_book(path, duties=duties)
    assert len(book.rows) > 50
    rows = parse_rows(path.read_text(encoding="utf-8"), "x")
    assert laid_over(IntervalBook({}), parse_rows(write_own_rows(rows), "x"), shipped=True) == book


def test_a_book_is_read_from_the_disk_and_a_missing_own_one_is_none(tmp_path: Path) -> None:
    shipped = tmp_path / "interval_book.toml"
    shipped.write_text(SHIPPED, encoding="utf-8")
    assert load_book(shipped, tmp_path / "gone.toml") == BOOK
    with pytest.raises(BadFile, match="cannot be read"):
        load_book(tmp_path / "gone.toml")
    shipped.write_bytes(b"[rows]\n# M\xfcller\n")
    with pytest.raises(BadFile, match="line 2: This is not UTF-8"):
        load_book(shipped)


@pytest.mark.parametrize(
    ("km", "mi", "agrees"),
    [
        # conversions with 1 mi = 1.609344 km, NIST SP 811, Appendix B.8
        ("80000", "50000", True),  # 80 467
        ("4800", "3000", True),  # 4 828
        ("12000", "7500", True),  # 12 070
        ("24000", "15000", True),  # 24 140
        ("160", "100", True),  # 160.9
        ("160.9", "100", True),
        ("100000", "62000", True),  # 99 779
        ("6000", "3750", True),  # 6 035
        ("19308", "12000", True),  # from 19 308 km: 11 997
        ("120000", "80000", False),  # 128 748
        ("12500", "7500", False),  # 12 070, 3.6 % off
        ("100000", "60000", False),  # 96 561, 3.6 % off
        ("166000", "100000", False),  # 160 934
        ("15000", "10000", False),  # 16 093
        ("50000", "80000", False),  # the two exchanged
        ("8000", "50000", False),  # a nought lost
    ],
)
def test_a_printed_pair_agrees_as_far_as_its_digits_show(km: str, mi: str, agrees: bool) -> None:
    for primary in DistanceUnit:
        assert pair_agrees(PrintedDistance(primary, km=Decimal(km), mi=Decimal(mi))) is agrees


def test_a_pair_that_does_not_agree_is_a_warning_that_says_which_figure_counts() -> None:
    text = NEW + '[rows.x.repeat]\ndistance = { km = 120000, mi = 80000, primary = "km" }\n'
    (doubt,) = pair_doubts(book_with(BOOK, text, "x"))
    assert "Row x, repeat: 80\u2009000 mi and 120\u2009000 km are not the same" in doubt
    assert "128\u2009748 km" in doubt
    assert "the figure in km is reckoned with" in doubt


def test_a_shorter_interval_for_a_friction_modifier_is_read_written_and_told_as_a_change() -> None:
    text = (
        NEW
        + """[rows.x.repeat]
distance = { mi = 50000 }
[rows.x.repeat.with_modifier]
distance = { mi = 30000 }
months = 12
"""
    )
    rows = parse_rows(text, "x")
    limits = laid_over(BOOK, rows).rows["x"].rule.repeat
    assert limits.with_modifier is not None
    assert (limits.with_modifier.distance, limits.with_modifier.months) == (
        PrintedDistance.of(30000, DistanceUnit.MI),
        12,
    )
    again = laid_over(BOOK, parse_rows(write_own_rows(rows), "x")).rows["x"]
    assert again == laid_over(BOOK, rows).rows["x"]
    change = '[rows.x]\nreason = "dark"\n[rows.x.repeat.with_modifier]\ndistance = { mi = 25000 }\n'
    (override,) = book_with(laid_over(BOOK, rows), change, "y").rows["x"].overrides
    assert override.field == "repeat distance with a friction modifier"
    with pytest.raises(BadFile, match="are empty"):
        parse_rows(NEW + "[rows.x.repeat]\nmonths = 3\n[rows.x.repeat.with_modifier]\n", "x")
