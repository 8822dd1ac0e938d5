"""How a service is done: jobs, their stages hands-on and standing, what they need, and what is to be reached.

A job covers one or more services of the interval book, by their short name (`BookRow.short`), because rows with one
short name are different figures for the same work. What depends on the component (how much fluid, which torque, how
long the sealant cures) is not written in the job but taken from the component's tag; `book/bench.py` does that.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from fleetcare.book.rows import BookRow, Status
from fleetcare.errors import BadInput
from fleetcare.fleet.tag import ClosureKind, Tag
from fleetcare.language import saying

MINUTES_PER_DAY = 24 * 60


class StageKind(StrEnum):
    """Whether somebody works on the vehicle during a stage."""

    HANDS_ON = "hands-on"
    STANDING = "standing"
    """The vehicle cannot move and nobody works on it: cure, drain, cool-down."""


class Wait(StrEnum):
    """A standing time that a component's tag may state, in place of the job's own figure; the names of the facts."""

    OPEN_TIME = "open time"
    """Takes the place of `most_minutes`; the others of `least_minutes`."""
    BEFORE_FINAL_TURN = "wait before the final turn"
    BEFORE_FILLING = "wait before filling"


class FromTag(StrEnum):
    """An amount that depends on the component and is taken from its tag."""

    REFILL = "refill"
    """Litres of its fluid: the quantity for a refill in the vehicle, else the capacity."""
    FRICTION_MODIFIER = "friction modifier"
    """Millilitres, where the tag requires one; nothing where it is forbidden or not needed."""
    CLOSURE = "closure"
    """What the tag says closes it: one tube of sealant, one gasket or one O-ring."""
    FASTENERS = "fasteners"
    """One for each fastener of the torque that `tag_name` names."""


@dataclass(frozen=True, slots=True)
class Consumable:
    """Something a job uses up.

    what: as a heading; with REFILL the grade of the tag is put behind it. amount: in `unit` (L, mL, g, or a word for
    pieces); None with an amount from the tag. pack: how much one bottle or tin holds, in `unit`; None for pieces.
    """

    what: str
    amount: Decimal | None = None
    unit: str = "pieces"
    from_tag: FromTag | None = None
    tag_name: str = ""
    pack: Decimal | None = None

    def __post_init__(self) -> None:
        if not self.what.strip():
            raise BadInput("A consumable has no name.", remedy="Say what it is.", field="what")
        if (self.amount is None) == (self.from_tag is None):
            raise BadInput(
                saying("{what} has no amount.", what=self.what)
                if self.amount is None
                else saying("{what} has two amounts.", what=self.what),
                remedy="Give either an amount or what it is taken from.",
                field="amount",
            )
        for figure in (self.amount, self.pack):
            if figure is not None and figure <= 0:
                raise BadInput(
                    saying("{what}: {figure} is no amount.", what=self.what, figure=figure),
                    remedy="Give more than nothing.",
                    field="amount",
                )


@dataclass(frozen=True, slots=True)
class ValueToReach:
    """A value that has to be reached in a stage: a torque, a level, a measure.

    From the tag (`tag_name` is the name of the fact: `cover bolts`, `fill`), where an unknown one stays a blank to fill
    in; or, for what holds whatever the component, as `low` to `high` in `unit`, with its own source and status. `say`
    is the value in words where it is no figure (`one thread still shows`).
    """

    what: str
    tag_name: str = ""
    low: Decimal | None = None
    high: Decimal | None = None
    unit: str = ""
    say: str = ""
    source: str = ""
    status: Status | None = None

    def __post_init__(self) -> None:
        if not (self.tag_name or self.low is not None or self.high is not None or self.say):
            raise BadInput(
                saying("{what} has no value to reach.", what=self.what),
                remedy="Name a tag value or give a figure.",
                field="value",
            )
        if self.low is not None and self.high is not None and self.low > self.high:
            raise BadInput(
                saying("{what}: from {low} to {high} is upside down.", what=self.what, low=self.low, high=self.high),
                remedy="Put the smaller figure first.",
                field="low",
            )
        if not self.tag_name and (not self.source or self.status is None):
            raise BadInput(
                saying("{what} has no source.", what=self.what),
                remedy="Say where it is from and how well it is known.",
                field="source",
            )


@dataclass(frozen=True, slots=True)
class LookAt:
    """Something to look at in a stage. `finding` is the key of what may be found there, empty if nothing is noted."""

    what: str
    finding: str = ""


@dataclass(frozen=True, slots=True)
class Caution:
    """Where a stage can hurt somebody or spoil something: one or two lines in our own words, with what they rest on."""

    key: str
    text: str
    source: str
    status: Status


@dataclass(frozen=True, slots=True)
class Stage:
    """A part of a job that is done in one go, or for which the vehicle stands.

    minutes: hands-on, the time to allow for; standing, None.
    least_minutes, most_minutes: standing, the shortest wait (cure time, cool-down) and the longest before the next hand
    must follow (open time; None: it may wait). floor_minutes: below which no wait may go, whatever is in a hurry; None:
    `least_minutes` is that. after: keys of the stages it follows; empty means the one written before it, and nothing
    for the first. wait: the tag's value that takes the place of these figures.
    """

    key: str
    title: str
    kind: StageKind = StageKind.HANDS_ON
    minutes: int | None = None
    least_minutes: int | None = None
    most_minutes: int | None = None
    floor_minutes: int | None = None
    after: tuple[str, ...] = ()
    wait: Wait | None = None
    tools: tuple[str, ...] = ()
    consumables: tuple[Consumable, ...] = ()
    cautions: tuple[Caution, ...] = ()
    values: tuple[ValueToReach, ...] = ()
    look_at: tuple[LookAt, ...] = ()
    source: str = ""
    """Where a standing time is from, if not from where the job's times are."""
    status: Status | None = None

    def __post_init__(self) -> None:
        standing = self.kind is StageKind.STANDING
        if standing == (self.minutes is not None) or standing != (self.least_minutes is not None):
            raise BadInput(
                saying("Stage {key} has the wrong times.", key=self.key),
                remedy="A hands-on stage has minutes; a standing one has least_minutes and perhaps most_minutes.",
                field="minutes",
            )
        for figure in (self.minutes, self.least_minutes, self.most_minutes, self.floor_minutes):
            if figure is not None and not 0 <= figure <= 60 * MINUTES_PER_DAY:
                raise BadInput(
                    saying("Stage {key}: {figure} min is no such time.", key=self.key, figure=figure),
                    remedy="Give minutes, at most sixty days of them.",
                    field="minutes",
                )
        if self.minutes == 0:
            raise BadInput(
                saying("Stage {key} takes no time.", key=self.key), remedy="Give its minutes.", field="minutes"
            )
        if self.floor_minutes is not None and (not standing or self.floor_minutes > (self.least_minutes or 0)):
            raise BadInput(
                saying(
                    "Stage {key} has a floor of {floor_minutes} min above its {least_minutes} min.",
                    key=self.key,
                    floor_minutes=self.floor_minutes,
                    least_minutes=self.least_minutes,
                ),
                remedy="The floor is the shorter one.",
                field="floor_minutes",
            )
        if self.most_minutes is not None and (not standing or self.most_minutes < (self.least_minutes or 0)):
            raise BadInput(
                saying(
                    "Stage {key} cannot wait at least {least_minutes} and at most {most_minutes} min.",
                    key=self.key,
                    least_minutes=self.least_minutes,
                    most_minutes=self.most_minutes,
                ),
                remedy="The open time must be the longer one.",
                field="most_minutes",
            )

    @property
    def is_standing(self) -> bool:
        """True if nobody works on the vehicle."""
        return self.kind is StageKind.STANDING


