"""What is said of a reading: that it fits, is known already, wants a second look, or cannot be taken."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from fleetcare.fleet.vehicle import Meter
from fleetcare.meter.reading import Reading
from fleetcare.meter.slips import Explanation, Slip
from fleetcare.quantities import DistanceUnit, MeterUnit, km_to
from fleetcare.wording import counted, day_words, grouped, meter_words, place_words, unit_name, whole


class DoubtKind(StrEnum):
    """What is odd about a reading."""

    LOWER = "lower than last time"
    FURTHER = "not what was expected"
    BEYOND = "more than can be driven in that time, or than the dial shows"
    """No word of a person makes that right as it stands."""


class RefusalKind(StrEnum):
    """Why a reading cannot be taken."""

    FUTURE = "that day is still to come"
    NEGATIVE = "less than nothing"
    OUT_OF_ORDER = "not between the readings before and after that day"
    WRONG_KIND = "hours given for a distance, or distance for hours"
    NOT_A_NUMBER = "not a number"
    OFF_DIAL = "more digits than the dial has"


@dataclass(frozen=True, slots=True)
class Fits:
    """It fits. distance: gained since the reading before, km or hours; None for the first one. days: since then."""

    distance: float | None
    days: int | None
    is_plain: bool = False
    """Nothing about its meter is in doubt, before it and with it."""

    def sentence(self, unit: DistanceUnit) -> str:
        """One plain line."""
        if self.distance is None or self.days is None:
            return "The first reading of this meter."
        return f"{_gain(self.distance, None, unit)} in {counted(self.days, 'day')}."


@dataclass(frozen=True, slots=True)
class KnownAlready:
    """The same reading is there already."""

    reading: Reading

    def sentence(self, unit: DistanceUnit) -> str:
        """One plain line."""
        return f"{meter_words(self.reading.value, self.reading.unit)} on {_day(self.reading.on)} is there already."


@dataclass(frozen=True, slots=True)
class Guess:
    """What may have been meant.

    value: in the unit that was typed. positions: places in the digits as typed, counted from 0 at the left, that look
    exchanged, wrong, doubled or too many; for a missing digit its place in the digits of `value`.
    distance: gained since the reading before, km or hours. days: since that reading.
    """

    slip: Slip
    value: Decimal
    positions: tuple[int, ...]
    distance: float
    days: int


@dataclass(frozen=True, slots=True)
class Doubt:
    """It does not fit, but may be right. Nothing is saved before somebody says so.

    distance: gained by the value as typed, km or hours (negative if lower); days: since `last`. expected: (low, likely,
    high) distance. chance_right: that the dial shows it. explanation: the likeliest. guess: what may have been meant,
    if there is one good guess. cap_per_day: km or hours a day that cannot be passed, where the value lies beyond it.
    """

    kind: DoubtKind
    value: Decimal
    unit: MeterUnit
    last: Reading
    distance: float
    days: int
    expected: tuple[float, float, float]
    chance_right: float
    explanation: Explanation
    guess: Guess | None
    cap_per_day: float | None = None

    def sentence(self, unit: DistanceUnit) -> str:
        """One plain line: what is odd, and what may have been meant."""
        shown = meter_words(self.value, self.unit)
        hours = self.unit is MeterUnit.HOURS
        if self.kind is DoubtKind.LOWER:
            last = f"{meter_words(self.last.value, self.last.unit)} on {_day(self.last.on)}"
            odd = f"{shown} is lower than last time, {last}."
        else:
            odd = f"{shown} makes {_gain(self.distance, hours, unit)} in {counted(self.days, 'day')}; "
            if self.cap_per_day is not None:
                odd += f"no more than {_gain(self.cap_per_day, hours, unit)} a day can be."
            else:
                low, likely, high = self.expected
                odd += f"about {_gain(likely, hours, unit)} were expected, {_span(low, high, hours, unit)}."
        meant = guess_sentence(self.guess, self.unit) if self.guess else self.hint
        return f"{odd} {meant}".strip()

    @property
    def hint(self) -> str:
        """What may stand behind it, where no value can be guessed; empty if nothing comes to mind."""
        return _MAY_BE.get(self.explanation, "")


_MAY_BE = {
    Explanation.TRIP_METER: "That may be the trip meter.",
    Explanation.ROLLED_OVER: "The dial may have begun anew at nought.",
    Explanation.METER_CHANGED: "The meter may have been changed.",
}


@dataclass(frozen=True, slots=True)
class Refusal:
    """It cannot be taken, and why. before, after: the readings around that day, where they matter."""

    kind: RefusalKind
    value: Decimal
    unit: MeterUnit
    on: date
    before: Reading | None = None
    after: Reading | None = None

    def sentence(self, unit: DistanceUnit) -> str:
        """One plain line: what is wrong, and what to do."""
        shown = meter_words(self.value, self.unit) if self.value.is_finite() else ""
        if self.kind is RefusalKind.FUTURE:
            return "That day is still to come. Give today or a day before it."
        if self.kind is RefusalKind.NEGATIVE:
            return "A dial does not show less than nothing. Type what it shows, digits only."
        if self.kind is RefusalKind.NOT_A_NUMBER:
            return "That is not a number. Type what the dial shows, digits only."
        if self.kind is RefusalKind.WRONG_KIND:
            asked = "a distance" if self.unit is MeterUnit.HOURS else "hours"
            return f"This meter counts {asked}. Give it in its own unit, or name the other meter."
        if self.kind is RefusalKind.OFF_DIAL:
            return f"{shown} has more digits than this dial. Type what it shows, or give the dial its digits first."
        sides = [
            f"{word} {meter_words(side.value, side.unit)} on {_day(side.on)}"
            for word, side in (("at least", self.before), ("at most", self.after))
            if side is not None
        ]
        return f"{shown} on {_day(self.on)} does not lie between its neighbours: it is {' and '.join(sides)}."


Verdict = Fits | KnownAlready | Doubt | Refusal


def guess_sentence(guess: Guess, unit: MeterUnit) -> str:
    """The guess as one sentence; unit: the one typed. `With the first two digits the other way round it is 84 210.`"""
    shown = grouped(guess.value)
    if guess.slip is Slip.EXCHANGED:
        at = guess.positions[0]
        which = "first two" if at == 0 else f"{place_words(at)} and {place_words(at + 1)}"
        return f"With the {which} digits the other way round it is {shown}."
    if guess.slip is Slip.MISSING:
        return f"With one digit more it would be {shown}."
    if guess.slip in (Slip.DOUBLED, Slip.TOO_MANY):
        return f"With one digit less it would be {shown}."
    if guess.slip is Slip.TENTHS:
        return f"Without the tenths it is {shown}."
    if guess.slip is Slip.OTHER_UNIT:
        return f"In {unit_name(unit)} that is {shown}."
    at = guess.positions[0]
    digit = f"{guess.value:f}"[at]
    return f"With {'an' if digit == '8' else 'a'} {digit} in {place_words(at)} place it is {shown}."


def fault_of(value: Decimal, unit: MeterUnit, on: date, meter: Meter, today: date) -> RefusalKind | None:
    """What keeps a reading from being one at all, whatever the others say; None if nothing does."""
    if not value.is_finite():
        return RefusalKind.NOT_A_NUMBER
    if (unit is MeterUnit.HOURS) != (meter.unit is MeterUnit.HOURS):
        return RefusalKind.WRONG_KIND
    if value < 0:
        return RefusalKind.NEGATIVE
    if on > today:
        return RefusalKind.FUTURE
    return None


HELD_MARK = "Held: "
"""Begins the part of a note that says why a reading is held; what stands before it is the person's own."""


def held_note(own: str, why: str) -> str:
    """A note that keeps the person's own words and says after them why the reading is held."""
    return f"{own_note(own)} {HELD_MARK}{why}".strip()


def own_note(note: str) -> str:
    """A note without what was said about holding the reading."""
    return note.partition(HELD_MARK)[0].strip()


def held_because(note: str) -> str:
    """Why a reading is held, as its note says it; the whole note if a person wrote it."""
    own, mark, why = note.partition(HELD_MARK)
    return why if mark else own


def _gain(distance: float, hours: bool | None, unit: DistanceUnit) -> str:
    return f"{whole(distance)} h" if hours else f"{whole(km_to(distance, unit))} {unit}"


def _span(low: float, high: float, hours: bool, unit: DistanceUnit) -> str:
    if hours:
        return f"{whole(low)} to {whole(high)} h"
    return f"{whole(km_to(low, unit))} to {whole(km_to(high, unit))} {unit}"


def _day(day: date) -> str:
    # No clock here: the year is always said.
    return day_words(day, date(day.year - 1 if day.year > 1 else 2, 1, 1))
