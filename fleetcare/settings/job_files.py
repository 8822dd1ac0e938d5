"""The jobs from their files: the shipped ones, and over them what a garage does in its own way."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar

from fleetcare.book.chains import course
from fleetcare.book.jobs import Caution, Consumable, Job, JobBook, LookAt, Stage, StageKind, ValueToReach
from fleetcare.errors import BadFile, BadInput, Fault, shown
from fleetcare.language import saying
from fleetcare.settings.book_models import Strict, is_key
from fleetcare.settings.job_models import CautionIn, ConsumableIn, JobIn, SharedStageIn, UsesIn, ValueIn
from fleetcare.settings.reading_files import text_of
from fleetcare.settings.toml_text import TomlText, nearest_hint

T = TypeVar("T")
ModelT = TypeVar("ModelT", bound=Strict)

SHARED = "shared.toml"
_TABLES = ("caution", "consumable", "value", "stage", "job")
_ANY_DAY = datetime(2000, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Shelf:
    """What jobs refer to by key: cautions, consumables, values, stages. A garage's own file builds on the shipped."""

    cautions: Mapping[str, Caution] = field(default_factory=dict)
    consumables: Mapping[str, Consumable] = field(default_factory=dict)
    values: Mapping[str, ValueToReach] = field(default_factory=dict)
    stages: Mapping[str, Stage] = field(default_factory=dict)


def load_jobs(shipped: Path, own: Path | None = None) -> JobBook:
    """The jobs by key: those of the folder `shipped`, and over them those of the file `own` if it is there.

    What shipped jobs share stands in `shared.toml` of the folder. A job of the same key takes the place of the shipped
    one; a garage's jobs may use the shipped cautions, consumables, values and stages. Raises BadFile with every fault
    of a file.
    """
    jobs: dict[str, Job] = {}
    shelf = parse_jobs(text_of(shipped / SHARED), SHARED)[1]
    for file in sorted(shipped.glob("*.toml")):
        if file.name != SHARED:
            jobs |= parse_jobs(text_of(file), file.name, shelf)[0]
    if own is not None and own.is_file():
        jobs |= parse_jobs(text_of(own), own.name, shelf)[0]
    return JobBook(jobs)


def parse_jobs(text: str, file: str, known: Shelf | None = None) -> tuple[dict[str, Job], Shelf]:
    """The jobs of one file by key, and what they may refer to. Raises BadFile with every fault at once."""
    document = TomlText(text, file)
    known = known or Shelf()
    faults: list[Fault] = [
        document.fault(
            saying("There is no table {name} here.", name=shown(name, 40)), nearest_hint(name, _TABLES), name
        )
        for name in document.tables
        if name not in _TABLES
    ]
    cautions = {**known.cautions, **_each(document, "caution", CautionIn, _caution, faults)}
    consumables = {**known.consumables, **_each(document, "consumable", ConsumableIn, _consumable, faults)}
    values = {**known.values, **_each(document, "value", ValueIn, _value, faults)}
    shelf = Shelf(cautions, consumables, values, known.stages)
    own_stages = _each(
        document,
        "stage",
        SharedStageIn,
        lambda key, given: _checked_stage(document, key, given, shelf, ("stage", key), faults),
        faults,
    )
    shelf = replace(shelf, stages={**known.stages, **own_stages})
    jobs = _each(document, "job", JobIn, lambda key, given: _job(document, key, given, shelf, faults), faults)
    if faults:
        raise BadFile(sorted(faults, key=lambda fault: fault.line))
    return jobs, shelf


def _each(
    document: TomlText, table: str, model: type[ModelT], made: Callable[[str, ModelT], T], faults: list[Fault]
) -> dict[str, T]:
    """Everything in one kind of table by key; what cannot be goes into `faults`."""
    found: dict[str, T] = {}
    tables: Any = document.tables.get(table, {})
    for key, given in tables.items() if isinstance(tables, dict) else ():
        if not is_key(key) or not isinstance(given, dict):
            instead = saying("Write [{table}.some-key] with lower case letters, digits and hyphens.", table=table)
            faults.append(
                document.fault(saying("{key} is no {table}.", key=shown(key, 40), table=table), instead, table, key)
            )
            continue
        try:
            found[key] = made(key, document.checked(model, table, key))
        except BadFile as bad:
            faults += bad.faults
        except BadInput as bad:
            faults.append(document.fault(bad.what, bad.remedy, table, key, bad.field))
    return found


def _caution(key: str, given: CautionIn) -> Caution:
    return Caution(key, given.text, given.source, given.status)