@dataclass(frozen=True, slots=True)
class Job:
    """How some services are done.

    services: short names of book rows; rows: keys of single rows, where their short name means other work elsewhere.
    With neither it is done after a finding. components, closures: kinds it is for; empty: any. set_ups: what has to be
    done to the vehicle first (`on stands`, `wheels off`); jobs of one visit share them. skills: what whoever does it
    must be able to do; empty: anyone who works here. source, status: of the times, which are estimates unless the
    source says more.
    """

    key: str
    title: str
    services: tuple[str, ...]
    stages: tuple[Stage, ...]
    source: str
    status: Status
    rows: tuple[str, ...] = ()
    components: tuple[str, ...] = ()
    closures: tuple[ClosureKind, ...] = ()
    set_ups: tuple[str, ...] = ()
    skills: tuple[str, ...] = ()
    note: str = ""

    def __post_init__(self) -> None:
        if not self.stages:
            raise BadInput(
                saying("Job {key} has no stages.", key=self.key), remedy="Give at least one.", field="stages"
            )
        keys = [stage.key for stage in self.stages]
        for key in keys:
            if keys.count(key) > 1:
                raise BadInput(
                    saying("Job {key} has two stages called {stage}.", key=self.key, stage=key),
                    remedy="Give one another key.",
                    field="stages",
                )

    @property
    def hands_on_minutes(self) -> int:
        """Minutes somebody works on it."""
        return sum(stage.minutes or 0 for stage in self.stages)

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """Each caution of the stages once, in their order."""
        found = {caution.key: caution for stage in self.stages for caution in stage.cautions}
        return tuple(found.values())

    @property
    def tools(self) -> tuple[str, ...]:
        """Each tool of the stages once, in their order."""
        return tuple(dict.fromkeys(tool for stage in self.stages for tool in stage.tools))


@dataclass(frozen=True, slots=True)
class JobBook:
    """All jobs, by key."""

    jobs: dict[str, Job]

    def job_for(self, row: BookRow, component: str, tag: Tag | None = None) -> Job | None:
        """The job for a service on that kind of component, as its tag has it; None if there is none.

        A job for that very row goes before one for its short name, one for that closure before one for any, one for
        that kind of component before one for whatever carries the service; then by key.
        """
        closure = tag.closure.value.kind if tag is not None and tag.closure and tag.closure.value else None
        found = [
            job
            for job in self.jobs.values()
            if (row.key in job.rows or row.short in job.services)
            and (not job.components or component in job.components)
            and (not job.closures or closure in job.closures)
        ]

        def order(job: Job) -> tuple[bool, bool, bool, str]:
            return row.key not in job.rows, not job.closures, not job.components, job.key

        return min(found, key=order, default=None)

    def jobs_of(self, row: BookRow) -> tuple[Job, ...]:
        """Every job that does a service, whatever the component, by key."""
        return tuple(job for _, job in sorted(self.jobs.items()) if row.key in job.rows or row.short in job.services)
