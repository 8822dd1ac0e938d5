"""The reading form as values: what was typed, checked field by field. Nothing that cannot be read is passed over."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Collection
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from starlette.datastructures import FormData

from fleetcare.actions.receipts import Answer, Once
from fleetcare.actions.record_reading import Given, Really, Recorded, SplitOf
from fleetcare.chance import key_hash
from fleetcare.errors import BadInput, shown
from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.vehicle import Meter
from fleetcare.intake.dates import instant_words, parse_day, parse_instant
from fleetcare.intake.numbers import parse_dial
from fleetcare.language import as_spoken_now, saying
from fleetcare.meter.reading import Door
from fleetcare.page.cards.doubt import ANSWER_FIELD, GUESS_ANSWER, REALLY_ANSWER, REASON_FIELD, Reason
from fleetcare.page.cards.entry import (
    DAY_FIELD,
    FORM_FIELD,
    KEPT_FIELD,
    MOST_PARTS,
    ONCE_FIELD,
    PART_FIELD,
    UNIT_FIELD,
    VALUE_FIELD,
    WHO_FIELD,
)
from fleetcare.page.cards.frame import SEAL_FIELD
from fleetcare.quantities import MeterUnit
from fleetcare.web.desk import Desk

PARTS_FIELD = "parts"
LONGEST_AGAIN = 40
"""How much of what was typed is given back for correction; no dial shows more."""

OPEN_TIME = timedelta(hours=3)
"""How long a form counts for the day it was opened on: a double tap or a retry over midnight is still one reading."""

DIGITS_ONLY = "Digits only, please."

_ONCE = re.compile(r"[A-Za-z0-9_-]{16,64}")

_COUNTS = {str(count): count for count in range(MOST_PARTS + 1)}
_REALLY = {
    Reason.CHANGED.value: Really.CHANGED,
    Reason.ROLLED_OVER.value: Really.ROLLED_OVER,
    Reason.WRONG_LAST.value: Really.WRONG_LAST,
    Reason.IT_DOES.value: Really.AS_READ,
}


def given_of(form: FormData, desk: Desk, *, duties: Collection[str], last: DutySplit | None, now: datetime) -> Given:
    """The form as a reading.

    duties: keys of the duties there are. last: the split of the last reading, which stands for "none everywhere".
    Raises BadInput that names the field.
    """
    typed = text_of(form, VALUE_FIELD)
    if not typed:
        raise BadInput("Type what the dial shows, digits only.", field=VALUE_FIELD)
    chosen = _unit(form, desk.meter)
    value, named = parse_dial(typed, chosen if text_of(form, UNIT_FIELD) else None, field=VALUE_FIELD)
    if named is not None and named not in _units(desk.meter):
        raise BadInput(
            saying("{typed} is not in a unit of this dial.", typed=shown(typed, 20)),
            remedy=DIGITS_ONLY,
            field=VALUE_FIELD,
        )
    unit = named or chosen
    reason = text_of(form, REASON_FIELD) if text_of(form, ANSWER_FIELD) == REALLY_ANSWER else ""
    if reason == Reason.OTHER_UNIT.value and unit is not MeterUnit.HOURS:
        unit = MeterUnit.KM if unit is MeterUnit.MI else MeterUnit.MI
    day, zone = text_of(form, DAY_FIELD), ZoneInfo(desk.garage.zone)
    return Given(
        vehicle=desk.vehicle.mark,
        value=value,
        by=_who(form, desk),
        door=Door.PHONE,
        on=parse_day(day, field=DAY_FIELD) if day else _kept_on(form, now, zone) or _opened_on(form, now, zone),
        unit=unit,
        meter=desk.meter.key,
        split=_split(form, duties, last),
        # Whoever says yes to the guess has looked at the dial once more.
        really=Really.AS_READ if text_of(form, ANSWER_FIELD) == GUESS_ANSWER else _REALLY.get(reason),
    )


def once_of(form: FormData, desk: Desk, answer_of: Callable[[Recorded], Answer]) -> Once[Recorded] | None:
    """What makes this form count once, however often it is sent; None if it carries no key (an old page, a program).

    Everything in it counts as what was sent, but the seal and the day a phone kept it on: the first try may have got
    through without that. Raises BadInput for a key that no page of ours gives out.
    """
    key = text_of(form, ONCE_FIELD)
    if not key:
        return None
    if not _ONCE.fullmatch(key):
        raise BadInput("This form cannot be read.", remedy="Open the page again.", field=VALUE_FIELD)
    sent = sorted((name, text_of(form, name)) for name in form if name not in (ONCE_FIELD, SEAL_FIELD, KEPT_FIELD))
    return Once(
        key=key_hash(f"{Door.PHONE}\n{desk.vehicle.mark}\n{desk.by}\n{key}"),
        body=key_hash(json.dumps(sent)),
        # It is worked out in the write, where what is said is English, and shown to whoever sent the form.
        answer_of=as_spoken_now(answer_of),
    )


def form_key(now: datetime) -> str:
    """What an open form carries, so that sending it twice is harmless: when it was opened."""
    return instant_words(now.replace(microsecond=0))


def count_of(text: str) -> int:
    """How many rows of a list to leave out, from an address; 0 for what is no count."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 8 else 0