def _consumable(_key: str, given: ConsumableIn) -> Consumable:
    return Consumable(given.what, given.amount, given.unit, given.from_tag, given.tag_name, given.pack)


def _value(_key: str, given: ValueIn) -> ValueToReach:
    return ValueToReach(
        given.what,
        tag_name=given.tag_name,
        low=given.low,
        high=given.high,
        unit=given.unit,
        say=given.say,
        source=given.source,
        status=given.status,
    )


def _job(document: TomlText, key: str, given: JobIn, shelf: Shelf, faults: list[Fault]) -> Job:
    own: dict[str, Stage] = {}
    for at, stage in enumerate(given.stage):
        path = ("job", key, "stage", at)
        if stage.key in own:
            faults.append(
                document.fault(
                    saying("Job {key} has two stages {stage}.", key=key, stage=stage.key), "Rename one.", *path, "key"
                )
            )
        own[stage.key] = _checked_stage(document, stage.key, stage, shelf, path, faults)
    there = {**shelf.stages, **own}
    for at, name in enumerate(given.stages):
        if name not in there:
            what = saying("There is no stage {name}.", name=shown(name, 40))
            faults.append(document.fault(what, nearest_hint(name, sorted(there)), "job", key, "stages", at))
    for name in own:
        if given.stages and name not in given.stages:
            what = saying("The stage {name} is not in the order of job {key}.", name=name, key=key)
            faults.append(document.fault(what, saying("Put {name} into stages.", name=name), "job", key, "stages"))
    stages = [there[name] for name in given.stages or own if name in there]
    job = Job(
        key=key,
        title=given.title,
        services=tuple(given.services),
        stages=tuple(stages),
        source=given.source,
        status=given.status,
        rows=tuple(given.rows),
        components=tuple(given.components),
        closures=tuple(given.closures),
        set_ups=tuple(given.set_ups),
        skills=tuple(given.skills),
        note=given.note,
    )
    course(job.stages, _ANY_DAY)  # a chain that cannot be followed is found here and not in the middle of the work
    return job


def _checked_stage(
    document: TomlText, key: str, given: SharedStageIn, shelf: Shelf, path: tuple[str | int, ...], faults: list[Fault]
) -> Stage:
    """A stage; what cannot be in it goes into `faults`, with the lines of each."""
    faults += _not_there(document, given, shelf, path)
    try:
        return _stage(key, given, shelf)
    except BadInput as bad:
        faults.append(document.fault(bad.what, bad.remedy, *path, bad.field))
        return Stage(key, given.title, minutes=1)


def _stage(key: str, given: SharedStageIn, shelf: Shelf) -> Stage:
    standing = given.least_minutes is not None and given.minutes is None
    kind = given.kind or (StageKind.STANDING if standing else StageKind.HANDS_ON)
    return Stage(
        key=key,
        title=given.title,
        kind=kind,
        minutes=given.minutes,
        least_minutes=given.least_minutes,
        most_minutes=given.most_minutes,
        floor_minutes=given.floor_minutes,
        after=tuple(given.after),
        wait=given.wait,
        tools=tuple(given.tools),
        consumables=tuple(
            _used(shelf.consumables[use.key], use) for use in given.consumables if use.key in shelf.consumables
        ),
        cautions=tuple(shelf.cautions[each] for each in given.cautions if each in shelf.cautions),
        values=tuple(shelf.values[each] for each in given.values if each in shelf.values),
        look_at=tuple(LookAt(look.what, look.finding) for look in given.look_at),
        source=given.source,
        status=given.status,
    )


def _used(consumable: Consumable, use: UsesIn) -> Consumable:
    return consumable if use.amount is None else replace(consumable, amount=use.amount, from_tag=None)


def _not_there(document: TomlText, given: SharedStageIn, shelf: Shelf, path: tuple[str | int, ...]) -> list[Fault]:
    """A fault for each key of a stage that nothing stands under."""
    wanted: list[tuple[str, str, int, Mapping[str, object]]] = [
        *(("consumables", use.key, at, shelf.consumables) for at, use in enumerate(given.consumables)),
        *(("cautions", key, at, shelf.cautions) for at, key in enumerate(given.cautions)),
        *(("values", key, at, shelf.values) for at, key in enumerate(given.values)),
    ]
    return [
        document.fault(
            saying("There is no {name} {key}.", name=name[:-1], key=shown(key, 40)),
            nearest_hint(key, sorted(there)),
            *path,
            name,
            at,
        )
        for name, key, at, there in wanted
        if key not in there
    ]
