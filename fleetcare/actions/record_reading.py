"""A reading of an odometer or hour meter is taken in, asked about, or refused; and taken back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from enum import StrEnum
from functools import partial
from typing import overload
from zoneinfo import ZoneInfo

from fleetcare.actions.gather import (
    Rules,
    facts_of,
    garage_day,
    garage_of,
    outlooks_from,
    rules_in_force,
    today_in,
    vehicle_in,
)
from fleetcare.actions.new_dial import in_unit, put_rolled_over, rolled_over, undo_dial, with_changed_meter
from fleetcare.actions.ports import Change, Store, WriteUnit
from fleetcare.actions.receipts import Answer, Once, answered_before, keep_answer
from fleetcare.actions.screening import Screened, screen
from fleetcare.actions.settle import Settled, settle
from fleetcare.due.causes import cause
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.judging import judge_reading
from fleetcare.due.vehicle_state import dial_by_reckoning
from fleetcare.errors import BadReading, NotFound
from fleetcare.figures import kept_day, kept_dial
from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.people import Garage
from fleetcare.fleet.vehicle import Meter, Vehicle
from fleetcare.language import as_kept, later, saying
from fleetcare.meter.checking import dial_value
from fleetcare.meter.doubt import Doubt, DoubtKind, Fits, KnownAlready, Refusal, RefusalKind
from fleetcare.meter.reading import Door, Reading, ReadingState
from fleetcare.meter.turning import turned_after
from fleetcare.quantities import MeterUnit

SplitOf = Callable[[Decimal | None], DutySplit]
"""The duty split, once it is known how far the vehicle ran since the reading before (None if that is not known)."""

TAKE_BACK_HOUR = 8


class Really(StrEnum):
    """Why a reading is right although it does not fit."""

    AS_READ = "as-read"
    """The vehicle really ran that far, or stood still."""
    CHANGED = "changed"
    """The meter was changed or set back; it counts on from this reading."""
    WRONG_LAST = "wrong-last"
    """The reading before it was wrong."""
    ROLLED_OVER = "rolled-over"
    """The dial began anew at nought after all its nines."""


_BELIEVED = (Really.AS_READ, Really.WRONG_LAST, Really.ROLLED_OVER)
"""Answers of somebody who was asked and looked at the dial once more: how far it ran is then believed."""


@dataclass(frozen=True, slots=True)
class Given:
    """A reading as somebody gave it.

    on, unit: today and the own unit of the dial if None. meter: its key; empty means the usual one. hold: nobody is
    there to be asked, so what does not fit is kept, shown to its keeper, and not used before somebody settles it.
    """

    vehicle: str
    value: Decimal
    by: str
    door: Door
    on: date | None = None
    unit: MeterUnit | None = None
    meter: str = ""
    hours: bool = False
    split: SplitOf | None = None
    really: Really | None = None
    note: str = ""
    hold: bool = False


@dataclass(frozen=True, slots=True)
class Recorded:
    """A reading that stands here now. `known`: it stood here before, nothing was changed.

    screened: other readings that are held, or used again, because of it. doubt: what is odd about it although it was
    stored, held or not.
    """

    vehicle: Vehicle
    reading: Reading
    previous: Reading | None
    reckoned: Decimal | None
    known: bool
    settled: Settled
    screened: tuple[Screened, ...] = ()
    doubt: Doubt | None = None


@dataclass(frozen=True, slots=True)
class Doubtful:
    """A reading that does not fit. Nothing was stored; somebody has to say what is right."""

    vehicle: Vehicle
    meter: Meter
    reading: Reading
    previous: Reading | None
    doubt: Doubt

    @property
    def may_stand(self) -> bool:
        """Whether a person's word settles it: a vehicle may have run far, but no dial runs backwards."""
        return self.doubt.kind is DoubtKind.FURTHER

    @property
    def ways(self) -> tuple[Really, ...]:
        """What may be said to save it all the same."""
        not_said = set() if self.may_stand else {Really.AS_READ}
        if not self._may_have_turned():
            not_said.add(Really.ROLLED_OVER)
        return tuple(way for way in Really if way not in not_said)

    def _may_have_turned(self) -> bool:
        if self.previous is None:
            return False
        before, now = (dial_value(r.value, r.unit, self.meter) for r in (self.previous, self.reading))
        return turned_after(before, now) is not None

    def sentence(self) -> str:
        """What does not fit, in one plain sentence."""
        return f"{self.vehicle.name}: {self.doubt.sentence(self.vehicle.unit)}"


