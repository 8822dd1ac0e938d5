"""What comes in and goes out as JSON, checked before anything else sees it."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field, StrictBool, StrictFloat, StrictInt, StrictStr

MOST_AT_ONCE = 500
_OTHER: dict[str, Any] = {"vehicle": "AN", "value": "113 100", "on": "2026-04-14"}
_ONE: dict[str, Any] = {"vehicle": "BE", "value": 84210, "on": "2026-04-14", "split": "towing=3,daily=1"}


class ReadingIn(BaseModel):
    """A reading for `POST /api/readings`. Figures may be text or numbers; both go through the one number parser."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={"examples": [_ONE, {"vehicle": "Bellows", "value": "84 210 mi"}]},
    )

    vehicle: str = Field(max_length=120, description="Mark or name.")
    value: StrictStr | StrictInt | StrictFloat = Field(
        description="What the dial shows; as text it may carry its unit: 84 210 mi."
    )
    on: str | None = Field(default=None, max_length=40, description="The day, such as 2026-04-14; today if left out.")
    unit: str | None = Field(default=None, max_length=4, description="km, mi or h, if it is not the dial's own.")
    hours: StrictBool = Field(default=False, description="It is the hour meter's.")
    split: str | None = Field(default=None, max_length=200, description="Such as towing=300,daily=rest.")
    really: str | None = Field(
        default=None,
        max_length=20,
        description="as-read, changed, rolled-over or wrong-last: save it although it does not fit.",
    )
    hold: StrictBool = Field(
        default=False,
        description="Nobody can be asked: keep what does not fit for its keeper instead of answering 409.",
    )


class BatchIn(BaseModel):
    """Readings for `POST /api/readings/batch`, taken in this order."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "examples": [{"readings": [_ONE, {"vehicle": "AN", "value": "113 100", "on": "2026-04-14"}]}]
        },
    )

    readings: list[ReadingIn] = Field(min_length=1, max_length=MOST_AT_ONCE)


class SettleIn(BaseModel):
    """What a person says of a reading that is held, for `POST /api/readings/settle`."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={"examples": [{"vehicle": "LA", "value": "173250", "on": "2025-09-11", "how": "guess"}]},
    )

    vehicle: str = Field(max_length=120, description="Mark or name.")
    value: StrictStr | StrictInt | StrictFloat = Field(description="What the held reading shows.")
    on: str = Field(max_length=40, description="Its day, such as 2026-04-14.")
    how: str = Field(
        max_length=20,
        description="right: it is used; wrong: it is set aside; guess: that was meant; meant: the field meant has it.",
    )
    meant: StrictStr | StrictInt | StrictFloat | None = Field(default=None, description="What the dial showed.")


class MoveIn(BaseModel):
    """A visit that is wished on another day."""

    model_config = ConfigDict(extra="forbid")

    vehicle: str = Field(max_length=120, description="Mark or name.")
    number: StrictInt = Field(ge=1, le=999_999, description="Which visit of it.")
    on: str = Field(max_length=40, description="The day, such as 2026-05-09.")


class ProposeIn(BaseModel):
    """What a plan is asked for, for `POST /api/plan/propose`."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={"examples": [{"move": {"vehicle": "AN", "number": 2, "on": "2026-05-09"}}]},
    )

    move: MoveIn | None = Field(default=None, description="Plan around this visit on another day.")


class TakeIn(BaseModel):
    """Which plan is taken, for `POST /api/plan/take`."""

    model_config = ConfigDict(extra="forbid")

    stand: str = Field(max_length=64, description="As the proposal said it, so that no other plan is taken.")


class PlanOut(BaseModel):
    """Visits that are not over, by begin, and what the plan that was taken last has changed."""

    visits: list[dict[str, Any]]
    changed: dict[str, Any] | None


class WeighedOut(BaseModel):
    """One visit: why it is on its day as kinds with figures, and what each other day would cost more or what forbids
    it. compared: false if by the workshop's hours it could not be on its own day; then there are no prices."""

    visit: dict[str, Any]
    compared: bool
    reasons: list[dict[str, Any]]
    days: list[dict[str, Any]]


class ProposalOut(BaseModel):
    """The plan that was worked out last. problem: why there is none. stand: goes with the call that takes it. wish:
    the visit it was made around and what that costs more. left: services for a later plan; troubles: which of them have
    no day at all and why, and which inked visits cannot all be, a sentence each. best_cents: of the best plan so far,
    while one is searched for. cost_cents: its price term by term."""

    working: bool
    seconds: int = 0
    best_cents: int | None = None
    problem: str | None = None
    stand: str | None = None
    visits: list[dict[str, Any]] = []
    inked: list[dict[str, Any]] = []
    gone: list[str] = []
    moved: list[dict[str, Any]] = []
    changes: list[dict[str, Any]] = []
    left: list[str] = []
    untouched: int | None = None
    troubles: list[str] = []
    wish: dict[str, Any] | None = None
    outcome: str | None = None
    total_cents: int | None = None
    lower_bound_cents: int | None = None
    gap: float | None = None
    cost_cents: dict[str, int] | None = None


class TakenOut(BaseModel):
    """How many visits are new, moved or gone."""

    changed: int


class Trouble(BaseModel):
    """What every refusal of the API looks like."""

    error: str = Field(description="One sentence: what is wrong and what to do.")
    field: str | None = Field(default=None, description="The field it is about, if it is about one.")


class Guessed(BaseModel):
    """A value that may have been meant."""

    value: str
    unit: str


class DoubtOut(Trouble):
    """The answer to a reading that does not fit; nothing was stored. Without the other fields: sent before,
    otherwise."""

    guess: Guessed | None = Field(default=None, description="What may have been meant, if there is one good guess.")
    really: list[str] = Field(default=[], description="What `really` may say, to save it all the same.")


class ReadingOut(BaseModel):
    """A reading as it stands here."""

    vehicle: str
    meter: str
    date: str
    value: str
    unit: str
    split: dict[str, float] | None
    state: str
    by: str


class StoredOut(BaseModel):
    """What became of a reading. known: it stood here before. held: it waits for its keeper. note: what is odd about
    it."""

    reading: ReadingOut
    known: bool
    held: bool
    note: str | None
    moved: list[dict[str, Any]]
    screened: list[dict[str, Any]]


class BatchOut(BaseModel):
    """For each reading in order: `status`, and what the single call would have answered."""

    results: list[dict[str, Any]]


class SettledOut(BaseModel):
    """The reading that was held, as it stands now, and what was entered in its place."""

    reading: ReadingOut
    instead: ReadingOut | None
