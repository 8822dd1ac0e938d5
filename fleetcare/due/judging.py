"""Whether a reading just given can be taken as it stands: the walk along its meter, put into a verdict."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from fleetcare.due.facts import VehicleFacts
from fleetcare.due.meter_walk import COUNTED, MeterWalk, walk_of
from fleetcare.fleet.vehicle import Meter, Vehicle
from fleetcare.meter.checking import HOURS_PER_DAY, dial_value
from fleetcare.meter.doubt import (
    Doubt,
    DoubtKind,
    Fits,
    Guess,
    KnownAlready,
    Refusal,
    RefusalKind,
    Verdict,
    fault_of,
)
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.quantities import MeterUnit
from fleetcare.usage.priors import Priors
from fleetcare.usage.reading_judged import Judged
from fleetcare.usage.reading_judged import Verdict as Judgement


def judge_reading(
    facts: VehicleFacts, reading: Reading, priors: Priors, *, today: date, only_order: bool = False
) -> Verdict:
    """Whether a reading of one of the vehicle's meters can be taken as it stands.

    reading: not stored yet; its meter must be one of the vehicle. It is judged by the readings before it and after it.
    Between two that are not in doubt themselves only the order decides. A value between last time and the busy end
    fits, be it ever so little. Another reading of a day that has one stands in its place, so it is judged against the
    day before. only_order: a figure of the past, of which nothing but order and the daily cap is asked.
    """
    vehicle = facts.vehicle
    meter = next(m for m in vehicle.meters if m.key == reading.meter)
    fault = fault_of(reading.value, reading.unit, reading.on, meter, today)
    if fault is not None:
        return Refusal(fault, reading.value, reading.unit, reading.on)
    same = [r for r in facts.readings if r.identity == reading.identity and r.state in COUNTED]
    if any(r.state is ReadingState.USED for r in same):
        return KnownAlready(same[0])
    # One that is held counts as not given yet, so that it is asked about and not just found.
    others = tuple(r for r in facts.readings if r not in same)
    given = replace(reading, state=ReadingState.USED)
    plain = _plainly(facts, others, given, meter, priors)
    if plain is not None:
        return plain
    before, after, standing = _around(walk_of(replace(facts, readings=others), meter, priors), given)
    # Judged against what stands: whether last time's reading was wrong is asked, not decided, while somebody is there.
    vouched = tuple(replace(r, vouched_by="it stands") if r.identity in standing else r for r in others)
    walked = walk_of(replace(facts, readings=(*vouched, given)), meter, priors)
    judged = walked.judged(given)

    out = _out_of_order(judged, given, meter, before, after)
    if out is not None:
        return out
    is_off = dial_value(given.value, given.unit, meter) >= 10**meter.digits
    if judged.last is None:
        return Refusal(RefusalKind.OFF_DIAL, given.value, given.unit, given.on) if is_off else Fits(None, None)
    last = walked.readings[judged.last]
    doubt = _doubt(judged, given, last, walked, vehicle)
    if is_off and doubt.guess is None:
        return Refusal(RefusalKind.OFF_DIAL, given.value, given.unit, given.on)
    is_usual = 0 <= judged.gain <= judged.expected[2] and not is_off
    if only_order or after is not None:
        fits = doubt.kind is DoubtKind.FURTHER and (only_order or judged.verdict is not Judgement.HELD)
    else:
        fits = doubt.kind is DoubtKind.FURTHER and (is_usual or judged.chance_right >= priors.ask_below)
    return Fits(max(0.0, doubt.distance), doubt.days) if fits else doubt


def held_doubt(walked: MeterWalk, place: int, vehicle: Vehicle) -> Doubt | None:
    """What is odd about a reading of a walk, None if there is none before it to compare it with."""
    judged, given = walked.walk.judged[place], walked.readings[place]
    if judged.last is None:
        return None
    last = walked.readings[judged.last]
    return _doubt(judged, replace(given, vouched_by=""), last, walked, vehicle)


class HeldDoubt(NamedTuple):
    """A reading that is held. doubt: what is odd about it as things stand; None if nothing stands before it."""

    reading: Reading
    doubt: Doubt | None


def held_doubts(facts: VehicleFacts, priors: Priors) -> tuple[HeldDoubt, ...]:
    """The held readings of a vehicle, by meter and day."""
    held = {each.meter for each in facts.readings if each.state is ReadingState.HELD}
    walks = [walk_of(facts, meter, priors) for meter in facts.vehicle.meters if meter.key in held]
    return tuple(
        HeldDoubt(reading, held_doubt(walked, place, facts.vehicle))
        for walked in walks
        for place, reading in enumerate(walked.readings)
        if reading.state is ReadingState.HELD
    )


def _plainly(
    facts: VehicleFacts, others: tuple[Reading, ...], given: Reading, meter: Meter, priors: Priors
) -> Fits | None:
    """The verdict on a newest reading if nothing about this meter is in doubt, before it and with it; else None.

    Nearly every reading goes this way, and walks its meter once.
    """
    if any(r.on >= given.on for r in others if r.meter == meter.key and r.state in COUNTED):
        return None
    if dial_value(given.value, given.unit, meter) >= 10**meter.digits:
        return None
    walked = walk_of(replace(facts, readings=(*others, given)), meter, priors)
    judged = walked.judged(given)
    if judged.last is None or judged.gain < 0:
        return None
    if any(each.verdict is not Judgement.ACCEPTED for each in walked.walk.judged):
        return None
    settled = all(r.state is not ReadingState.HELD for r in facts.readings)
    return Fits(judged.gain * walked.km_per_unit, (given.on - walked.readings[judged.last].on).days, is_plain=settled)


class _Neighbour(NamedTuple):
    """A used reading, its true distance and true less dial in the meter's unit, and whether it is beyond doubt."""

    reading: Reading
    true: float
    offset: float
    is_certain: bool


