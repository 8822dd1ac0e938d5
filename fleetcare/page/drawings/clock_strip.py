"""The clock strip: hours to the right, hands-on solid, standing as upright bars."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby

from fleetcare.language import tr
from fleetcare.page.drawings.numbers import coordinate
from fleetcare.wording import span_words, weekday_name, weekday_short

LEFT, TOP, HEIGHT, BASE = 6.0, 26.0, 26.0, 52.0
_NEAR = 46.0
"""Labels nearer to each other than that would run together."""


@dataclass(frozen=True, slots=True)
class Spell:
    """A spell in which somebody works, or in which the vehicle stands. Local instants of the garage."""

    begins: datetime
    ends: datetime
    stands: bool


@dataclass(frozen=True, slots=True)
class Block:
    """A rectangle on the strip."""

    x: str
    width: str
    stands: bool


@dataclass(frozen=True, slots=True)
class Mark:
    """A tick under the strip with its label, which may be empty."""

    x: str
    is_long: bool
    label: str


@dataclass(frozen=True, slots=True)
class ClockStrip:
    """The drawing. head: (x, anchor, words) above it. label: for who does not see it."""

    width: int
    end: str
    blocks: tuple[Block, ...]
    marks: tuple[Mark, ...]
    head: tuple[tuple[str, str, str, bool], ...]
    label: str


def clock_strip(spells: Sequence[Spell], width: int) -> ClockStrip | None:
    """The strip over these spells, oldest first; None for none. width: of the drawing, 900 on paper and 340 on phones.

    Ticks stand on whole hours, few enough that their labels do not touch.
    """
    if not spells:
        return None
    first = spells[0].begins.replace(minute=0, second=0, microsecond=0) - timedelta(hours=1)
    last = max(spell.ends for spell in spells) + timedelta(minutes=20)
    hours = (last - first) / timedelta(hours=1)
    scale = (width - 2 * LEFT) / hours

    def x(moment: datetime) -> float:
        return LEFT + (moment - first) / timedelta(hours=1) * scale

    blocks = tuple(
        Block(coordinate(x(s.begins)), coordinate(max(1.5, x(s.ends) - x(s.begins))), s.stands) for s in spells
    )
    return ClockStrip(
        width=width,
        end=coordinate(width - LEFT),
        blocks=blocks,
        marks=_marks(first, last, scale, x),
        head=_head(spells, x, width),
        label="; ".join(_spoken(spell) for spell in _joined(spells)),
    )


def _marks(first: datetime, last: datetime, scale: float, x: Callable[[datetime], float]) -> tuple[Mark, ...]:
    every = next((hours for hours in (1, 2, 3, 6, 12, 24, 48, 168) if hours * scale >= _NEAR), 336)
    tick = 1 if scale >= 5 else every
    marks: list[Mark] = []
    moment, begun = first + timedelta(hours=1), False
    while moment <= last:
        if moment.hour % min(tick, 24) == 0 or not begun:
            is_day = moment.hour == 0 or not begun
            labelled = not begun or (moment.hour % min(every, 24) == 0 and not _is_near(marks, x(moment)))
            label = f"{weekday_short(moment.weekday())} {moment:%H}" if is_day else f"{moment:%H}"
            marks.append(Mark(coordinate(x(moment)), labelled, label if labelled else ""))
            begun = True
        moment += timedelta(hours=1)
    return tuple(marks)


def _is_near(marks: Sequence[Mark], x: float) -> bool:
    last = next((float(mark.x) for mark in reversed(marks) if mark.label), None)
    return last is not None and x - last < _NEAR


def _joined(spells: Sequence[Spell]) -> list[Spell]:
    """Spells of one kind that follow each other, as one."""
    found = []
    for stands, group in groupby(spells, key=lambda spell: spell.stands):
        run = list(group)
        found.append(Spell(run[0].begins, run[-1].ends, stands))
    return found


def _head(
    spells: Sequence[Spell], x: Callable[[datetime], float], width: int
) -> tuple[tuple[str, str, str, bool], ...]:
    """Hands-on time at both ends, and over the longest standing what it is."""
    runs = _joined(spells)
    longest = max((run for run in runs if run.stands), key=lambda run: run.ends - run.begins, default=None)
    if longest is None:
        return (
            (coordinate(x(runs[0].begins)), "start", tr("hands-on {span}", span=span_words(_minutes(runs))), False),
        )
    before = [run for run in runs if run.ends <= longest.begins]
    after = [run for run in runs if run.begins >= longest.ends]
    wide = width > 600
    found = []
    if _minutes(before):
        found.append((coordinate(x(runs[0].begins)), "start", _hands_on(before, wide), False))
    middle = (x(longest.begins) + x(longest.ends)) / 2
    stands = tr("stands {span}{word}", span=span_words(_length(longest)), word=tr(": nobody working") if wide else "")
    found.append((coordinate(middle), "middle", stands, True))
    if _minutes(after):
        found.append((coordinate(x(runs[-1].ends)), "end", _hands_on(after, wide), False))
    return tuple(found)


def _hands_on(runs: Sequence[Spell], wide: bool) -> str:
    span = span_words(_minutes(runs))
    return tr("hands-on {span}", span=span) if wide else span


def _minutes(runs: Sequence[Spell]) -> int:
    return sum(_length(run) for run in runs if not run.stands)


def _length(run: Spell) -> int:
    return round((run.ends - run.begins) / timedelta(minutes=1))


def _spoken(run: Spell) -> str:
    day, end = weekday_name(run.begins.weekday()), weekday_name(run.ends.weekday())
    until = f"{run.ends:%H:%M}" if day == end else f"{end} {run.ends:%H:%M}"
    return tr(
        "{day} {begins} to {until} {word}",
        day=day,
        begins=f"{run.begins:%H:%M}",
        until=until,
        word=tr("standing") if run.stands else tr("hands-on"),
    )