def text_of(form: FormData | None, field: str) -> str:
    """One field without blanks around it; empty if it is not there or is a file."""
    value = form.get(field) if form is not None else None
    return value.strip() if isinstance(value, str) else ""


def again(form: FormData | None, field: str) -> str:
    """What was typed, to be given back for correction: a short piece that can stand on a page."""
    return "".join(sign if sign.isprintable() else " " for sign in text_of(form, field)[:LONGEST_AGAIN])


def unit_again(form: FormData | None, meter: Meter) -> MeterUnit:
    """The unit that was chosen, or the dial's own."""
    asked = text_of(form, UNIT_FIELD)
    return next((unit for unit in _units(meter) if unit.value == asked), meter.unit)


def parts_again(form: FormData | None, duties: Collection[str]) -> dict[str, int]:
    """The parts that were chosen, by duty; whatever is no part of a duty is left out."""
    typed = {duty: text_of(form, f"{PART_FIELD}{duty}") for duty in duties}
    return {duty: _COUNTS[count] for duty, count in typed.items() if count in _COUNTS}


def parts_of(split: DutySplit) -> dict[str, int]:
    """The parts, at most 4 each, that come nearest to a split."""
    largest = max(share for _, share in split.shares)
    best = min(
        range(1, MOST_PARTS + 1),
        key=lambda top: sum(abs(share / largest * top - round(share / largest * top)) for _, share in split.shares),
    )
    return {duty: max(1, round(share / largest * best)) for duty, share in split.shares if share > 0}


def _who(form: FormData, desk: Desk) -> str:
    """Who gave the reading. At a sticker one of the vehicle's own people may be named; whoever else stays unnamed."""
    named = text_of(form, WHO_FIELD)
    return named if named in dict(desk.people) else desk.by


def _units(meter: Meter) -> tuple[MeterUnit, ...]:
    return (MeterUnit.HOURS,) if meter.unit is MeterUnit.HOURS else (MeterUnit.MI, MeterUnit.KM)


def _unit(form: FormData, meter: Meter) -> MeterUnit:
    asked = text_of(form, UNIT_FIELD)
    if asked and asked not in [unit.value for unit in _units(meter)]:
        # A unit that is not understood is never taken for the dial's own: that would be a slip by a factor.
        choice = " or ".join(unit.value for unit in _units(meter))
        raise BadInput(
            saying("{asked} is no unit of this dial.", asked=shown(asked, 20)),
            remedy=saying("It is {choice}.", choice=choice),
            field=UNIT_FIELD,
        )
    return unit_again(form, meter)


def _kept_on(form: FormData, now: datetime, zone: ZoneInfo) -> date | None:
    """The day on which a phone kept it. A phone may be in another zone, where it is tomorrow already."""
    kept = text_of(form, KEPT_FIELD)
    return min(parse_day(kept, field=DAY_FIELD), now.astimezone(zone).date()) if kept else None


def _opened_on(form: FormData, now: datetime, zone: ZoneInfo) -> date | None:
    """The day the form was opened, if that was just now; None stands for today, so that an old tab dates nothing."""
    try:
        opened_at = parse_instant(text_of(form, FORM_FIELD), field=FORM_FIELD)
    except BadInput:
        return None
    return opened_at.astimezone(zone).date() if timedelta(0) <= now - opened_at <= OPEN_TIME else None


def _split(form: FormData, duties: Collection[str], last: DutySplit | None) -> SplitOf | None:
    """The parts as a split; none everywhere means as last time, and as usual if nothing was said last time."""
    for name in form:
        duty = name.removeprefix(PART_FIELD)
        if name.startswith(PART_FIELD) and (duty not in duties or text_of(form, name) not in _COUNTS):
            raise BadInput(
                saying("{parts} is no part of {duty}.", parts=shown(text_of(form, name), 20), duty=shown(duty, 20)),
                remedy=saying("Choose none, or 1 to {most_parts}.", most_parts=MOST_PARTS),
                field=PARTS_FIELD,
            )
    typed = parts_again(form, duties)
    if not any(typed.values()):
        return None if last is None else lambda gain: last
    split = DutySplit.from_parts({duty: float(count) for duty, count in typed.items()})
    return lambda gain: split
