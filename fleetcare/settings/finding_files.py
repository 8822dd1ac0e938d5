"""The book of findings from its files."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Annotated

from pydantic import Field, model_validator

from fleetcare.book.rows import Status
from fleetcare.errors import BadFile, BadFinding, Fault, shown
from fleetcare.language import saying
from fleetcare.quantities import DistanceUnit
from fleetcare.settings.book_models import Count, Figure, Line, Strict, is_key, wrong
from fleetcare.settings.reading_files import text_of
from fleetcare.settings.toml_text import TomlText, nearest_hint
from fleetcare.work.findings import FindingBook, FindingKind, Follow, FollowKind, Grade, Measure, Worse

TABLE = "findings"

Word = Annotated[str, Field(min_length=1, max_length=80)]


class _GradeIn(Strict):
    key: Word
    words: Word
    means: Line = ""
    follows: Annotated[FollowKind, Field(strict=False)] = FollowKind.NOTHING
    km: Figure | None = None
    mi: Figure | None = None
    days: Annotated[int, Field(ge=0, le=3660)] | None = None
    factor: Figure | None = None
    todo: Line = ""
    source: Line = ""
    status: Annotated[Status, Field(strict=False)] | None = None

    @model_validator(mode="after")
    def _one_distance(self) -> _GradeIn:
        if self.km is not None and self.mi is not None:
            raise wrong("A look has one distance.", "Give km or mi, not both.")
        if not is_key(self.key):
            raise wrong(saying("{key} is no key.", key=shown(self.key, 40)), "Lower case letters, digits and hyphens.")
        if bool(self.source) != (self.status is not None):
            raise wrong("A source goes with how well it is known.", "Give source and status, or neither.")
        return self

    @property
    def follow(self) -> Follow:
        """What follows. Raises BadFinding if its figures do not go together."""
        unit = DistanceUnit.MI if self.mi is not None else DistanceUnit.KM
        return Follow(self.follows, self.mi or self.km, unit, self.days, self.factor, self.todo)


class _MeasureIn(Strict):
    unit: Word
    worse: Annotated[Worse, Field(strict=False)]
    tag: Word
    limit: Figure | None = None
    near: Annotated[Decimal, Field(ge=0)] | Count = 0
    most: Figure = Decimal(1000)


class _FindingIn(Strict):
    title: Word
    components: tuple[Word, ...] = Field(default=(), strict=False)
    places: tuple[Word, ...] = Field(default=(), strict=False)
    measure: _MeasureIn | None = None
    grades: Annotated[list[_GradeIn], Field(min_length=1, max_length=12)]
    source: Annotated[Line, Field(min_length=1)]
    status: Annotated[Status, Field(strict=False)]
    note: Line = ""


def load_findings(shipped: Path, own: Path | None = None) -> FindingBook:
    """The kinds of finding: those of the file `shipped`, and over them those of `own` if that file is there.

    A kind of the same key takes the place of the shipped one. Raises BadFile with every fault of a file.
    """
    kinds = parse_findings(text_of(shipped), shipped.name)
    if own is not None and own.is_file():
        kinds |= parse_findings(text_of(own), own.name)
    return FindingBook(kinds)


def parse_findings(text: str, file: str) -> dict[str, FindingKind]:
    """The kinds of one file, by key, in its order. Raises BadFile with every fault at once."""
    document = TomlText(text, file)
    faults: list[Fault] = [
        document.fault(
            saying("There is no table {name} here.", name=shown(name, 40)), nearest_hint(name, [TABLE]), name
        )
        for name in document.tables
        if name != TABLE
    ]
    kinds: dict[str, FindingKind] = {}
    tables = document.tables.get(TABLE, {})
    for key, table in tables.items() if isinstance(tables, dict) else ():
        if not is_key(key) or not isinstance(table, dict):
            instead = saying("Write [{table}.some-key] with lower case letters, digits and hyphens.", table=TABLE)
            faults.append(document.fault(saying("{key} is no finding.", key=shown(key, 40)), instead, TABLE, key))
            continue
        try:
            kinds[key] = _kind(key, document.checked(_FindingIn, TABLE, key))
        except BadFile as bad:
            faults += bad.faults
        except BadFinding as bad:
            faults.append(document.fault(bad.what, bad.remedy, TABLE, key))
    if not faults and not kinds:
        faults.append(
            Fault(
                file,
                0,
                "There is no finding in the file.",
                saying("Write [{table}.magnet] with its keys.", table=TABLE),
            )
        )
    if faults:
        raise BadFile(sorted(faults, key=lambda fault: fault.line))
    return kinds


def _kind(key: str, given: _FindingIn) -> FindingKind:
    measure = given.measure
    return FindingKind(
        key=key,
        title=given.title,
        grades=tuple(
            Grade(grade.key, grade.words, grade.follow, grade.means, grade.source, grade.status)
            for grade in given.grades
        ),
        source=given.source,
        status=given.status,
        components=given.components,
        places=given.places,
        measure=None
        if measure is None
        else Measure(measure.unit, measure.worse, measure.tag, measure.limit, Decimal(measure.near), measure.most),
        note=given.note,
    )
