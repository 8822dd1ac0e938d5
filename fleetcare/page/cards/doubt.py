"""The page that asks back: a reading that does not fit, one good guess if there is one, three ways on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from fleetcare.fleet.people import Garage
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr
from fleetcare.meter.reading import Reading
from fleetcare.meter.turning import turned_after
from fleetcare.page.cards.entry import (
    DAY_FIELD,
    DEFAULT_DIGITS,
    FORM_FIELD,
    PART_FIELD,
    a_meter,
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
    heading = tr("Did you mean {shown}?", shown=shown) if shown else tr("Is that right?")
    return DoubtCard(
        frame=bare_frame(f"{vehicle.name}: {heading}", garage=garage, today=today, home_url=home_url),
        plate=vehicle_plate(vehicle),
        heading=heading,
        last=drum(last.value, digits=digits) if last else None,
        last_label=tr("Last time, {day}", day=day_words(last.on, today)) if last else "",
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
        why=_why(vehicle, a_meter(vehicle, meter), typed, typed_unit, gain, days, guessed, places, cap, hint),
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
        really_words=tr("and tell {keeper_name} why", keeper_name=keeper_name) if keeper_name else tr("all the same"),
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
    a_dial: str,
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
    runs = list(_misfit(vehicle, a_dial, typed, unit, gain, days, cap))
    if guess is None:
        return (*runs, Run(f" {hint}")) if hint else tuple(runs)
    shown = grouped(guess.value)
    told = f" {_guess_sentence(guess, places)} {shown}"
    if guess.gain is None:
        return (*runs, Run(f"{told}."))
    made = tr("{reading} in {days}", reading=meter_words(guess.gain, guess.unit), days=days_words(days))
    return (
        *runs,
        Run(f"{told}: "),
        Run(made, is_key=True),
        Run(tr(", which is what {vehicle} usually does.", vehicle=vehicle.name)),
    )


def _misfit(
    vehicle: Vehicle, a_dial: str, typed: Decimal, unit: MeterUnit, gain: Decimal | None, days: int, cap: Decimal | None
) -> Sentence:
    shown = grouped(typed)
    if gain is None:
        return (
            Run(tr("{shown} is ", shown=shown)),
            Run(tr("not what was expected"), is_key=True),
            Run(tr(" of {vehicle}.", vehicle=vehicle.name)),
        )
    if gain < 0:
        return (
            Run(tr("{shown} is ", shown=shown)),
            Run(tr("lower than last time"), is_key=True),
            Run(tr(", and {a_dial} does not run backwards.", a_dial=a_dial)),
        )
    made = tr("{reading} in {days}", reading=meter_words(gain, unit), days=days_words(days))
    return (
        Run(tr("{shown} would make ", shown=shown)),
        Run(made, is_key=True),
        Run(tr(", and that is not what {vehicle} usually does.", vehicle=vehicle.name))
        if cap is None
        else Run(tr(", and no more than {reading} a day can be.", reading=meter_words(cap, unit))),
    )


def _guess_sentence(guess: _Guess, places: Sequence[int]) -> str:
    digits = f"{guess.value:f}".partition(".")[0]
    match guess.kind:
        case GuessKind.EXCHANGED if len(places) == 2:
            return tr("With {two_places} the other way round it is", two_places=_two_places(min(places), len(digits)))
        case GuessKind.DIGIT_MISSING:
            return tr("With one digit more it would be")
        case GuessKind.DIGIT_TOO_MANY:
            return tr("With one digit less it would be")
        case GuessKind.TENTHS:
            return tr("Without the tenths it is")
        case GuessKind.ONE_DIGIT if places and places[0] < len(digits):
            digit = digits[places[0]]
            return tr(
                "With {word} {digit} in {place} place it is",
                word=tr("an") if digit == "8" else tr("a"),
                digit=digit,
                place=place_words(places[0]),
            )
        case GuessKind.OTHER_UNIT:
            return tr("In {unit} that is", unit=unit_name(guess.unit))
        case _:
            return tr("It may have been")


def _two_places(first: int, digits: int) -> str:
    if first == 0:
        return tr("the first two digits")
    if first + 2 == digits:
        return tr("the last two digits")
    return tr("the {place} and {place2} digits", place=place_words(first), place2=place_words(first + 1))


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
        reasons.append(ReasonChoice(Reason.IT_DOES, tr("{vehicle} really ran that far.", vehicle=vehicle.name)))
    reasons.append(
        ReasonChoice(
            Reason.CHANGED,
            tr(
                "The {dial} was changed or set back. From now on {vehicle} counts from this one.",
                dial=dial,
                vehicle=vehicle.name,
            ),
        )
    )
    if may_have_turned:
        reasons.append(
            ReasonChoice(Reason.ROLLED_OVER, tr("The {dial} rolled over: after all nines it began anew.", dial=dial))
        )
    if last is not None:
        reasons.append(
            ReasonChoice(Reason.WRONG_LAST, tr("The reading of {day} was wrong.", day=day_words(last.on, today)))
        )
    if unit is not MeterUnit.HOURS:
        other = MeterUnit.KM if unit is MeterUnit.MI else MeterUnit.MI
        reasons.append(ReasonChoice(Reason.OTHER_UNIT, tr("The dial shows {other}.", other=unit_name(other))))
    return tuple(reasons)
