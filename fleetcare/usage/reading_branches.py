"""Courses a meter may have taken: each reading branches every course by what may stand behind the reading.

Multiple-hypothesis tracking (Reid, 1979) on one line: a course is a sequence of explanations, its weight the chance of
all readings so far. Distances in km (hours for an hour meter).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from fleetcare.meter.slips import EXPLAINED, Explanation, Repair, repairs
from fleetcare.usage.priors import Priors
from fleetcare.usage.reading_likelihood import IncrementLaw, PriorChances
from fleetcare.usage.single_clock import SingleClock
from fleetcare.usage.single_pace import Pace, with_increment

MOST_COURSES = 20
"""Courses kept side by side."""
HOPELESS = 1e-9
"""Share of the best course's weight below which a course is given up."""
WORTH_A_SLIP = 1e-3
"""Share of the best course's weight from which on slips are looked for on a course; below, two would come in a row."""
TURNS = (5, 6)
"""Digits of dials that may begin anew without anybody having said so."""
LOOKED_INTO = 3
"""Courses on which slips are looked for, the heaviest ones."""


class Seen(NamedTuple):
    """A reading made ready.

    op: operational days by its day. km: what it shows, in km. shown, km_per: the figure as typed, and its unit in km.
    is_blurred: it may be off by part of a unit, for it was given in another unit than the meter's own or with tenths.
    """

    place: int
    ordinal: int
    op: float
    km: float
    shown: float
    km_per: float
    is_blurred: bool
    vouched: bool


class Mark(NamedTuple):
    """What a course makes of one reading.

    is_right: the dial showed what was given. fits: it passed the gate there. meant: what the dial showed instead, km.
    """

    explanation: Explanation
    is_right: bool = False
    fits: bool = False
    meant: float | None = None
    repair: Repair | None = None


class Course(NamedTuple):
    """One course up to some reading: its weight, the pace, and where the meter stands.

    begun: there is a point to count from. op, ordinal, true: operational day, day and true distance there. place: that
    of the reading there, -1 if it is none. offset: true
    = dial + offset. changes: known changes of the meter passed so far. trail: marks of the readings that are open.
    """

    weight: float
    pace: Pace
    begun: bool = False
    op: float = 0.0
    ordinal: int = 0
    true: float = 0.0
    offset: float = 0.0
    changes: int = 0
    is_blurred: bool = False
    place: int = -1
    trail: tuple[Mark, ...] = ()

    @property
    def dial(self) -> float:
        """What the meter shows at the last point."""
        return self.true - self.offset


class Branch(NamedTuple):
    """One way on from a course.

    true: the distance at the reading, None if the course passes it over. increment: (distance, operational days) to
    learn from, None if the distance in between is unknown.
    """

    weight: float
    parent: Course
    mark: Mark
    true: float | None = None
    offset: float = 0.0
    changes: int = 0
    increment: tuple[float, float] | None = None

    def taken(self, seen: Seen, priors: Priors) -> Course:
        """The course with this reading behind it."""
        parent = self.parent
        trail = (*parent.trail, self.mark)
        if self.true is None:
            return parent._replace(weight=self.weight, trail=trail)
        pace = parent.pace
        if self.increment is not None:
            pace = with_increment(pace, *self.increment, priors)
        elif parent.begun:
            pace = replace(pace, back=pace.back + max(0.0, seen.op - parent.op))
        return Course(
            self.weight,
            pace,
            begun=True,
            op=seen.op,
            ordinal=seen.ordinal,
            true=self.true,
            offset=self.offset,
            changes=self.changes,
            is_blurred=seen.is_blurred,
            place=seen.place,
            trail=trail,
        )


