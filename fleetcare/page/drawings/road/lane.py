"""One lane: windows packed into layers, their names where there is room, posts, brackets and rings around them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from fleetcare.language import tr
from fleetcare.page.drawings.lettering import Lettering, width_of
from fleetcare.page.drawings.numbers import coordinate as c
from fleetcare.page.drawings.road.form import Axis
from fleetcare.page.drawings.road.given import LaneGiven, VisitGiven, WindowGiven
from fleetcare.page.drawings.road.wedge import LEAST_WIDTH, Wedge, wedge

NAME_SIZE = 13.0
NUMBER_SIZE = 12.5
SPOKEN_SIZE = 12.5
GAP = 6.0
"""Between two windows of a layer, and between a window and its name."""
NEAR_POST = 34.0
"""A post so near behind today is stepped over by the words of what is past late."""
KNOB = 4.4
RING = 4.6
CAP = 9.0

Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Word:
    """A word on the strip. anchor: `start` or `end`. kind: its class."""

    text: str
    x: str
    y: str
    anchor: str
    kind: str


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle. is_inked: filled, or drawn by its edge."""

    x: str
    y: str
    width: str
    height: str
    is_inked: bool = False


@dataclass(frozen=True, slots=True)
class Knob:
    """A circle on a post, or a ring of its own."""

    x: str
    y: str
    is_inked: bool = False


@dataclass(frozen=True, slots=True)
class Lane:
    """Everything a template needs of one lane, in the order in which it is drawn."""

    mark: str
    name: str
    url: str
    under: Word | None
    name_at: Word | None
    plate_y: str
    bottom: str
    stands: tuple[Box, ...]
    posts: str
    brackets: str
    wedges: tuple[Wedge, ...]
    words: tuple[Word, ...]
    caps: tuple[Box, ...]
    knobs: tuple[Knob, ...]
    rings: tuple[Knob, ...]


@dataclass(frozen=True, slots=True)
class Placed:
    """A window with its places on the axis and where its name goes. takes: what it needs of its layer."""

    given: WindowGiven
    early: float
    likely: float
    late: float
    word: str
    word_x: float
    anchor: str
    takes: Span


def placed(given: WindowGiven, lane: LaneGiven, axis: Axis, today: float) -> Placed:
    """Where a window and its name (on a phone its number) lie.

    The name stands right of the wall; if it would pass the edge, left of the toe; if it passes the gutter there, on the
    window itself, which is then nearly as wide as the strip.
    """
    form = axis.form
    late = axis.x(given.late)
    early, likely = min(axis.x(given.early), late - LEAST_WIDTH), axis.x(given.likely)
    if form.named:
        word = f"{given.name}, {given.past_late}" if given.past_late else given.name
        lettering = Lettering.STRONG if given.past_late else Lettering.STRIP
        wide = width_of(word, NAME_SIZE, lettering)
    else:
        word = str(given.number)
        wide = width_of(word, NUMBER_SIZE, Lettering.STRONG)
    begin, end = max(early, form.gutter), min(late, form.right)
    after = end + GAP
    if late < today:
        after = today + GAP
        posts = sorted(axis.at(visit.begins) for visit in lane.visits)
        near = next((post for post in posts if today <= post <= today + NEAR_POST), None)
        if near is not None:
            after = near + KNOB + GAP
        end = today
    knobs = [axis.at(visit.begins) for visit in lane.visits if visit.number in given.visits]
    right, left = (after, after + wide), (begin - GAP - wide, begin - GAP)
    on_it_at = max(min(begin + GAP, form.right - wide), form.gutter)
    on_it = (on_it_at, on_it_at + wide)
    fits = [
        *([(right, "start")] if right[1] <= form.right and late <= form.right else []),
        *([(left, "end")] if left[0] >= form.gutter else []),
        (on_it, "start"),
    ]
    # A knob of its own would cover its words.
    clear = [(span, anchor) for span, anchor in fits if all(not _touches(span, knob) for knob in knobs)]
    span, anchor = (clear or fits)[0]
    takes = (min(begin, span[0]), max(end, span[1]))
    return Placed(given, early, likely, late, word, span[0] if anchor == "start" else span[1], anchor, takes)


def _touches(span: Span, knob: float) -> bool:
    return span[0] - KNOB < knob < span[1] + KNOB


def layers(windows: Iterable[Placed]) -> list[list[Placed]]:
    """Windows by layer: by early date, each in the first layer where it begins far enough after the last one there."""
    found: list[list[Placed]] = []
    for each in sorted(windows, key=lambda one: (one.given.early, one.given.late, one.given.name)):
        free = next((layer for layer in found if each.takes[0] - layer[-1].takes[1] >= GAP), None)
        if free is None:
            found.append([each])
        else:
            free.append(each)
    return found