class _AskBack(Exception):
    """Leaves the write unit without storing anything."""

    def __init__(self, doubtful: Doubtful) -> None:
        self.doubtful = doubtful
        super().__init__()


@overload
def record_reading(
    store: Store, rules: Rules, given: Given, *, now: datetime, base_url: str, feeds_later: bool = False
) -> Recorded | Doubtful:
    """Without a key: what became of it, or what is odd about it."""


@overload
def record_reading(
    store: Store,
    rules: Rules,
    given: Given,
    *,
    now: datetime,
    base_url: str,
    once: Once[Recorded],
    feeds_later: bool = False,
) -> Answer | Doubtful:
    """Under a key: what is answered, the first time and ever after, or what is odd about it."""


def record_reading(
    store: Store,
    rules: Rules,
    given: Given,
    *,
    now: datetime,
    base_url: str,
    once: Once[Recorded] | None = None,
    feeds_later: bool = False,
) -> Recorded | Doubtful | Answer:
    """Takes one reading in and works its vehicle out again, in one transaction.

    The same reading given twice is one reading. once: the answer is kept in the same transaction, and sending the same
    again gives the same answer. feeds_later: somebody waits, and calendars are brought up to date
    afterwards. Raises NotFound (vehicle, meter), BadReading (a day to come, less than nothing, against
    readings around it, a unit the meter does not have), and Clash if something else was sent under that key.
    """
    on = given.on or today_in(store, now)
    try:
        with store.write(Change(given.by, cause("the reading of {day}", day=on), now)) as unit:
            if once is None:
                return _record(unit, rules, given, now, base_url, feeds_later)
            # Asked inside the write: of two that come at the same moment the second finds what the first was answered.
            before = answered_before(unit, once)
            return before or keep_answer(unit, once, _record(unit, rules, given, now, base_url, feeds_later), now)
    except _AskBack as question:
        return question.doubtful


def take_back(
    store: Store,
    rules: Rules,
    *,
    mark: str,
    reading_id: int,
    who: str,
    now: datetime,
    base_url: str,
    feeds_later: bool = False,
) -> Recorded:
    """Takes back a reading that was entered since yesterday; the readings before it count again.

    feeds_later: as in `record_reading`. Raises NotFound if there is no such reading, BadReading if its time is over.
    """
    with store.write(Change(who, cause("a reading of {mark} taken back", mark=mark), now)) as unit:
        rules = rules_in_force(unit, rules)
        garage = garage_of(unit)
        facts = facts_of(unit, (mark,))
        reading = next((r for f in facts for r in f.readings if r.id == reading_id), None)
        if reading is None:
            raise NotFound("reading", str(reading_id))
        if now >= take_back_until(reading, garage):
            raise BadReading(
                "That reading stands for longer than a day.", remedy="Enter what the dial shows now instead."
            )
        reckoned = dial_by_reckoning(facts[0], rules.priors, garage_day(garage, now))
        known = reading.state is ReadingState.TAKEN_BACK
        if not known:
            unit.set_reading_state(reading_id, ReadingState.TAKEN_BACK, saying("taken back by {who}", who=who))
            _undo_company(unit, facts[0], reading)
            unit.log_change(mark, "reading", _in_words(reading), "taken back")
        screened = screen(unit, rules, facts_of(unit, (mark,)))
        settled = settle(unit, rules, now=now, base_url=base_url, marks=(mark,), feeds_later=feeds_later)
        previous = _previous(facts[0].readings, reading)
        return Recorded(facts[0].vehicle, reading, previous, reckoned, known, settled, screened)


