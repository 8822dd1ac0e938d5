"""The grades of gear oil from their file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from pydantic import Field

from fleetcare.book.rows import Status
from fleetcare.errors import BadFile, BadInput
from fleetcare.fleet.gear_oil import GearOils, OilGrade
from fleetcare.settings.book_models import Figure, Line, Strict
from fleetcare.settings.reading_files import text_of
from fleetcare.settings.toml_text import TomlText, nearest_hint


class _GradeIn(Strict):
    at_least: Figure
    below: Figure | None = None
    once_below: Figure | None = None
    coldest_c: Annotated[int, Field(ge=-80, le=20)] | None = None


class _GradesIn(Strict):
    source: Annotated[Line, Field(min_length=1)]
    status: Annotated[Status, Field(strict=False)]
    grades: Annotated[dict[str, _GradeIn], Field(min_length=1)]


def load_gear_oils(shipped: Path) -> GearOils:
    """The grades, the thinnest first. Raises BadFile with every fault."""
    return parse_gear_oils(text_of(shipped), shipped.name)


def parse_gear_oils(text: str, file: str) -> GearOils:
    """The grades in a text. Raises BadFile."""
    document = TomlText(text, file)
    kinds = ("winter", "summer")
    odd = [name for name in document.tables if name not in kinds]
    if odd or len(document.tables) < len(kinds):
        name = odd[0] if odd else ""
        raise BadFile([document.fault("The file holds winter and summer grades.", nearest_hint(name, kinds), *odd[:1])])
    found: dict[str, dict[str, OilGrade]] = {}
    for kind in kinds:
        given = document.checked(_GradesIn, kind)
        try:
            grades = {
                name: OilGrade(grade.at_least, grade.below, grade.coldest_c, grade.once_below)
                for name, grade in given.grades.items()
            }
        except BadInput as bad:
            raise BadFile([document.fault(bad.what, bad.remedy, kind)]) from None
        found[kind] = dict(sorted(grades.items(), key=lambda item: (item[1].at_least, item[1].coldest_c or 0)))
    return GearOils(found["winter"], found["summer"])
