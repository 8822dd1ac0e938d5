"""The shape of a file of jobs: what its tables may hold, checked key by key."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from fleetcare.book.jobs import FromTag, StageKind, Wait
from fleetcare.book.rows import Status
from fleetcare.fleet.tag import ClosureKind
from fleetcare.settings.book_models import Figure, Line, Strict

Minutes = Annotated[int, Field(ge=0, le=86_400)]
Key = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=60)]
Text = Annotated[Line, Field(min_length=1)]
Known = Annotated[Status, Field(strict=False)]
Lines = Annotated[list[Line], Field(max_length=40)]


def _figure(value: Any) -> Any:
    return Decimal(value) if type(value) is int else value


class CautionIn(Strict):
    """[caution.KEY]"""

    text: Text
    source: Text
    status: Known


class ConsumableIn(Strict):
    """[consumable.KEY]"""

    what: Text
    amount: Figure | None = None
    unit: Line = "pieces"
    from_tag: Annotated[FromTag, Field(strict=False)] | None = None
    tag_name: Line = ""
    pack: Figure | None = None
    source: Text
    status: Known


class UsesIn(Strict):
    """One entry of a stage's `consumables`: the key of one, perhaps with an amount of its own."""

    key: Key
    amount: Figure | None = None


class ValueIn(Strict):
    """[value.KEY]"""

    what: Text
    tag_name: Line = ""
    low: Annotated[Decimal, BeforeValidator(_figure)] | None = None
    high: Annotated[Decimal, BeforeValidator(_figure)] | None = None
    unit: Line = ""
    say: Line = ""
    source: Text
    status: Known


class LookIn(Strict):
    """One entry of a stage's `look_at`."""

    what: Text
    finding: Key | Annotated[str, Field(max_length=0)] = ""


def _bare_key(value: Any) -> Any:
    return {"key": value} if isinstance(value, str) else value


def _bare_what(value: Any) -> Any:
    return {"what": value} if isinstance(value, str) else value


class SharedStageIn(Strict):
    """[stage.KEY]: a stage that several jobs name."""

    title: Text
    kind: Annotated[StageKind, Field(strict=False)] | None = None
    minutes: Minutes | None = None
    least_minutes: Minutes | None = None
    most_minutes: Minutes | None = None
    floor_minutes: Minutes | None = None
    after: list[Key] = Field(default_factory=list)
    wait: Annotated[Wait, Field(strict=False)] | None = None
    tools: Lines = Field(default_factory=list)
    consumables: list[Annotated[UsesIn, BeforeValidator(_bare_key)]] = Field(default_factory=list)
    cautions: list[Key] = Field(default_factory=list)
    values: list[Key] = Field(default_factory=list)
    look_at: list[Annotated[LookIn, BeforeValidator(_bare_what)]] = Field(default_factory=list)
    source: Line = ""
    status: Known | None = None


class StageIn(SharedStageIn):
    """[[job.KEY.stage]]: a stage of that job alone."""

    key: Key


class JobIn(Strict):
    """[job.KEY]"""

    title: Text
    services: Lines = Field(default_factory=list)
    rows: list[Key] = Field(default_factory=list)
    components: Lines = Field(default_factory=list)
    closures: list[Annotated[ClosureKind, Field(strict=False)]] = Field(default_factory=list)
    set_ups: Lines = Field(default_factory=list)
    skills: Lines = Field(default_factory=list)
    note: Annotated[Line, Field(max_length=2000)] = ""
    source: Text
    status: Known
    stages: list[Key] = Field(default_factory=list)
    """Keys in the order they are done; may be left out if all stages are the job's own."""
    stage: Annotated[list[StageIn], Field(max_length=60)] = Field(default_factory=list)