def take_back_until(reading: Reading, garage: Garage) -> datetime:
    """Until when a reading can be taken back: eight in the morning of the day after it was entered, in the garage."""
    zone = ZoneInfo(garage.zone)
    entered_on = reading.entered_at.astimezone(zone).date()
    return datetime.combine(entered_on + timedelta(days=1), time(TAKE_BACK_HOUR), zone)


def _record(unit: WriteUnit, rules: Rules, given: Given, now: datetime, base_url: str, feeds_later: bool) -> Recorded:
    garage = garage_of(unit)
    rules = rules_in_force(unit, rules)
    today = garage_day(garage, now)
    vehicle = vehicle_in(unit, given.vehicle)
    meter = _meter(vehicle, given)
    facts = facts_of(unit, (vehicle.mark,))[0]
    reckoned = dial_by_reckoning(facts, rules.priors, today)
    reading = Reading(
        mark=vehicle.mark,
        meter=meter.key,
        on=given.on or today,
        value=given.value,
        unit=given.unit or meter.unit,
        entered_at=now,
        by=given.by,
        door=given.door,
        note=given.note,
    )
    if given.really is Really.WRONG_LAST and not _is_here(facts, reading):
        facts = _without_last(unit, facts, reading)
    previous = _previous(facts.readings, reading)
    has_rolled = given.really is Really.ROLLED_OVER and not _is_here(facts, reading)
    if has_rolled:
        vehicle, note = rolled_over(facts, meter, previous, reading)
        facts, reading = replace(facts, vehicle=vehicle), replace(reading, note=note)
    verdict = judge_reading(facts, reading, rules.priors, today=today)
    if isinstance(verdict, KnownAlready):
        stored = next(r for r in facts.readings if r.identity == reading.identity)
        as_it_stands = Settled(today, outlooks_from((facts,), rules, today), ())
        return Recorded(vehicle, stored, previous, reckoned, True, as_it_stands)
    is_new_dial = given.really is Really.CHANGED and previous is not None
    if isinstance(verdict, Refusal):
        field = "on" if verdict.kind is RefusalKind.FUTURE else "value"
        raise BadReading(
            saying("{name}: {verdict}", name=vehicle.name, verdict=partial(verdict.sentence, vehicle.unit)), field=field
        )
    if has_rolled:
        put_rolled_over(unit, vehicle, meter)
    if is_new_dial and previous is not None:
        vehicle = with_changed_meter(unit, vehicle, meter, previous, reading)
    elif isinstance(verdict, Doubt):
        doubtful = Doubtful(vehicle, meter, reading, previous, verdict)
        if not (given.hold or (doubtful.may_stand and given.really in _BELIEVED)):
            raise _AskBack(doubtful)
    if given.split is not None:
        reading = replace(reading, split=given.split(_gain(previous, reading)))
    if isinstance(verdict, Doubt) and given.really is not None:
        # Somebody was asked and said so, whatever the way: from now on it is right.
        reading = replace(reading, vouched_by=given.by or "somebody")
    _store(unit, reading)
    unit.log_change(vehicle.mark, "reading", "", _in_words(reading))
    now_known = facts_of(unit, (vehicle.mark,))
    # Where all fits plainly the walk that said so would only be walked again.
    is_plain = isinstance(verdict, Fits) and verdict.is_plain
    screened = () if is_plain else screen(unit, rules, now_known)
    if screened:
        now_known = facts_of(unit, (vehicle.mark,))
    settled = settle(
        unit, rules, now=now, base_url=base_url, marks=(vehicle.mark,), facts=now_known, feeds_later=feeds_later
    )
    stored = next(r for r in now_known[0].readings if r.identity == reading.identity)
    doubt = verdict if isinstance(verdict, Doubt) and not reading.vouched_by and not is_new_dial else None
    return Recorded(vehicle, stored, previous, reckoned, False, settled, _of_others(screened, stored), doubt)


