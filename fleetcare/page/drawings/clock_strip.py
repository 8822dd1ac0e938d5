"""One visit to the bay by the clock: hands on as solid blocks, standing as upright bars, hours to the right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fleetcare.page.drawings.numbers import coordinate
from fleetcare.wording import span_words

WIDTH = 500.0
TOP, BOTTOM = 20.0, 38.0
HEIGHT = 56.0
BAR_EVERY = 6.0
LEAST = 3.0
"""A hand of some minutes beside a day of standing would not be seen narrower."""
_LETTER = 6.6
"""Advance of a figure of the strip lettering at 13 px, rounded up."""
_GAP = 6.0


@dataclass(frozen=True, slots=True)
class StripStretch:
    """One stretch: whether it is hands-on, its minutes, and the clock when it begins, as `09:00` or `Sun 12:20`."""

    is_hands_on: bool
    minutes: int
    begins: str


@dataclass(frozen=True, slots=True)
class StripText:
    """Lettering at a place. anchor: `start`, `middle` or `end`."""

    x: str
    text: str
    anchor: str


@dataclass(frozen=True, slots=True)
class ClockStrip:
    """Everything a template needs. hands: one path of all blocks; standing: one path of all bars."""

    view_box: str
    label: str
    hands: str
    standing: str
    spans: tuple[StripText, ...]
    clock: tuple[StripText, ...]


def clock_strip(stretches: Sequence[StripStretch], *, free: str, label: str) -> ClockStrip:
    """The strip of these stretches, which follow each other without a gap.

    free: the clock at the end. label: for who does not see it. What is written above a stretch or below a moment is
    left out where it would touch what stands there already; the label says it all.
    """
    widths = _widths([each.minutes for each in stretches])
    hands, bars = [], []
    spans: list[StripText] = []
    clock: list[StripText] = []
    x = span_end = clock_end = 0.0
    for place, (each, width) in enumerate(zip(stretches, widths, strict=True)):
        if each.is_hands_on:
            hands.append(
                f"M{coordinate(x)} {coordinate(TOP)}h{coordinate(width)}V{coordinate(BOTTOM)}h-{coordinate(width)}z"
            )
        else:
            count = max(1, round(width / BAR_EVERY))
            bars += [
                f"M{coordinate(x + width * (n + 0.5) / count)} {coordinate(TOP)}V{coordinate(BOTTOM)}"
                for n in range(count)
            ]
        said = f"{'' if each.is_hands_on else 'stands '}{span_words(each.minutes)}"
        room = len(said) * _LETTER
        begin = max(0.0, min(x + (width - room) / 2, WIDTH - room))
        if begin >= span_end and (room <= width or each.is_hands_on):
            spans.append(StripText(coordinate(begin), said, "start"))
            span_end = begin + room + _GAP
        room = len(each.begins) * _LETTER
        if (x >= clock_end or place == 0) and x + room + _GAP + len(free) * _LETTER <= WIDTH:
            clock.append(StripText(coordinate(x), each.begins, "start"))
            clock_end = x + room + _GAP
        x += width
    clock.append(StripText(coordinate(WIDTH), free, "end"))
    return ClockStrip(
        view_box=f"0 0 {coordinate(WIDTH)} {coordinate(HEIGHT)}",
        label=label,
        hands="".join(hands),
        standing="".join(bars),
        spans=tuple(spans),
        clock=tuple(clock),
    )


def _widths(minutes: Sequence[int]) -> list[float]:
    """Widths as the minutes are, none narrower than can be seen, together the whole strip."""
    scale = WIDTH / sum(minutes)
    raised = [max(each * scale, LEAST) for each in minutes]
    return [each * WIDTH / sum(raised) for each in raised]