@dataclass(frozen=True, slots=True)
class Dial:
    """The meter whose readings are walked; distances in km or hours.

    km: one unit of the dial. end: where it begins anew, inf if nobody says how many digits it has. changes: (ordinal,
    what the old one showed last, what the new one showed first), oldest first. anchor: (ordinal, operational day, what
    the dial showed) on the in-service date. trips: (ordinal, distance), by day.
    """

    priors: Priors
    chances: PriorChances
    clock: SingleClock
    km: float
    end: float
    rolls_over: bool
    is_hours: bool
    most_a_day: float
    changes: tuple[tuple[int, float, float], ...] = ()
    anchor: tuple[int, float, float] | None = None
    trips: tuple[tuple[int, float], ...] = ()

    def law(self, course: Course, seen: Seen) -> IncrementLaw:
        """What is expected between the last point of a course and a reading."""
        trips = self.trips_between(course.ordinal, seen.ordinal) if self.trips else 0.0
        return IncrementLaw(course.pace, self.priors, seen.op - course.op, trips)

    def trips_between(self, after: int, until: int) -> float:
        """Distance of the trips declared for these days."""
        return sum(far for on, far in self.trips if after < on <= until)

    def crossed(self, course: Course, seen: Seen) -> tuple[float, int, bool]:
        """(offset, changes passed, whether nobody knows what lies between) at a reading, known changes passed.

        On the day of a change the nearer of the two figures tells which meter was read.
        """
        offset, count, is_unknown = course.offset, course.changes, False
        while count < len(self.changes) and self.changes[count][0] <= seen.ordinal:
            day, end, start = self.changes[count]
            if day == seen.ordinal and abs(seen.km - end) < abs(seen.km - start):
                break
            stood = end + offset
            if course.begun:
                stood = max(self.unrolled(stood, course.true), course.true)
                # A change entered at a door ends the old meter at its last reading: what lay between, nobody knows.
                is_unknown = stood == course.true and seen.km == start
            offset = stood - start
            count += 1
        return offset, count, is_unknown

    def gain(self, course: Course, true: float, *, is_blurred: bool) -> float:
        """Distance from the last point to `true`, negative if it fell. A fall that comes from rounding is none.

        A dial known to roll over has done so if it fell by half.
        """
        gain = self.unrolled(true, course.true) - course.true
        return 0.0 if -self.km < gain < 0.0 and (is_blurred or course.is_blurred) else gain

    def limit(self, course: Course, seen: Seen) -> float:
        """More than this cannot be gained; one unit is let go for rounding."""
        return self.most_a_day * (seen.ordinal - course.ordinal) + self.km

    def unrolled(self, true: float, last: float) -> float:
        """The true distance, a turn further if that of a dial known to roll over fell by half of it."""
        return true + self.end if self.rolls_over and last - true > self.end / 2.0 else true


def branches(course: Course, seen: Seen, dial: Dial, *, with_slips: bool) -> list[Branch]:
    """Every way on from this course at a reading. with_slips: values that may have been meant among them."""
    offset, changes, is_unknown = dial.crossed(course, seen)
    if not course.begun:
        return _first(course, seen, dial, offset, changes)
    chances, weight = dial.chances, course.weight
    if is_unknown:
        mark = Mark(Explanation.RIGHT, is_right=True, fits=True)
        # It is right, and says nothing of the distance between.
        right = weight * chances.right * chances.any_figure(seen.km)
        return [Branch(right, course, mark, seen.km + offset, offset, changes)]
    law = dial.law(course, seen)
    ahead = _Ahead(course, seen, dial, law, offset, changes)
    gain = dial.gain(course, seen.km + offset, is_blurred=seen.is_blurred)
    if seen.vouched:
        if gain >= 0.0:
            mark = Mark(Explanation.RIGHT, is_right=True, fits=law.fits(gain))
            return [ahead.at(gain, weight * chances.right * max(law.density(gain), chances.any_figure(seen.km)), mark)]
        mark = Mark(Explanation.METER_CHANGED, is_right=True)
        return [ahead.anew(weight * chances.new_meter(seen.km, course.dial), mark)]

    found = []
    if 0.0 <= gain <= dial.limit(course, seen) and seen.km < dial.end:
        mark = Mark(Explanation.RIGHT, is_right=True, fits=law.fits(gain))
        found.append(ahead.at(gain, weight * chances.right * law.density(gain), mark))
    by_trip = chances.trip_meter(seen.km, course.dial)
    unexplained = chances.unexplained(seen.km, course.dial)
    passed = Mark(Explanation.TRIP_METER if by_trip > unexplained else Explanation.UNEXPLAINED)
    found.append(Branch(weight * (by_trip + unexplained), course, passed))
    found.append(ahead.anew(weight * chances.new_meter(seen.km, course.dial), Mark(Explanation.METER_CHANGED)))
    if with_slips:
        found.extend(ahead.slips())
    return found


def best_of(found: Sequence[Branch]) -> list[Branch]:
    """The branches worth keeping, heaviest first."""
    ordered = sorted(found, key=lambda branch: -branch.weight)[:MOST_COURSES]
    least = ordered[0].weight * HOPELESS
    return [branch for branch in ordered if branch.weight > least]


