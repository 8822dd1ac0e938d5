"""The duty cycles from their files."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from pydantic import Field

from fleetcare.errors import BadFile, Fault, shown
from fleetcare.fleet.duty import DutyCycle
from fleetcare.language import saying
from fleetcare.settings.book_models import Line, Strict, is_key
from fleetcare.settings.reading_files import text_of
from fleetcare.settings.toml_text import TomlText, nearest_hint

PATTERNS = ("chevrons", "chequer", "dots", "rings", "dashes", "waves")


class _DutyIn(Strict):
    title: Annotated[str, Field(min_length=1, max_length=60)]
    severe: bool = False
    pattern: str = ""
    source: Line = ""


def load_duties(shipped: Path, own: Path | None = None) -> dict[str, DutyCycle]:
    """The duties by key: those of the file `shipped`, and over them those of `own` if that file is there.

    A duty of the same key takes the place of the shipped one. Raises BadFile with every fault of a file.
    """
    duties = parse_duties(text_of(shipped), shipped.name)
    return duties | parse_duties(text_of(own), own.name) if own is not None and own.is_file() else duties


def parse_duties(text: str, file: str) -> dict[str, DutyCycle]:
    """The duties of one file, by key. Raises BadFile with every fault at once."""
    document = TomlText(text, file)
    faults: list[Fault] = [
        document.fault(
            saying("There is no table {name} here.", name=shown(name, 40)), nearest_hint(name, ["duties"]), name
        )
        for name in document.tables
        if name != "duties"
    ]
    duties: dict[str, DutyCycle] = {}
    tables = document.tables.get("duties", {})
    for key, table in tables.items() if isinstance(tables, dict) else ():
        if not is_key(key) or not isinstance(table, dict):
            instead = "Write [duties.some-key] with lower case letters, digits and hyphens."
            faults.append(document.fault(saying("{key} is no duty.", key=shown(key, 40)), instead, "duties", key))
            continue
        try:
            given = document.checked(_DutyIn, "duties", key)
        except BadFile as bad:
            faults += bad.faults
            continue
        if given.pattern and given.pattern not in PATTERNS:
            what = saying("There is no pattern {pattern}.", pattern=shown(given.pattern, 40))
            faults.append(document.fault(what, nearest_hint(given.pattern, PATTERNS), "duties", key, "pattern"))
            continue
        duties[key] = DutyCycle(key, given.title, given.severe, given.pattern, given.source)
    if not faults and not duties:
        faults.append(Fault(file, 0, "There is no duty in the file.", "Write [duties.daily] with its keys."))
    if faults:
        raise BadFile(sorted(faults, key=lambda fault: fault.line))
    return duties
