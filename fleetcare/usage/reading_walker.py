"""The step from reading to reading: on one course, or with readings open on several.

A reading that plainly fits is taken at once. Otherwise every explanation is followed side by side until later readings
have told which one holds; then the open readings are judged, and gone over once more with those that are used.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TypeVar

from fleetcare.meter.slips import Explanation
from fleetcare.usage.reading_branches import (
    LOOKED_INTO,
    WORTH_A_SLIP,
    Branch,
    Course,
    Dial,
    Mark,
    Seen,
    best_of,
    branches,
    from_new,
)
from fleetcare.usage.reading_judged import NOTHING_EXPECTED, DialReading, Expected, Judged, Verdict, Walk
from fleetcare.usage.reading_likelihood import GATE_CHANCE, IncrementLaw
from fleetcare.usage.single_pace import with_increment

T = TypeVar("T")

CALM = 2
"""After so many readings in a row that fit the best course, the open readings before them are judged for good."""
MOST = 1e13
"""No dial shows so much; sums and ratios of what lies below are far from the end of what a float can hold."""
SURE = 0.995
"""After one that fits, if each of the open readings is right, or wrong, with this chance."""
MOST_OPEN = 8
"""Readings kept open at the most."""


class Walker:
    """Where the walk stands: on one course, or with readings open on several."""

    def __init__(self, readings: Sequence[DialReading], dial: Dial, start: Course) -> None:
        self._readings = readings
        self._dial = dial
        self._start = start
        self._judged: list[Judged | None] = [None] * len(readings)
        # Those used so far, the course after each, and the course before the last of them.
        self._used: list[int] = []
        self._after: list[Course] = []
        self._before = start
        self._course = start
        # Readings that are open: the course before them, and the courses they may have taken.
        self._open: list[Seen] = []
        self._base = start
        self._courses: list[Course] = []

    def take(self, place: int) -> None:
        """The only reading of the next day."""
        reading = self._readings[place]
        if not 0.0 <= reading.value < MOST:
            self._judge_impossible(place)
            return
        if not self._open:
            step = self._plain_step(self._course, reading, place)
            if step is not None:
                self._before = before = self._course
                self._course, expected = step
                self._used.append(place)
                self._after.append(self._course)
                chance = 1.0 if reading.vouched else GATE_CHANCE
                last = before.place if before.place >= 0 else None
                gain = (self._course.true - before.true) / self._dial.km
                self._judged[place] = Judged(
                    place, Verdict.ACCEPTED, chance, Explanation.RIGHT, None, expected, last, gain
                )
                return
        self._weigh(self._seen(place))

    def take_day(self, places: Sequence[int]) -> None:
        """Several readings of the next day, in the order in which they were given; one of them counts."""
        sound = [place for place in places if 0.0 <= self._readings[place].value < MOST]
        for place in places:
            if place not in sound:
                self._judge_impossible(place)
        if not sound:
            return
        before = self._courses[0] if self._open else self._course
        main = max(
            (n for n, place in enumerate(sound) if self._is_plain(before, self._readings[place])),
            default=len(sound) - 1,
        )
        self.take(sound[main])
        for n, place in enumerate(sound):
            if n != main:
                self._judge_beside(before, self._seen(place), is_later=n > main)

    def finish(self) -> Walk:
        """The walk as a whole."""
        if self._open:
            self._close()
        km = self._dial.km
        judged = tuple(judged for judged in self._judged if judged is not None)
        assert len(judged) == len(self._judged)  # every reading was taken
        return Walk(
            judged=judged,
            pace=self._after[-1].pace if self._after else self._start.pace,
            used=tuple(self._used),
            true=tuple(after.true / km for after in self._after),
            offsets=tuple(after.offset / km for after in self._after),
        )

    def _seen(self, place: int) -> Seen:
        return self._seen_of(self._readings[place], place)

    def _seen_of(self, reading: DialReading, place: int) -> Seen:
        km, value, per = self._dial.km, reading.value, reading.per_typed
        return Seen(
            place,
            reading.ordinal,
            self._dial.clock.at(reading.ordinal),
            value * km,
            value if per == 1.0 else round(value / per, 1),
            per * km,
            per != 1.0 or value != math.floor(value),
            reading.vouched,
        )

    def _is_plain(self, course: Course, reading: DialReading) -> bool:
        return reading.vouched or self._plain_step(course, reading, 0) is not None

    def _plain_step(self, course: Course, reading: DialReading, place: int) -> tuple[Course, Expected] | None:
        """The course after a reading that plainly fits, and what was expected; None if it does not.

        The one way that every clean reading goes, so it makes no more than it needs.
        """
        dial = self._dial
        if not course.begun or course.changes < len(dial.changes):
            return self._plain_start(course, self._seen_of(reading, place))
        ordinal, value, km = reading.ordinal, reading.value, dial.km
        shown = value * km + course.offset
        op = dial.clock.at(ordinal)
        blurred = reading.per_typed != 1.0 or value != value // 1.0
        gain = shown - course.true
        if gain < 0.0:
            gain = dial.gain(course, shown, is_blurred=blurred)
        trips = dial.trips_between(course.ordinal, ordinal) if dial.trips else 0.0
        law = IncrementLaw(course.pace, dial.priors, op - course.op, trips)
        if not law.fits(gain) or gain > dial.most_a_day * (ordinal - course.ordinal) + km or value * km >= dial.end:
            return None
        true, offset = course.true + gain, course.offset
        if dial.rolls_over and true - shown > dial.end / 2.0:
            offset += dial.end
        pace = with_increment(course.pace, law.everyday(gain), op - course.op, dial.priors)
        return Course(1.0, pace, True, op, ordinal, true, offset, course.changes, blurred, place), self._told(law)

    def _plain_start(self, course: Course, seen: Seen) -> tuple[Course, Expected] | None:
        """The same for a first reading, and while known changes of the meter lie ahead."""
        right = next((b for b in branches(course, seen, self._dial, with_slips=False) if b.mark.is_right), None)
        if right is None or not right.mark.fits:
            return None
        after = right.taken(seen, self._dial.priors)._replace(weight=1.0, trail=())
        return after, self._expected(course, seen)

    def _weigh(self, seen: Seen) -> None:
        """Follows every explanation of a reading that does not plainly fit, or that comes while others are open."""
        if not self._open:
            if self._take_if_likely(seen):
                return
            self._base, self._courses = self._course, [self._course]
            # The reading before may be the wrong one of the two. One that a person vouched for is not.
            if self._after and self._after[-1] is self._course and not self._readings[self._used[-1]].vouched:
                self._after.pop()
                self._base, self._courses = self._before, [self._before]
                self._follow(self._seen(self._used.pop()))
        self._follow(seen)
        if self._is_told():
            self._close()

    def _take_if_likely(self, seen: Seen) -> bool:
        """Takes a reading that is odd, but no less likely right than one that plainly fits: most odd ones are.

        If it was wrong all the same, the next one opens it again.
        """
        ways = branches(self._course, seen, self._dial, with_slips=True)
        right = next((way for way in ways if way.mark.is_right), None)
        if right is None or not self._course.begun:
            return False
        chance = sum(way.weight for way in ways if way.mark.is_right) / sum(way.weight for way in ways)
        if chance < GATE_CHANCE:
            return False
        marks = [(way.weight, way.mark) for way in ways]
        self._judge(seen, Verdict.ACCEPTED, chance, self._expected(self._course, seen), marks, self._course)
        self._before, self._course = self._course, right.taken(seen, self._dial.priors)._replace(weight=1.0, trail=())
        self._used.append(seen.place)
        self._after.append(self._course)
        return True

    def _follow(self, seen: Seen) -> None:
        least = self._courses[0].weight * WORTH_A_SLIP
        found: list[Branch] = []
        for n, course in enumerate(self._courses):
            with_slips = n < LOOKED_INTO and course.weight >= least
            found.extend(branches(course, seen, self._dial, with_slips=with_slips))
        kept = best_of(found)
        top = kept[0].weight
        self._courses = [b._replace(weight=b.weight / top).taken(seen, self._dial.priors) for b in kept]
        self._open.append(seen)

    def _is_told(self) -> bool:
        """True if later readings have told which of the open ones are right, or too many are open."""
        calm = 0
        for mark in reversed(self._courses[0].trail):
            if not (mark.is_right and mark.fits):
                break
            calm += 1
        if calm >= CALM or len(self._open) >= MOST_OPEN:
            return True
        return calm > 0 and all(not 1.0 - SURE < self._chance_right(n) < SURE for n in range(len(self._open)))

    def _chance_right(self, n: int) -> float:
        total = sum(course.weight for course in self._courses)
        return sum(course.weight for course in self._courses if course.trail[n].is_right) / total

    def _close(self) -> None:
        """Judges the open readings, and goes over them once more with those that are used."""
        dial, state, best = self._dial, self._base, self._courses[0]
        for n, seen in enumerate(self._open):
            marks = [(course.weight, course.trail[n]) for course in self._courses]
            chance = 1.0 if seen.vouched else self._chance_right(n)
            verdict = self._verdict(chance)
            expected = self._expected(state, seen)
            ways = branches(state, seen, dial, with_slips=best.trail[n].explanation is Explanation.ROLLED_OVER)
            right = next((way for way in ways if way.mark.is_right), None)
            if verdict is not Verdict.HELD and right is None:
                # Explanations that cannot all hold; whatever is used must not make distance fall.
                verdict, chance = Verdict.HELD, min(chance, math.nextafter(dial.priors.hold_below, 0.0))
            self._judge(seen, verdict, chance, expected, marks, state)
            if verdict is not Verdict.HELD and right is not None:
                after = right.taken(seen, dial.priors)._replace(weight=1.0, trail=())
                self._used.append(seen.place)
                self._after.append(after)
                self._before, state = state, after
            elif best.trail[n].explanation in (Explanation.METER_CHANGED, Explanation.ROLLED_OVER):
                # Held until somebody says so, but what comes after it goes on from there.
                anew = next((way for way in ways if way.mark.explanation is best.trail[n].explanation), None)
                if anew is not None:
                    state = anew.taken(seen, dial.priors)._replace(weight=1.0, trail=())
        self._course, self._open, self._courses = state, [], []

    def _verdict(self, chance: float) -> Verdict:
        priors = self._dial.priors
        if chance < priors.hold_below:
            return Verdict.HELD
        return Verdict.ASKED if chance < priors.ask_below else Verdict.ACCEPTED

    def _judge(
        self,
        seen: Seen,
        verdict: Verdict,
        chance: float,
        expected: Expected,
        marks: Sequence[tuple[float, Mark]],
        state: Course,
    ) -> None:
        """Writes down what is thought of one reading. marks: what each course makes of it, with its weight."""
        wrong = [(weight, mark) for weight, mark in marks if not mark.is_right]
        guess: Mark | None = None
        explanation = Explanation.RIGHT
        if wrong:
            likeliest = _heaviest((weight, mark.explanation) for weight, mark in wrong)
            explanation = likeliest if verdict is Verdict.HELD else explanation
            meant = _heaviest((weight, mark.meant) for weight, mark in wrong if mark.explanation is likeliest)
            guess = next(mark for _, mark in wrong if (mark.explanation, mark.meant) == (likeliest, meant))
            if meant is None or verdict is Verdict.ACCEPTED or not self._is_near(meant, seen, state):
                guess = None
        km = self._dial.km
        self._judged[seen.place] = Judged(
            seen.place,
            verdict,
            chance,
            explanation,
            guess.meant / km if guess is not None and guess.meant is not None else None,
            expected,
            state.place if state.place >= 0 else None,
            self._gain(state, seen),
            guess.repair if guess is not None else None,
        )

    def _gain(self, state: Course, seen: Seen) -> float:
        """What a reading makes since the last point as it stands, in the meter's unit; nought for a first one."""
        if not state.begun:
            return 0.0
        offset, _, _ = self._dial.crossed(state, seen)
        return self._dial.gain(state, seen.km + offset, is_blurred=seen.is_blurred) / self._dial.km

    def _is_near(self, meant: float, seen: Seen, state: Course) -> bool:
        """True if the value that may have been meant is worth offering."""
        offset, _, _ = self._dial.crossed(state, seen)
        return state.begun and self._dial.law(state, seen).is_near(
            self._dial.gain(state, meant + offset, is_blurred=seen.is_blurred)
        )

    def _judge_beside(self, before: Course, seen: Seen, *, is_later: bool) -> None:
        """Another reading of a day that has one. is_later: it was given after the one that counts, and fits worse."""
        ways = branches(before, seen, self._dial, with_slips=True)
        right = sum(way.weight for way in ways if way.mark.is_right)
        chance = 1.0 if seen.vouched else right / sum(way.weight for way in ways)
        if is_later and not seen.vouched:
            chance = min(chance, math.nextafter(self._dial.priors.hold_below, 0.0))
        marks = [(way.weight, way.mark) for way in ways]
        self._judge(seen, self._verdict(chance), chance, self._expected(before, seen), marks, before)

    def _judge_impossible(self, place: int) -> None:
        """No figure a dial can show; nobody can vouch for it."""
        self._judged[place] = Judged(place, Verdict.HELD, 0.0, Explanation.UNEXPLAINED, None, NOTHING_EXPECTED)

    def _expected(self, course: Course, seen: Seen) -> Expected:
        start = course if course.begun else from_new(course, seen, self._dial)
        return NOTHING_EXPECTED if start is None else self._told(self._dial.law(start, seen))

    def _told(self, law: IncrementLaw) -> Expected:
        low, likely, high = law.told()
        km = self._dial.km
        return (low, likely, high) if km == 1.0 else (low / km, likely / km, high / km)


def _heaviest(weighed: Iterable[tuple[float, T]]) -> T:
    """Of equal things the one with the largest weight in all; the first one met, of equal weights."""
    totals: dict[T, float] = {}
    for weight, thing in weighed:
        totals[thing] = totals.get(thing, 0.0) + weight
    return max(totals, key=lambda thing: totals[thing])
