"""The plausible bands of tag values from their files."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Annotated

from pydantic import BeforeValidator, Field

from fleetcare.book.rows import Status
from fleetcare.errors import BadFile, BadInput, Fault, shown
from fleetcare.fleet.tag_bands import TagBand
from fleetcare.fleet.vehicle import VehicleKind
from fleetcare.language import saying
from fleetcare.settings.book_models import Line, Strict, is_key
from fleetcare.settings.reading_files import text_of
from fleetcare.settings.toml_text import TomlText, nearest_hint

TABLE = "band"


def _whole(value: object) -> object:
    return Decimal(value) if type(value) is int else value


_End = Annotated[Decimal, BeforeValidator(_whole), Field(ge=0, le=100_000)]


class _BandIn(Strict):
    names: Annotated[list[Line], Field(min_length=1)]
    components: tuple[Line, ...] = Field((), strict=False)
    vehicles: tuple[Annotated[VehicleKind, Field(strict=False)], ...] = Field((), strict=False)
    low: _End
    high: _End
    unit: Line = ""
    source: Annotated[Line, Field(min_length=1)]
    status: Annotated[Status, Field(strict=False)]


def load_tag_bands(shipped: Path, own: Path | None = None) -> tuple[TagBand, ...]:
    """The bands in order of key: those of `shipped`, and over them those of `own` if that file is there.

    A garage's own bands are asked before the shipped ones. Raises BadFile with every fault of a file.
    """
    bands = parse_tag_bands(text_of(shipped), shipped.name)
    if own is None or not own.is_file():
        return bands
    ours = parse_tag_bands(text_of(own), own.name)
    return ours + tuple(band for band in bands if band.key not in {each.key for each in ours})


def parse_tag_bands(text: str, file: str) -> tuple[TagBand, ...]:
    """The bands of one file, by key. Raises BadFile with every fault at once."""
    document = TomlText(text, file)
    faults: list[Fault] = [
        document.fault(
            saying("There is no table {name} here.", name=shown(name, 40)), nearest_hint(name, [TABLE]), name
        )
        for name in document.tables
        if name != TABLE
    ]
    bands: list[TagBand] = []
    tables = document.tables.get(TABLE, {})
    for key, table in tables.items() if isinstance(tables, dict) else ():
        if not is_key(key) or not isinstance(table, dict):
            instead = "Write [band.some-key] with lower case letters, digits and hyphens."
            faults.append(document.fault(saying("{key} is no band.", key=shown(key, 40)), instead, TABLE, key))
            continue
        try:
            bands.append(_band(key, document.checked(_BandIn, TABLE, key)))
        except BadFile as bad:
            faults += bad.faults
        except BadInput as bad:
            faults.append(document.fault(bad.what, bad.remedy, TABLE, key, bad.field))
    if faults:
        raise BadFile(sorted(faults, key=lambda fault: fault.line))
    return tuple(sorted(bands, key=lambda band: band.key))


def _band(key: str, given: _BandIn) -> TagBand:
    return TagBand(
        key,
        names=tuple(name.casefold() for name in given.names),
        low=given.low,
        high=given.high,
        unit=given.unit,
        source=given.source,
        status=given.status,
        components=given.components,
        vehicles=given.vehicles,
    )