class _Ahead(NamedTuple):
    """A reading as seen from one course."""

    course: Course
    seen: Seen
    dial: Dial
    law: IncrementLaw
    offset: float
    changes: int

    def at(self, gain: float, weight: float, mark: Mark, offset: float | None = None) -> Branch:
        """The course goes on by this gain. offset: a new one, else that of the dial, rolled over if it has to be."""
        course, seen = self.course, self.seen
        true = course.true + gain
        if offset is None:
            shown = seen.km if mark.meant is None else mark.meant
            turned = self.dial.rolls_over and true - (shown + self.offset) > self.dial.end / 2.0
            offset = self.offset + self.dial.end if turned else self.offset
        increment = (self.law.everyday(gain), seen.op - course.op)
        return Branch(weight, course, mark, true, offset, self.changes, increment)

    def anew(self, weight: float, mark: Mark) -> Branch:
        """Another meter, from the figure read on; what lay between is taken as expected."""
        true = self.course.true + self.law.median + self.law.trips
        return Branch(weight, self.course, mark, true, true - self.seen.km, self.changes)

    def slips(self) -> Iterator[Branch]:
        """Values that may have been meant; one value by several slips is one branch, named for the likeliest."""
        dial, seen, law, course = self.dial, self.seen, self.law, self.course
        furthest = min(dial.limit(course, seen), law.furthest)
        yield from self._rolled_over(furthest)
        chances: dict[float, list[float]] = {}
        marks: dict[float, tuple[float, Mark]] = {}
        low = course.true - self.offset
        windows = [(low, low + furthest)]
        if dial.rolls_over and low + furthest >= dial.end:
            windows.append((low - dial.end, low + furthest - dial.end))
        for least, most in windows:
            for repair in repairs(
                seen.shown,
                low=max(0.0, least / seen.km_per - 1e-9),
                high=min(most, dial.end * (1 - 1e-12)) / seen.km_per + 1e-9,
                is_distance=not dial.is_hours,
            ):
                meant = repair.value * seen.km_per
                gain = dial.gain(course, meant + self.offset, is_blurred=seen.is_blurred)
                if not 0.0 <= gain <= furthest:
                    continue
                kind = EXPLAINED[repair.slip]
                weight = dial.chances.slips[kind] * repair.chance * repair.stretch * law.density(gain)
                chances.setdefault(gain, []).append(weight)
                if weight > marks.get(gain, (0.0,))[0]:
                    marks[gain] = weight, Mark(kind, fits=law.fits(gain), meant=meant, repair=repair)
        for gain, weights in chances.items():
            if gain in marks:
                yield self.at(gain, course.weight * sum(weights), marks[gain][1])

    def _rolled_over(self, furthest: float) -> Iterator[Branch]:
        """The dial began anew at nought, and nobody said that it does."""
        dial, seen, course = self.dial, self.seen, self.course
        if dial.rolls_over:
            return
        for turn in dict.fromkeys((*(10.0**digits * dial.km for digits in TURNS), dial.end)):
            gain = seen.km + self.offset + turn - course.true
            if course.dial <= turn <= dial.end and 0.0 <= gain <= furthest:
                chance = dial.chances.rolled_over(turn, self.law.median)
                weight = course.weight * chance * self.law.density(gain)
                mark = Mark(Explanation.ROLLED_OVER, fits=self.law.fits(gain), meant=seen.km + turn)
                yield self.at(gain, weight, mark, offset=self.offset + turn)


def _first(course: Course, seen: Seen, dial: Dial, offset: float, changes: int) -> list[Branch]:
    """A first reading: nothing but the in-service date speaks against it, and that one not by itself."""
    chances = dial.chances
    any_figure = chances.any_figure(seen.km)
    density, true = any_figure, seen.km + offset
    increment = None
    start = from_new(course, seen, dial)
    if start is not None:
        gain = true - start.true
        law = dial.law(start, seen)
        density = 0.1 * any_figure + 0.9 * law.density(gain)
        increment = (gain, seen.op - start.op) if gain >= 0.0 else None
    found = []
    if seen.vouched or seen.km < dial.end:
        mark = Mark(Explanation.RIGHT, is_right=True, fits=True)
        found.append(Branch(course.weight * chances.right * density, course, mark, true, offset, changes, increment))
    if not seen.vouched:
        wrong = course.weight * (1.0 - chances.right) * any_figure
        found.append(Branch(wrong, course, Mark(Explanation.UNEXPLAINED)))
    return found


def from_new(course: Course, seen: Seen, dial: Dial) -> Course | None:
    """The in-service date as the point before a first reading; None if it is unknown or too near."""
    if dial.anchor is None or seen.ordinal - dial.anchor[0] < dial.priors.anchor_min_days:
        return None
    ordinal, op, true = dial.anchor
    return course._replace(begun=True, ordinal=ordinal, op=op, true=true)
