"""The page that asks back: a reading that does not fit, one good guess if there is one, three ways on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from fleetcare.fleet.people import Garage
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.meter.reading import Reading
from fleetcare.meter.turning import turned_after
from fleetcare.page.cards.entry import (
    DAY_FIELD,
    DEFAULT_DIGITS,
    FORM_FIELD,
    PART_FIELD,
    meter_name,
)
from fleetcare.page.cards.frame import Frame, Plate, bare_frame, vehicle_plate
from fleetcare.page.cards.sentences import Run, Sentence
from fleetcare.page.cards.waiting import meter_of
from fleetcare.page.drawings.drum import Drum, drum
from fleetcare.quantities import MeterUnit
from fleetcare.wording import day_words, days_words, grouped, meter_words, place_words, unit_name

ANSWER_FIELD = "answer"
GUESS_ANSWER = "guess"
REALLY_ANSWER = "really"
REASON_FIELD = "reason"


class GuessKind(StrEnum):
    """How the guess differs from what was typed."""

    EXCHANGED = "exchanged"
    DIGIT_MISSING = "digit missing"
    DIGIT_TOO_MANY = "digit too many"
    TENTHS = "tenths"
    ONE_DIGIT = "one digit"
    OTHER_UNIT = "other unit"


_ODD_PLACES = (GuessKind.EXCHANGED, GuessKind.ONE_DIGIT, GuessKind.DIGIT_TOO_MANY, GuessKind.TENTHS)
"""Kinds whose places are digits that were typed; of a missing digit there is nothing to mark."""


class Reason(StrEnum):
    """Why the dial really shows what was typed; the values of the radio buttons."""

    CHANGED = "changed"
    ROLLED_OVER = "rolled"
    WRONG_LAST = "wronglast"
    OTHER_UNIT = "unit"
    IT_DOES = "itdoes"


@dataclass(frozen=True, slots=True)
class ReasonChoice:
    """One reason to choose, with its words."""

    value: str
    words: str


@dataclass(frozen=True, slots=True)
class DoubtCard:
    """The page that asks back.

    guess, guess_words: value for the form and with its unit, empty without a good guess. hidden: what both forms carry,
    as name and value.
    """

    frame: Frame
    plate: Plate
    heading: str
    last: Drum | None
    last_label: str
    last_words: str
    last_unit: str
    typed: Drum
    typed_value: str
    typed_words: str
    typed_spoken: str
    typed_unit: str
    why: Sentence
    guess: str
    guess_words: str
    guess_unit: str
    again_url: str
    reasons: tuple[ReasonChoice, ...]
    really_words: str
    action_url: str
    hidden: tuple[tuple[str, str], ...]


def doubt_card(
    *,
    garage: Garage,
    vehicle: Vehicle,
    meter_key: str,
    today: date,
    on: date,
    typed: Decimal,
    typed_unit: MeterUnit,
    last: Reading | None,
    gain: Decimal | None,
    days: int,
    action_url: str,
    again_url: str,
    form_key: str,
    parts: Mapping[str, int],
    guess: Decimal | None = None,
    guess_kind: GuessKind | None = None,
    guess_unit: MeterUnit | None = None,
    guess_gain: Decimal | None = None,
    places: Sequence[int] = (),
    keeper_name: str = "",
    home_url: str = "",
    cap: Decimal | None = None,
    hint: str = "",
    hidden: Sequence[tuple[str, str]] = (),
) -> DoubtCard:
    """The page for one doubtful reading.

    gain: what the typed value would add since last time, in `typed_unit`, negative if it runs backwards; None without a
    reading. days: from the last reading to `on`. guess and guess_gain: in `guess_unit` (None: `typed_unit`). places:
    places of the digits that look wrong, from 0 at the left of the whole digits typed (two for exchanged); for a
    missing digit its place in the guess. cap: what it can do in a day at the most, in `typed_unit`, if the value lies
    beyond it; then no word makes it right as it stands. hint: what may stand behind it, said without a guess. hidden:
    what both forms carry besides, by name and value. parts: parts of the mix as typed. keeper_name: first name of who
    keeps the vehicle, told about a forced value.
    """
    meter = meter_of(vehicle, meter_key)
    digits = meter.digits if meter else DEFAULT_DIGITS
    exchanged = (places[0], places[1]) if guess_kind is GuessKind.EXCHANGED and len(places) == 2 else None
    guessed = None if guess is None else _Guess(guess, guess_kind, guess_unit or typed_unit, guess_gain)
    shown = grouped(guess) if guess is not None else ""
    heading = f"Did you mean {shown}?" if shown else "Is that right?"
    return DoubtCard(
        frame=bare_frame(f"{vehicle.name}: {heading}", garage=garage, today=today, home_url=home_url),
        plate=vehicle_plate(vehicle),
        heading=heading,
        last=drum(last.value, digits=digits) if last else None,
        last_label=f"Last time, {day_words(last.on, today)}" if last else "",
        last_words=f"{grouped(last.value)} {unit_name(last.unit, last.value)}" if last else "",
        last_unit=last.unit.value if last else "",
        typed=drum(
            typed,
            digits=digits,
            odd=places if guess_kind in _ODD_PLACES else (),
            exchanged=exchanged if guessed else None,
        ),
        typed_value=str(typed),
        typed_words=grouped(typed),
        typed_spoken=f"{grouped(typed)} {unit_name(typed_unit, typed)}",
        typed_unit=typed_unit.value,
        why=_why(vehicle, meter_name(vehicle, meter), typed, typed_unit, gain, days, guessed, places, cap, hint),
        guess=str(guess) if guess is not None else "",
        guess_words=meter_words(guess, guessed.unit) if guess is not None and guessed else "",
        guess_unit=guessed.unit.value if guessed else "",
        again_url=again_url,
        reasons=_reasons(
            vehicle,
            meter_name(vehicle, meter),
            last,
            typed_unit,
            today,
            cannot_be=(gain is not None and gain < 0) or cap is not None,
            may_have_turned=last is not None
            and last.unit is typed_unit
            and turned_after(float(last.value), float(typed)) is not None,
        ),
        really_words=f"and tell {keeper_name} why" if keeper_name else "all the same",
        action_url=action_url,
        hidden=(
            (FORM_FIELD, form_key),
            *hidden,
            (DAY_FIELD, on.isoformat()),
            *((f"{PART_FIELD}{duty}", str(count)) for duty, count in parts.items()),
        ),
    )


@dataclass(frozen=True, slots=True)
class _Guess:
    value: Decimal
    kind: GuessKind | None
    unit: MeterUnit
    gain: Decimal | None


def _why(
    vehicle: Vehicle,
    dial: str,
    typed: Decimal,
    unit: MeterUnit,
    gain: Decimal | None,
    days: int,
    guess: _Guess | None,
    places: Sequence[int],
    cap: Decimal | None,
    hint: str,
) -> Sentence:
    """What does not fit about the typed value, and what the guess would make of it."""
    runs = list(_misfit(vehicle, dial, typed, unit, gain, days, cap))
    if guess is None:
        return (*runs, Run(f" {hint}")) if hint else tuple(runs)
    shown = grouped(guess.value)
    told = f" {_guess_sentence(guess, places)} {shown}"
    if guess.gain is None:
        return (*runs, Run(f"{told}."))
    made = f"{meter_words(guess.gain, guess.unit)} in {days_words(days)}"
    return (*runs, Run(f"{told}: "), Run(made, is_key=True), Run(f", which is what {vehicle.name} usually does."))


def _misfit(
    vehicle: Vehicle, dial: str, typed: Decimal, unit: MeterUnit, gain: Decimal | None, days: int, cap: Decimal | None
) -> Sentence:
    shown = grouped(typed)
    article = "an" if dial[0] in "aeiouh" and dial != "hub odometer" else "a"
    if gain is None:
        return (Run(f"{shown} is "), Run("not what was expected", is_key=True), Run(f" of {vehicle.name}."))
    if gain < 0:
        return (
            Run(f"{shown} is "),
            Run("lower than last time", is_key=True),
            Run(f", and {article} {dial} does not run backwards."),
        )
    made = f"{meter_words(gain, unit)} in {days_words(days)}"
    return (
        Run(f"{shown} would make "),
        Run(made, is_key=True),
        Run(f", and that is not what {vehicle.name} usually does.")
        if cap is None
        else Run(f", and no more than {meter_words(cap, unit)} a day can be."),
    )


def _guess_sentence(guess: _Guess, places: Sequence[int]) -> str:
    digits = f"{guess.value:f}".partition(".")[0]
    match guess.kind:
        case GuessKind.EXCHANGED if len(places) == 2:
            return f"With {_two_places(min(places), len(digits))} the other way round it is"
        case GuessKind.DIGIT_MISSING:
            return "With one digit more it would be"
        case GuessKind.DIGIT_TOO_MANY:
            return "With one digit less it would be"
        case GuessKind.TENTHS:
            return "Without the tenths it is"
        case GuessKind.ONE_DIGIT if places and places[0] < len(digits):
            digit = digits[places[0]]
            return f"With {'an' if digit == '8' else 'a'} {digit} in {place_words(places[0])} place it is"
        case GuessKind.OTHER_UNIT:
            return f"In {unit_name(guess.unit)} that is"
        case _:
            return "It may have been"


def _two_places(first: int, digits: int) -> str:
    if first == 0:
        return "the first two digits"
    if first + 2 == digits:
        return "the last two digits"
    return f"the {place_words(first)} and {place_words(first + 1)} digits"


def _reasons(
    vehicle: Vehicle,
    dial: str,
    last: Reading | None,
    unit: MeterUnit,
    today: date,
    *,
    cannot_be: bool,
    may_have_turned: bool,
) -> tuple[ReasonChoice, ...]:
    reasons = []
    if last is not None and not cannot_be:
        reasons.append(ReasonChoice(Reason.IT_DOES, f"{vehicle.name} really ran that far."))
    reasons.append(
        ReasonChoice(
            Reason.CHANGED, f"The {dial} was changed or set back. From now on {vehicle.name} counts from this one."
        )
    )
    if may_have_turned:
        reasons.append(ReasonChoice(Reason.ROLLED_OVER, f"The {dial} rolled over: after all nines it began anew."))
    if last is not None:
        reasons.append(ReasonChoice(Reason.WRONG_LAST, f"The reading of {day_words(last.on, today)} was wrong."))
    if unit is not MeterUnit.HOURS:
        other = MeterUnit.KM if unit is MeterUnit.MI else MeterUnit.MI
        reasons.append(ReasonChoice(Reason.OTHER_UNIT, f"The dial shows {unit_name(other)}."))
    return tuple(reasons)
