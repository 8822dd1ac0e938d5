"""What comes in as JSON, checked before anything else sees it."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field, StrictBool, StrictFloat, StrictInt, StrictStr


class ReadingIn(BaseModel):
    """A reading for `POST /api/readings`. Figures may be text or numbers; both go through the one number parser."""

    model_config = ConfigDict(extra="forbid")

    vehicle: str = Field(max_length=120, description="Mark or name.")
    value: StrictStr | StrictInt | StrictFloat = Field(description="What the dial shows.")
    on: str | None = Field(default=None, max_length=40, description="The day, such as 2026-04-14; today if left out.")
    unit: str | None = Field(default=None, max_length=4, description="km, mi or h, if it is not the dial's own.")
    hours: StrictBool = Field(default=False, description="It is the hour meter's.")
    split: str | None = Field(default=None, max_length=200, description="Such as towing=300,daily=rest.")
    really: str | None = Field(
        default=None,
        max_length=20,
        description="as-read, changed, rolled-over or wrong-last: save it although it does not fit.",
    )


class SettleIn(BaseModel):
    """What a person says of a reading that is held, for `POST /api/readings/settle`."""

    model_config = ConfigDict(extra="forbid")

    vehicle: str = Field(max_length=120, description="Mark or name.")
    value: StrictStr | StrictInt | StrictFloat = Field(description="What the held reading shows.")
    on: str = Field(max_length=40, description="Its day, such as 2026-04-14.")
    how: str = Field(
        max_length=20,
        description="right: it is used; wrong: it is set aside; guess: that was meant; meant: the field meant has it.",
    )
    meant: StrictStr | StrictInt | StrictFloat | None = Field(default=None, description="What the dial showed.")


class Trouble(BaseModel):
    """What every refusal of the API looks like."""

    error: str = Field(description="One sentence: what is wrong and what to do.")
    field: str | None = Field(default=None, description="The field it is about, if it is about one.")


class Guessed(BaseModel):
    """A value that may have been meant."""

    value: str
    unit: str


class DoubtOut(Trouble):
    """The answer to a reading that does not fit; nothing was stored."""

    guess: Guessed | None = Field(description="What may have been meant, if there is one good guess.")
    really: list[str] = Field(description="What `really` may say, to save it all the same.")
