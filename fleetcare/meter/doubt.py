"""Whether a reading just given fits, is known already, wants a second look, or cannot be taken."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from fleetcare.fleet.vehicle import Meter
from fleetcare.meter.checking import CheckedMeter, check_meter, dial_value, true_from_dial
from fleetcare.meter.guessing import Guess, Slip, best_guess
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.quantities import DistanceUnit, MeterUnit, km_to
from fleetcare.wording import counted, day_words, grouped, meter_words, place_words, unit_name, whole


class DoubtKind(StrEnum):
    """What is odd about a reading."""

    LOWER = "lower than last time"
    FURTHER = "further than the busy course"


class RefusalKind(StrEnum):
    """Why a reading cannot be taken."""

    FUTURE = "that day is still to come"
    NEGATIVE = "less than nothing"
    OUT_OF_ORDER = "not between the readings before and after that day"
    OVER_CAP = "more than can be driven in that time"
    WRONG_KIND = "hours given for a distance, or distance for hours"
    NOT_A_NUMBER = "not a number"
    OFF_DIAL = "more digits than the dial has"


@dataclass(frozen=True, slots=True)
class Fits:
    """It fits. distance: gained since the reading before, km or hours; None for the first one. days: since then."""

    distance: float | None
    days: int | None

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
class Doubt:
    """It does not fit, but may be right. Nothing is saved before somebody says so.

    distance: gained by the value as typed, km or hours (negative if lower); days: since `last`.
    guess: what may have been meant, if there is one good guess.
    """

    kind: DoubtKind
    value: Decimal
    unit: MeterUnit
    last: Reading
    distance: float
    days: int
    expected: tuple[float, float]
    guess: Guess | None

    def sentence(self, unit: DistanceUnit) -> str:
        """One plain line: what is odd, and what may have been meant."""
        shown = meter_words(self.value, self.unit)
        hours = self.unit is MeterUnit.HOURS
        if self.kind is DoubtKind.LOWER:
            last = f"{meter_words(self.last.value, self.last.unit)} on {_day(self.last.on)}"
            odd = f"{shown} is lower than last time, {last}."
        else:
            odd = (
                f"{shown} makes {_gain(self.distance, hours, unit)} in {counted(self.days, 'day')}; "
                f"at most {_gain(self.expected[1], hours, unit)} were expected."
            )
        return f"{odd} {guess_sentence(self.guess, self.unit)}".strip() if self.guess else odd


@dataclass(frozen=True, slots=True)
class Refusal:
    """It cannot be taken, and why. before, after: the readings around that day, where they matter."""

    kind: RefusalKind
    value: Decimal
    unit: MeterUnit
    on: date
    before: Reading | None = None
    after: Reading | None = None
    distance: float | None = None
    days: int | None = None
    cap_per_day: float | None = None

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
        if self.kind is RefusalKind.OVER_CAP and self.distance is not None and self.days is not None:
            hours = self.unit is MeterUnit.HOURS
            cap = _gain(self.cap_per_day or 0.0, hours, unit)
            return (
                f"{shown} makes {_gain(self.distance, hours, unit)} in {counted(self.days, 'day')}, and no more than "
                f"{cap} a day can be. Look at the dial again; if last time's reading was wrong, take that one back "
                f"first."
            )
        sides = [
            f"{word} {meter_words(side.value, side.unit)} on {_day(side.on)}"
            for word, side in (("at least", self.before), ("at most", self.after))
            if side is not None
        ]
        return f"{shown} on {_day(self.on)} does not lie between its neighbours: it is {' and '.join(sides)}."


Verdict = Fits | KnownAlready | Doubt | Refusal


def judge_reading(
    value: Decimal,
    unit: MeterUnit,
    on: date,
    *,
    meter: Meter,
    readings: Sequence[Reading],
    today: date,
    expected_gain: tuple[float, float] | None,
    max_km_per_day: float = 1600.0,
) -> Verdict:
    """Whether this reading of this meter can be taken as it stands.

    readings: all readings of the vehicle, any meter, any state. expected_gain: (low, high) true distance (km or hours)
    expected since the last used reading before `on`; None if nothing is known, then only order and the cap are judged.
    A value that lies between last time and the busy end fits, be it ever so little. Another reading of a day that has
    one stands in its place, so it is judged against the day before.
    """
    fault = _fault(value, unit, on, meter, today)
    if fault is not None:
        return Refusal(fault, value, unit, on)
    for reading in readings:
        same = reading.meter == meter.key and (reading.on, reading.value, reading.unit) == (on, value, unit)
        if same and reading.state in (ReadingState.USED, ReadingState.HELD):
            return KnownAlready(reading)

    others = [reading for reading in readings if reading.on != on]
    checked = check_meter(others, meter, max_km_per_day=max_km_per_day)
    ordinal = on.toordinal()
    position = int(checked.ordinals.searchsorted(ordinal))
    before = checked.readings[position - 1] if position else None
    after = checked.readings[position] if position < len(checked.readings) else None

    start = float(checked.distances[position - 1]) if position else None
    end = float(checked.distances[position]) if after is not None else None
    slack = 0.0 if unit is meter.unit else _unit_size(meter)
    cap = 24.0 if meter.unit is MeterUnit.HOURS else max_km_per_day

    def gain_of(dial: Decimal) -> float:
        return _true(checked, dial, unit, on, after_true=start) - (start or 0.0)

    gain = gain_of(value)
    if after is not None and end is not None:
        # A dial between two readings: the order alone decides, the forecast has nothing to add.
        if (start is not None and gain < -slack) or (start or 0.0) + gain > end + slack:
            return Refusal(RefusalKind.OUT_OF_ORDER, value, unit, on, before=before, after=after)
        return Fits(gain if before is not None else None, ordinal - before.on.toordinal() if before else None)
    if before is None:
        too_long = dial_value(value, unit, meter) >= 10**meter.digits
        return Refusal(RefusalKind.OFF_DIAL, value, unit, on) if too_long else Fits(None, None)

    days = ordinal - before.on.toordinal()
    low, high = expected_gain or (0.0, float("inf"))
    most = min(high, cap * days)
    if -slack <= gain <= most and (slack or dial_value(value, unit, meter) < 10**meter.digits):
        return Fits(max(0.0, gain), days)
    guess = best_guess(value, unit, gain_of=gain_of, low=low, high=most, days=days) if expected_gain else None
    if gain > cap * days and guess is None:
        return Refusal(RefusalKind.OVER_CAP, value, unit, on, before=before, distance=gain, days=days, cap_per_day=cap)
    kind = DoubtKind.LOWER if gain < 0 else DoubtKind.FURTHER
    return Doubt(kind, value, unit, before, gain, days, (low, most), guess)


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


def _fault(value: Decimal, unit: MeterUnit, on: date, meter: Meter, today: date) -> RefusalKind | None:
    if not value.is_finite():
        return RefusalKind.NOT_A_NUMBER
    if (unit is MeterUnit.HOURS) != (meter.unit is MeterUnit.HOURS):
        return RefusalKind.WRONG_KIND
    if value < 0:
        return RefusalKind.NEGATIVE
    if on > today:
        return RefusalKind.FUTURE
    return None


def _true(checked: CheckedMeter, value: Decimal, unit: MeterUnit, on: date, *, after_true: float | None) -> float:
    """True distance of a value that day. A dial that rolls over and fell by more than half of it has rolled over."""
    true = true_from_dial(checked, value, unit, on, near=None)
    if after_true is None:
        return true
    if any(change.on == on for change in checked.meter.changes):
        near = true_from_dial(checked, value, unit, on, near=after_true)
        true = near if abs(near - after_true) < abs(true - after_true) else true
    turn = 10**checked.meter.digits * _unit_size(checked.meter)
    if checked.meter.rolls_over and after_true - true > turn / 2:
        true += turn
    return true


def _unit_size(meter: Meter) -> float:
    """One dial unit in km or hours."""
    return 1.0 if meter.unit.distance is None else 1.0 / km_to(1.0, meter.unit.distance)


def _gain(distance: float, hours: bool | None, unit: DistanceUnit) -> str:
    return f"{whole(distance)} h" if hours else f"{whole(km_to(distance, unit))} {unit}"


def _day(day: date) -> str:
    # No clock here: the year is always said.
    return day_words(day, date(day.year - 1 if day.year > 1 else 2, 1, 1))
