"""The course of a job: when each stage can begin, until when the next hand must follow, when the vehicle is free again.

A job is a set of stages with waits between them. Its times are bounds on differences: the next hand comes no sooner
than so long after the last one (cure time), and no later than so long after it (open time). Such a set of bounds can be
kept exactly if its graph has no cycle of negative length; the earliest and latest instants are then longest and
shortest paths from the first stage. Source: Bellman-Ford; R. Dechter, I. Meiri, J. Pearl, Temporal constraint
networks, Artificial Intelligence 49 (1991), from memory. Jobs have some twenty stages, so nothing more is needed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import partial

from fleetcare.book.jobs import Stage, Wait
from fleetcare.errors import BadInput
from fleetcare.fleet.tag import Entry, Tag, WaitTime
from fleetcare.language import saying
from fleetcare.wording import joined

_MINUTE = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class Done:
    """What has happened to a stage: when it was begun, and when it was ended (None: it is in hand). Instants, UTC."""

    begun_at: datetime
    ended_at: datetime | None = None

    def __post_init__(self) -> None:
        if self.ended_at is not None and self.ended_at < self.begun_at:
            raise BadInput(
                saying(
                    "The stage ends at {ended_at} before it begins at {begun_at}.",
                    ended_at=f"{self.ended_at:%H:%M}",
                    begun_at=f"{self.begun_at:%H:%M}",
                ),
                remedy="Give the time it ended.",
                field="ended_at",
            )


@dataclass(frozen=True, slots=True)
class Step:
    """One stage in time. Hands-on: begins and ends of the work. Standing: from when on, and the earliest next hand.

    latest: hands-on, until when it must have begun (None: it may wait); standing, until when the next hand must follow.
    is_missed: it has not begun and that is past.
    """

    stage: Stage
    begins: datetime
    ends: datetime
    latest: datetime | None = None
    is_begun: bool = False
    is_done: bool = False
    is_missed: bool = False


@dataclass(frozen=True, slots=True)
class Course:
    """All stages in the order they are done, and when the vehicle may move again."""

    steps: tuple[Step, ...]
    free_at: datetime

    def step(self, key: str) -> Step:
        """The step of that stage. Raises KeyError."""
        return {step.stage.key: step for step in self.steps}[key]

    @property
    def next_hand(self) -> Step | None:
        """The first hands-on stage that is not done; None if only waiting is left, or nothing."""
        return next((step for step in self.steps if not step.stage.is_standing and not step.is_done), None)


def in_order(stages: Sequence[Stage]) -> tuple[Stage, ...]:
    """The stages so that each comes after those it follows, else as written; `after` says for each which those are.

    Raises BadInput, by name, for a stage that follows one there is not, for a loop, and for a standing stage that
    follows more than one other.
    """
    follows = _follows(stages)
    placed: list[Stage] = []
    left = list(stages)
    while left:
        done = {stage.key for stage in placed}
        ready = next((stage for stage in left if set(follows[stage.key]) <= done), None)
        if ready is None:
            loop = _loop(follows, [stage.key for stage in left])
            raise BadInput(
                saying("The stages go round in a loop: {loop}.", loop=" after ".join(loop)),
                remedy="Take one `after` of these away.",
                field="after",
            )
        placed.append(ready)
        left.remove(ready)
    return tuple(replace(stage, after=follows[stage.key]) for stage in placed)


def with_tag(stages: Sequence[Stage], tag: Tag | None, *, shortest: bool = False) -> tuple[Stage, ...]:
    """The stages with the waits that a component's tag states in place of the job's own.

    shortest: take the floor where there is one, in place of the time of the label. A longest wait below the shortest
    one is left as it is and found by `course`.
    """
    return tuple(_timed(stage, tag, shortest=shortest) if stage.is_standing else stage for stage in stages)


def course(
    stages: Sequence[Stage],
    begins_at: datetime,
    *,
    done: Mapping[str, Done] | None = None,
    now: datetime | None = None,
) -> Course:
    """When each stage can begin at the earliest and must begin at the latest.

    begins_at: when the first hand begins, as planned; a stage in `done` is fixed at what happened, and everything after
    it moves. now: stages not begun yet begin no sooner. Instants, UTC. Raises BadInput, by name, for a loop, for waits
    that cannot all be kept, and for a stage in `done` that there is not.
    """
    ordered = in_order(stages)
    happened = dict(done or {})
    for key in happened:
        if key not in {stage.key for stage in ordered}:
            raise BadInput(
                saying("There is no stage {key} in this job.", key=key), remedy="Give one of its stages.", field="stage"
            )
    _refuse_impossible(ordered)
    lengths = _lengths(ordered, happened, now)
    bounds = _bounds(ordered, lengths)
    at = _earliest(ordered, bounds, begins_at, _fixed(ordered, lengths, begins_at, happened), now)
    steps = tuple(_step(stage, bounds, at, begins_at, happened.get(stage.key)) for stage in ordered)
    return Course(steps, max(step.ends for step in steps))


def shortest_stay(stages: Sequence[Stage]) -> timedelta:
    """From the first hand to when the vehicle is free again, if every next hand follows as soon as it may."""
    start = datetime(2000, 1, 1, tzinfo=UTC)  # any instant will do
    return course(stages, start).free_at - start


def _timed(stage: Stage, tag: Tag | None, *, shortest: bool) -> Stage:
    least = stage.floor_minutes if shortest and stage.floor_minutes is not None else stage.least_minutes
    entry = _wait_of(tag, stage.wait) if tag is not None and stage.wait is not None else None
    stated = None if entry is None else entry.value
    if stated is None:
        return replace(stage, least_minutes=least, floor_minutes=None) if shortest else stage
    if stage.wait is Wait.OPEN_TIME:
        return replace(stage, most_minutes=max(stated.minutes, least or 0))
    least = stated.minutes if not shortest or stated.least_minutes is None else stated.least_minutes
    most = stage.most_minutes if stage.most_minutes is None else max(stage.most_minutes, least)
    return replace(stage, least_minutes=least, most_minutes=most, floor_minutes=None)


def _wait_of(tag: Tag, wait: Wait) -> Entry[WaitTime] | None:
    if wait is Wait.OPEN_TIME:
        return tag.open_time
    return tag.before_final_turn if wait is Wait.BEFORE_FINAL_TURN else tag.before_filling


# The order of the stages


def _follows(stages: Sequence[Stage]) -> dict[str, tuple[str, ...]]:
    """For each stage the keys of those it follows: as it says, or the one written before it."""
    keys = {stage.key for stage in stages}
    found: dict[str, tuple[str, ...]] = {}
    before: tuple[str, ...] = ()
    for stage in stages:
        found[stage.key] = stage.after or before
        before = (stage.key,)
        unknown = [key for key in stage.after if key not in keys]
        if unknown:
            raise BadInput(
                saying(
                    "Stage {key} follows {unknown}, which the job does not have.",
                    key=stage.key,
                    unknown=partial(joined, unknown),
                ),
                remedy="Name one of its stages.",
                field="after",
            )
        if stage.is_standing and len(found[stage.key]) > 1:
            raise BadInput(
                saying("Stage {key} stands after {found}.", key=stage.key, found=partial(joined, found[stage.key])),
                remedy="A wait counts from the end of one stage.",
                field="after",
            )
    return found


def _loop(follows: Mapping[str, tuple[str, ...]], stuck: Sequence[str]) -> list[str]:
    """Keys around a loop among stages of which each follows another of them, closing with the one it began with."""
    path = [stuck[0]]
    while True:
        step = next(key for key in follows[path[-1]] if key in stuck)
        if step in path:
            return [*path[path.index(step) :], step]
        path.append(step)


# Bounds on differences


@dataclass(frozen=True, slots=True)
class _Bound:
    """`later` begins at least `minutes` after `earlier` begins (a longest wait is a negative one, the other way)."""

    earlier: str
    later: str
    minutes: float
    is_longest: bool = False
    is_open_time: bool = False


def _bounds(stages: Sequence[Stage], lengths: Mapping[str, float]) -> list[_Bound]:
    """Every bound between the beginnings of two stages in order. lengths: minutes of the hands-on stages."""
    by_key = {stage.key: stage for stage in stages}
    found = []
    for key, before in ((stage.key, stage.after) for stage in stages):
        for other in before:
            first = by_key[other]
            if first.is_standing:
                found.append(_Bound(other, key, float(first.least_minutes or 0)))
                if first.most_minutes is not None:
                    found.append(_Bound(key, other, -float(first.most_minutes), is_longest=True, is_open_time=True))
                continue
            found.append(_Bound(other, key, lengths[other]))
            if by_key[key].is_standing:  # it stands from the moment the hand is off it
                found.append(_Bound(key, other, -lengths[other], is_longest=True))
    return found


def _relaxed(keys: Sequence[str], bounds: Sequence[_Bound], start: Mapping[str, float]) -> dict[str, float] | None:
    """The earliest beginnings that keep every bound, in minutes; None if there are none."""
    at = {key: start.get(key, 0.0) for key in keys}
    for _ in range(len(keys) + 1):
        moved = False
        for bound in bounds:
            soonest = at[bound.earlier] + bound.minutes
            if soonest > at[bound.later] + 1e-9:
                at[bound.later] = soonest
                moved = True
        if not moved:
            return at
    return None


def _fixed(
    stages: Sequence[Stage], lengths: Mapping[str, float], origin: datetime, done: Mapping[str, Done]
) -> dict[str, float]:
    """Beginnings that nothing moves any more: what has begun, and each wait from when the last hand came off."""
    begun = {key: (each.begun_at - origin) / _MINUTE for key, each in done.items()}
    by_key = {stage.key: stage for stage in stages}
    for stage in stages:  # in order, so that a wait after a wait finds the first one fixed
        before = by_key.get(stage.after[0]) if stage.is_standing and stage.after else None
        if before is not None and before.key in begun:
            begun[stage.key] = begun[before.key] + (lengths[before.key] or float(before.least_minutes or 0))
    return begun


def _earliest(
    stages: Sequence[Stage],
    bounds: Sequence[_Bound],
    origin: datetime,
    begun: Mapping[str, float],
    now: datetime | None,
) -> dict[str, float]:
    """The earliest beginning of each stage in minutes from `origin`; what has begun stands where it began."""
    floor = min(0.0, *begun.values()) if begun else 0.0
    if now is not None:
        floor = max(floor, (now - origin) / _MINUTE)
    # a hand that is still to come begins now at the soonest; a wait runs by itself from when the last hand came off
    start = {stage.key: float("-inf") if stage.is_standing else floor for stage in stages}
    start[stages[0].key] = floor
    start |= begun
    keys = [stage.key for stage in stages]
    free = [bound for bound in bounds if bound.later not in begun]
    found = _relaxed(keys, free, start)
    if found is None:  # a longest wait is past; it is said of its step, and everything else goes on as it can
        found = _relaxed(keys, [bound for bound in free if not bound.is_longest], start)
    assert found is not None  # bounds that only follow the order can always be kept
    return found


def _step(stage: Stage, bounds: Sequence[_Bound], at: Mapping[str, float], origin: datetime, done: Done | None) -> Step:
    begins = at[stage.key]
    ends = begins + float(stage.minutes or stage.least_minutes or 0)
    if done is not None and done.ended_at is not None and not stage.is_standing:
        ends = (done.ended_at - origin) / _MINUTE
    if stage.is_standing:
        latest = None if stage.most_minutes is None else begins + stage.most_minutes
    else:
        longest = [at[b.later] - b.minutes for b in bounds if b.earlier == stage.key and b.is_open_time]
        latest = min(longest, default=None)
    return Step(
        stage,
        begins=origin + timedelta(minutes=begins),
        ends=origin + timedelta(minutes=ends),
        latest=None if latest is None else origin + timedelta(minutes=latest),
        is_begun=done is not None,
        is_done=done is not None and done.ended_at is not None,
        is_missed=not stage.is_standing and latest is not None and begins > latest + 1e-9,
    )


def _refuse_impossible(stages: Sequence[Stage]) -> None:
    """Raises BadInput with the names of the stages whose waits cannot all be kept."""
    keys = [stage.key for stage in stages]
    bounds = _bounds(stages, {stage.key: float(stage.minutes or 0) for stage in stages})
    if _relaxed(keys, bounds, {}) is not None:
        return
    for stage in stages:  # the longest wait that makes it possible when it is taken away is to blame
        if stage.most_minutes is None:
            continue
        others = [bound for bound in bounds if not (bound.is_open_time and bound.later == stage.key)]
        if _relaxed(keys, others, {}) is not None:
            raise BadInput(
                saying(
                    "The waits cannot all be kept: after {key} the next hand must follow within "
                    "{most_minutes} min, and other stages keep it longer.",
                    key=stage.key,
                    most_minutes=stage.most_minutes,
                ),
                remedy="Move what takes so long before it, or correct one of the times.",
                field="most_minutes",
            )
    named = joined([stage.key for stage in stages if stage.is_standing])
    raise BadInput(
        saying("The waits of {named} cannot all be kept.", named=named),
        remedy="Correct their times.",
        field="most_minutes",
    )


def _lengths(stages: Sequence[Stage], done: Mapping[str, Done], now: datetime | None) -> dict[str, float]:
    """Minutes of each hands-on stage: as they were, or as planned, or longer if it is in hand for longer already."""
    found = {}
    for stage in stages:
        length = float(stage.minutes or 0)
        each = done.get(stage.key)
        if each is not None and each.ended_at is not None:
            length = (each.ended_at - each.begun_at) / _MINUTE
        elif each is not None and now is not None:
            length = max(length, (now - each.begun_at) / _MINUTE)
        found[stage.key] = length
    return found
