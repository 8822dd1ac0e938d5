"""The book of findings is read strictly, and a garage's own kinds go first."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from fleetcare.errors import BadFile
from fleetcare.quantities import DistanceUnit
from fleetcare.settings.finding_files import load_findings, parse_findings
from fleetcare.settings.places import shipped_config

SHIPPED = shipped_config() / "findings.toml"
VENT = """[findings.vent]
title = "Vent"
source = "our own look"
status = "set by this garage"
[[findings.vent.grades]]
key = "free"
words = "free"
[[findings.vent.grades]]
key = "blocked"
words = "blocked"
follows = "look again"
mi = 300
days = 20
"""
STROKE = """[findings.stroke]
title = "Stroke"
measure = { unit = "mm", worse = "larger", tag = "stroke limit" }
source = "our own look"
status = "set by this garage"
[[findings.stroke.grades]]
key = "good"
words = "good"
[[findings.stroke.grades]]
key = "near"
words = "near"
[[findings.stroke.grades]]
key = "past"
words = "past"
follows = "do not drive"
"""


def test_every_shipped_kind_says_where_what_follows_is_from() -> None:
    kinds = load_findings(SHIPPED).kinds
    assert len(kinds) >= 20
    assert all(kind.source and kind.status for kind in kinds.values())


def test_a_garages_own_kind_takes_the_place_of_the_shipped_one(tmp_path: Path) -> None:
    shipped = load_findings(SHIPPED).kinds
    own = tmp_path / "findings.toml"
    own.write_text(VENT + STROKE, encoding="utf-8")
    kinds = load_findings(SHIPPED, own).kinds
    assert kinds.keys() == shipped.keys() | {"vent", "stroke"}
    follow = kinds["vent"].grade("blocked").follow
    assert (follow.distance, follow.unit, follow.days) == (Decimal(300), DistanceUnit.MI, 20)
    assert kinds["magnet"] == shipped["magnet"]
    assert load_findings(SHIPPED, tmp_path / "not there.toml").kinds == shipped


@pytest.mark.parametrize(
    ("text", "old", "new", "said", "line"),
    [
        (VENT, 'source = "our own look"\n', "", "The key source is missing.", 1),
        (VENT, "title", "titel", "There is no key", 2),
        (VENT, "findings.", "finding.", "There is no table", 1),
        (VENT, "[findings.vent", "[findings.Vent", "is no finding", 1),
        (VENT, 'follows = "look again"', 'follows = "weep"', "weep", 11),
        (VENT, "days = 20", "km = 500", "A look has one distance.", 8),
        (VENT, "mi = 300\ndays = 20\n", "", "needs a distance or days", 1),
        (VENT, "mi = 300", "mi = 300\nfactor = 0.5", "has no factor", 1),
        (VENT, 'key = "blocked"', 'key = "free"', "a grade twice", 1),
        (VENT, 'words = "blocked"', 'words = "blocked"\nsource = "a book"', "how well it is known", 8),
        (STROKE, 'key = "near"', 'key = "so so"', "is no key", 9),
        (STROKE, 'key = "near"', 'key = "nearly"', "is measured, so its grades are", 1),
        (VENT, VENT, "", "There is no finding in the file.", 0),
    ],
)
def test_a_fault_is_named_with_its_line(text: str, old: str, new: str, said: str, line: int) -> None:
    assert old in text
    with pytest.raises(BadFile) as raised:
        parse_findings(text.replace(old, new), "findings.toml")
    faults = raised.value.faults
    assert any(said in fault.what and fault.line == line for fault in faults), faults


def test_the_faults_of_two_kinds_are_named_at_once() -> None:
    text = VENT.replace("title", "titel") + STROKE.replace('"larger"', '"bigger"')
    with pytest.raises(BadFile) as raised:
        parse_findings(text, "findings.toml")
    assert {fault.line for fault in raised.value.faults} >= {2, 16}