def _of_others(screened: tuple[Screened, ...], stored: Reading) -> tuple[Screened, ...]:
    return tuple(each for each in screened if each.reading.id != stored.id)


def _is_here(facts: VehicleFacts, reading: Reading) -> bool:
    """Whether the very same reading counts already: then it was sent again, and nothing before it is set aside."""
    counts = (ReadingState.USED, ReadingState.HELD)
    return any(r.identity == reading.identity and r.state in counts for r in facts.readings)


def _store(unit: WriteUnit, reading: Reading) -> None:
    """Stores it, or brings the very same reading back to use if it was set aside before."""
    if unit.add_readings((reading,)):
        return
    for stored in unit.readings((reading.mark,)):
        if stored.identity == reading.identity and stored.id is not None:
            vouched = reading.vouched_by or None
            unit.set_reading_state(
                stored.id, ReadingState.USED, saying("given again by {who}", who=reading.by), vouched_by=vouched
            )


def _meter(vehicle: Vehicle, given: Given) -> Meter:
    if given.meter:
        found = next((meter for meter in vehicle.meters if meter.key == given.meter), None)
    elif given.hours or given.unit is MeterUnit.HOURS:
        found = vehicle.hour_meter
    else:
        found = vehicle.odometer or vehicle.hour_meter
    if found is None:
        raise NotFound(
            saying("meter on {name}", name=vehicle.name),
            given.meter or "hours",
            [meter.key for meter in vehicle.meters],
        )
    return found


def _previous(readings: tuple[Reading, ...], reading: Reading) -> Reading | None:
    earlier = [
        r
        for r in readings
        if r.meter == reading.meter
        and r.state is ReadingState.USED
        and r.on <= reading.on
        and r.identity != reading.identity
    ]
    return max(earlier, key=lambda r: (r.on, r.id or 0), default=None)


def _without_last(unit: WriteUnit, facts: VehicleFacts, reading: Reading) -> VehicleFacts:
    last = _previous(facts.readings, reading)
    if last is None or last.id is None:
        raise BadReading("There is no reading before this one.", remedy="Enter it as it stands.")
    note = _in_favour_of(reading)
    unit.set_reading_state(last.id, ReadingState.SUPERSEDED, note)
    unit.log_change(facts.vehicle.mark, "reading", _in_words(last), note)
    return replace(
        facts,
        readings=tuple(
            replace(r, state=ReadingState.SUPERSEDED, note=note) if r.id == last.id else r for r in facts.readings
        ),
    )


def _in_favour_of(reading: Reading) -> str:
    # Without the split: that is worked out later, and taking back has to find the very same words.
    told = saying(
        "set aside in favour of {reading}, read on {day}",
        reading=kept_dial(reading.value, reading.unit),
        day=kept_day(reading.on),
    )
    return as_kept(told, f"set aside in favour of {reading.value} {reading.unit.value} on {reading.on}")


def _undo_company(unit: WriteUnit, facts: VehicleFacts, reading: Reading) -> None:
    """What was changed together with the reading: a meter said to be changed, a reading set aside in its favour."""
    for stored in facts.readings:
        if stored.state is ReadingState.SUPERSEDED and stored.note == _in_favour_of(reading) and stored.id is not None:
            unit.set_reading_state(stored.id, ReadingState.USED, later("counts again"))
    undo_dial(unit, facts, reading)


def _gain(previous: Reading | None, reading: Reading) -> Decimal | None:
    if previous is None:
        return None
    gain = reading.value - in_unit(previous.value, previous.unit, reading.unit)
    return gain if gain > 0 else None


def _in_words(reading: Reading) -> str:
    split = "" if reading.split is None else f", {', '.join(f'{d} {s:.0%}' for d, s in reading.split.shares)}"
    return f"{reading.value} {reading.unit.value} on {reading.on}{split}"
