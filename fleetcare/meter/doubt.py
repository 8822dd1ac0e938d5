"""What is said of a reading: that it fits, is known already, wants a second look, or cannot be taken."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from fleetcare.figures import (
    Figure,
    kept_amount,
    kept_day,
    kept_days,
    kept_dial,
    kept_place,
    kept_unit,
    kept_value,
    kept_whole,
)
from fleetcare.fleet.vehicle import Meter
from fleetcare.language import Saying, as_kept, later, saying, together, tr
from fleetcare.meter.reading import Reading
from fleetcare.meter.slips import Explanation, Slip
from fleetcare.quantities import DistanceUnit, MeterUnit, km_to
from fleetcare.wording import counted, day_words, joined, meter_words, whole


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
            return tr("The first reading of this meter.")
        return tr("{gain} in {days}.", gain=_gain(self.distance, None, unit), days=counted(self.days, "day"))


@dataclass(frozen=True, slots=True)
class KnownAlready:
    """The same reading is there already."""

    reading: Reading

    def sentence(self, unit: DistanceUnit) -> str:
        """One plain line."""
        shown = meter_words(self.reading.value, self.reading.unit)
        return tr("{reading} on {day} is there already.", reading=shown, day=_day(self.reading.on))


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
        return tr(self.said(unit))

    def said(self, unit: DistanceUnit) -> Saying:
        """The same with its figures, as it can be kept; distances in this unit."""
        shown = kept_dial(self.value, self.unit)
        hours = self.unit is MeterUnit.HOURS
        if self.kind is DoubtKind.LOWER:
            last = kept_dial(self.last.value, self.last.unit)
            odd = saying(
                "{shown} is lower than last time, {last} on {day}.", shown=shown, last=last, day=kept_day(self.last.on)
            )
        else:
            gain, days = _kept_gain(self.distance, hours, unit), kept_days(self.days)
            if self.cap_per_day is not None:
                odd = saying(
                    "{shown} makes {gain} in {days}; no more than {most} a day can be.",
                    shown=shown,
                    gain=gain,
                    days=days,
                    most=_kept_gain(self.cap_per_day, hours, unit),
                )
            else:
                low, likely, high = self.expected
                odd = saying(
                    "{shown} makes {gain} in {days}; about {likely} were expected, {low} to {high}.",
                    shown=shown,
                    gain=gain,
                    days=days,
                    likely=_kept_gain(likely, hours, unit),
                    low=kept_whole(low if hours else km_to(low, unit)),
                    high=_kept_gain(high, hours, unit),
                )
        return together(odd, guess_said(self.guess, self.unit) if self.guess else self._may_be)

    @property
    def hint(self) -> str:
        """What may stand behind it, where no value can be guessed; empty if nothing comes to mind."""
        return tr(self._may_be) if self._may_be else ""

    @property
    def _may_be(self) -> str:
        may_be = _MAY_BE.get(self.explanation)
        return Saying(may_be) if may_be else ""


_MAY_BE = {
    Explanation.TRIP_METER: later("That may be the trip meter."),
    Explanation.ROLLED_OVER: later("The dial may have begun anew at nought."),
    Explanation.METER_CHANGED: later("The meter may have been changed."),
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
            return tr("That day is still to come. Give today or a day before it.")
        if self.kind is RefusalKind.NEGATIVE:
            return tr("A dial does not show less than nothing. Type what it shows, digits only.")
        if self.kind is RefusalKind.NOT_A_NUMBER:
            return tr("That is not a number. Type what the dial shows, digits only.")
        if self.kind is RefusalKind.WRONG_KIND:
            if self.unit is MeterUnit.HOURS:
                return tr("This meter counts a distance. Give it in its own unit, or name the other meter.")
            return tr("This meter counts hours. Give it in its own unit, or name the other meter.")
        if self.kind is RefusalKind.OFF_DIAL:
            return tr(
                "{shown} has more digits than this dial. Type what it shows, or give the dial its digits first.",
                shown=shown,
            )
        sides = [
            tr(said, reading=meter_words(side.value, side.unit), day=_day(side.on))
            for said, side in ((_AT_LEAST, self.before), (_AT_MOST, self.after))
            if side is not None
        ]
        return tr(
            "{shown} on {day} does not lie between its neighbours: it is {sides}.",
            shown=shown,
            day=_day(self.on),
            sides=joined(sides),
        )


_AT_LEAST = later("at least {reading} on {day}")
_AT_MOST = later("at most {reading} on {day}")

Verdict = Fits | KnownAlready | Doubt | Refusal


def guess_sentence(guess: Guess, unit: MeterUnit) -> str:
    """The guess as one sentence; unit: the one typed. `With the first two digits the other way round it is 84 210.`"""
    return tr(guess_said(guess, unit))


def guess_said(guess: Guess, unit: MeterUnit) -> Saying:
    """The same with its figures, as it can be kept."""
    shown = kept_value(guess.value)
    if guess.slip is Slip.EXCHANGED:
        at = guess.positions[0]
        if at == 0:
            return saying("With the first two digits the other way round it is {shown}.", shown=shown)
        return saying(
            "With the {one} and {other} digits the other way round it is {shown}.",
            one=kept_place(at),
            other=kept_place(at + 1),
            shown=shown,
        )
    if guess.slip is Slip.MISSING:
        return saying("With one digit more it would be {shown}.", shown=shown)
    if guess.slip in (Slip.DOUBLED, Slip.TOO_MANY):
        return saying("With one digit less it would be {shown}.", shown=shown)
    if guess.slip is Slip.TENTHS:
        return saying("Without the tenths it is {shown}.", shown=shown)
    if guess.slip is Slip.OTHER_UNIT:
        return saying("In {unit} that is {shown}.", unit=kept_unit(unit), shown=shown)
    at = guess.positions[0]
    digit = f"{guess.value:f}"[at]
    if digit == "8":
        return saying("With an {digit} in {place} place it is {shown}.", digit=digit, place=kept_place(at), shown=shown)
    return saying("With a {digit} in {place} place it is {shown}.", digit=digit, place=kept_place(at), shown=shown)


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


def held_note(own: str, why: str) -> Saying:
    """A note that keeps the person's own words and says after them why the reading is held.

    As text it goes into files, so figures in it are set apart by plain blanks.
    """
    own = own_note(own)
    made = saying("{own} Held: {why}", own=own, why=why) if own else saying("Held: {why}", why=why)
    return as_kept(made, with_plain_blanks(made))


def with_plain_blanks(text: str) -> str:
    """The text as it goes into files and the log, where figures are set apart by plain blanks."""
    return str(text).replace("\u2009", " ").replace("\u00a0", " ")


def own_note(note: str) -> str:
    """A note without what was said about holding the reading."""
    return note.partition(HELD_MARK)[0].strip()


def held_because(note: str) -> str:
    """Why a reading is held, as its note says it, for `tr`; the whole note if a person wrote it."""
    own, mark, why = note.partition(HELD_MARK)
    if isinstance(note, Saying) and isinstance(said := note.facts.get("why"), str):
        return said
    return why if mark else own


def _kept_gain(distance: float, hours: bool, unit: DistanceUnit) -> Figure:
    return kept_amount(distance, "h") if hours else kept_amount(km_to(distance, unit), unit)


def _gain(distance: float, hours: bool | None, unit: DistanceUnit) -> str:
    return f"{whole(distance)} h" if hours else f"{whole(km_to(distance, unit))} {unit}"


def _day(day: date) -> str:
    # No clock here: the year is always said.
    return day_words(day, date(day.year - 1 if day.year > 1 else 2, 1, 1))