def lane(given: LaneGiven, axis: Axis, today: float, top: float) -> tuple[Lane, float]:
    """The lane whose upper edge lies at `top`, and where its lower one lies."""
    form = axis.form
    shown = [each for each in given.windows if each.early < axis.end and (each.late >= axis.start or each.past_late)]
    rows = layers(placed(each, given, axis, today) for each in shown)
    visits = [each for each in given.visits if axis.start <= each.begins.date() < axis.end]
    spoken = [each for each in given.spoken if each.first < axis.end and each.last >= axis.start]
    sky = form.sky if visits or spoken or given.looks else form.bare
    height = max(form.least, sky + form.row * len(rows) + form.low)
    bottom = top + height
    bases = [top + sky + form.row * (number + 1) - 2 for number in range(len(rows))]
    wedges, words, knobs = [], [], []
    for base, row in zip(bases, rows, strict=True):
        for each in row:
            wedges.append(
                wedge(each.early, each.likely, each.late, today, base=base, height=form.wedge, left=form.gutter)
            )
            kind = "past" if each.given.past_late else "named" if form.named else "number"
            words.append(Word(each.word, c(each.word_x), c(base - 4), each.anchor, kind))
            knobs += [
                Knob(c(axis.at(visit.begins)), c(base - 4), visit.is_inked)
                for visit in visits
                if visit.number in each.given.visits
            ]
    posts = [axis.at(visit.begins) for visit in visits]
    brackets = [_bracket(each.first, each.last, axis) for each in spoken]
    if form.named:
        words += _sky_words(visits, posts, [s.name for s in spoken], brackets, axis, top)
    rings, ring_words = _rings(given, axis, posts, bottom, [each.takes for each in (rows[-1] if rows else [])])
    drawn = Lane(
        mark=given.mark,
        name=given.name,
        url=given.url,
        under=None,
        name_at=None,
        plate_y=c(top + 8 if form.named else top + (height - 19) / 2),
        bottom=c(bottom),
        stands=tuple(_stands(visit, axis, top, height) for visit in visits if visit.stands),
        posts="".join(f"M{c(x)} {c(top + 5)}V{c(bottom - 1)}" for x in posts),
        brackets="".join(f"M{c(a)} {c(top + 13)}V{c(top + 6)}H{c(b)}V{c(top + 13)}" for a, b in brackets),
        wedges=tuple(wedges),
        words=(*words, *ring_words),
        caps=tuple(
            Box(c(x - CAP / 2), c(top + 4), c(CAP), c(CAP), visit.is_inked)
            for x, visit in zip(posts, visits, strict=True)
        ),
        knobs=tuple(knobs),
        rings=rings,
    )
    return drawn, bottom


def _bracket(first: date, last: date, axis: Axis) -> Span:
    """From just after its first day begins to just before its last one ends."""
    begin, end = axis.x(first) + 1, axis.x(last) + axis.form.per_day - 1
    return max(begin, axis.form.gutter), min(max(end, begin), axis.form.right)


def _stands(visit: VisitGiven, axis: Axis, top: float, height: float) -> Box:
    begin = axis.at(visit.begins)
    end = min(max(axis.at(visit.free), begin + LEAST_WIDTH), axis.form.right)
    return Box(c(begin), c(top + 2), c(end - begin), c(height - 4))


def _sky_words(
    visits: Sequence[VisitGiven],
    posts: Sequence[float],
    names: Sequence[str],
    brackets: Sequence[Span],
    axis: Axis,
    top: float,
) -> list[Word]:
    """Dates of bay days and names of events: right of their mark if that place is free, else left, else left out."""
    form = axis.form
    taken: list[Span] = [*((x - CAP / 2, x + CAP / 2) for x in posts), *brackets]
    words = []
    asked = [
        *((x - 10, x + 10, v.label, NAME_SIZE, Lettering.STRONG, "bay") for x, v in zip(posts, visits, strict=True)),
        *((a - 5, b + 5, n, SPOKEN_SIZE, Lettering.STRIP, "spoken") for (a, b), n in zip(brackets, names, strict=True)),
    ]
    for left, right, text, size, lettering, kind in asked:
        wide = width_of(text, size, lettering)
        for span, x, anchor in (((right, right + wide), right, "start"), ((left - wide, left), left, "end")):
            if form.gutter <= span[0] and span[1] <= form.right and _is_free(span, taken):
                words.append(Word(text, c(x), c(top + 13), anchor, kind))
                taken.append(span)
                break
    return words


def _rings(
    given: LaneGiven, axis: Axis, posts: Sequence[float], bottom: float, last_layer: Sequence[Span]
) -> tuple[tuple[Knob, ...], list[Word]]:
    """A ring for each look again, beside a post of the same day; its words only where nothing else stands."""
    rings, words, taken = [], [], list(last_layer)
    for day in sorted(given.looks):
        if not axis.start <= day < axis.end:
            continue
        x = axis.within(day)
        near = next((post for post in posts if abs(post - x) < axis.form.per_day), None)
        if near is not None:
            x = near + 14
        rings.append(Knob(c(x), c(bottom - 8)))
        if axis.form.named:
            begin = x + 9
            span = (begin, begin + width_of(tr("look again"), SPOKEN_SIZE))
            if span[1] <= axis.form.right and _is_free(span, taken):
                words.append(Word(tr("look again"), c(begin), c(bottom - 4), "start", "spoken"))
            taken.append((x - RING, span[1]))
    return tuple(rings), words


def _is_free(span: Span, taken: Iterable[Span]) -> bool:
    return all(span[1] < begin or end < span[0] for begin, end in taken)