def _around(
    walked: MeterWalk, given: Reading
) -> tuple[_Neighbour | None, _Neighbour | None, frozenset[tuple[object, ...]]]:
    """The used readings before and after the day of one that is not among them, and the identities of all used."""
    before: _Neighbour | None = None
    after: _Neighbour | None = None
    walk = walked.walk
    for place, true, offset in zip(walk.used, walk.true, walk.offsets, strict=True):
        reading = walked.readings[place]
        is_certain = walk.judged[place].verdict is Judgement.ACCEPTED
        if reading.on < given.on:
            before = _Neighbour(reading, true, offset, is_certain)
        elif reading.on > given.on and after is None:
            after = _Neighbour(reading, true, offset, is_certain)
    return before, after, frozenset(walked.readings[place].identity for place in walk.used)


def _out_of_order(
    judged: Judged, given: Reading, meter: Meter, before: _Neighbour | None, after: _Neighbour | None
) -> Refusal | None:
    """A reading of the past that does not lie between its neighbours, where the one it runs against is certain."""
    if after is None:
        return None
    own = before.true + judged.gain if before else dial_value(given.value, given.unit, meter) + after.offset
    slack = 0.0 if given.unit is meter.unit else 1.0
    against = before if before is not None and judged.gain < -slack else after if own > after.true + slack else None
    if against is None or not against.is_certain:
        return None
    return Refusal(
        RefusalKind.OUT_OF_ORDER,
        given.value,
        given.unit,
        given.on,
        before=before.reading if before else None,
        after=after.reading,
    )


def _doubt(judged: Judged, given: Reading, last: Reading, walked: MeterWalk, vehicle: Vehicle) -> Doubt:
    meter, per = walked.meter, walked.km_per_unit
    cap = HOURS_PER_DAY if meter.unit is MeterUnit.HOURS else vehicle.max_km_per_day
    days = (given.on - last.on).days
    distance = judged.gain * per
    is_beyond = distance > cap * days + per or dial_value(given.value, given.unit, meter) >= 10**meter.digits
    kind = DoubtKind.BEYOND if is_beyond else DoubtKind.LOWER if judged.gain < 0 else DoubtKind.FURTHER
    low, likely, high = (gain * per for gain in judged.expected)
    return Doubt(
        kind=kind,
        value=given.value,
        unit=given.unit,
        last=last,
        distance=distance,
        days=days,
        expected=(low, likely, high),
        chance_right=judged.chance_right,
        explanation=judged.explanation,
        guess=_guess(judged, given, meter, days, per),
        cap_per_day=cap if is_beyond else None,
    )


def _guess(judged: Judged, given: Reading, meter: Meter, days: int, per: float) -> Guess | None:
    """The guess of the walk in the unit that was typed; None where the dial cannot show what may have been meant."""
    repair = judged.repair
    if repair is None or judged.guess is None:
        return None
    more = judged.guess - dial_value(given.value, given.unit, meter)
    value = Decimal(repr(round(repair.value, 1)))
    value = value.to_integral_value() if value == value.to_integral_value() else value
    return Guess(repair.slip, value, repair.positions, (judged.gain + more) * per, days)
