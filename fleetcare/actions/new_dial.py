"""What a person says of a dial: it was changed, or it rolled over. Put down as a fact of the meter, and undone again.

Not an action: `record_reading` writes it together with the reading, in one unit.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from fleetcare.actions.ports import WriteUnit
from fleetcare.due.facts import VehicleFacts
from fleetcare.errors import BadReading
from fleetcare.figures import kept_digits
from fleetcare.fleet.vehicle import Meter, MeterChange, Vehicle
from fleetcare.language import saying
from fleetcare.meter.checking import dial_value
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.meter.turning import turned_after
from fleetcare.quantities import MeterUnit, km_from, km_to
from fleetcare.wording import counted

MOST_DIGITS = 12


def with_changed_meter(unit: WriteUnit, vehicle: Vehicle, meter: Meter, last: Reading, reading: Reading) -> Vehicle:
    """The vehicle with the meter's change on the day of the reading: the old one ended at its last reading."""
    change = MeterChange(
        on=reading.on,
        old_end=in_unit(last.value, last.unit, meter.unit),
        new_start=in_unit(reading.value, reading.unit, meter.unit),
    )
    now_so = _with(vehicle, replace(meter, changes=(*meter.changes, change)))
    unit.put_vehicle(now_so)
    unit.log_change(vehicle.mark, "meter", f"{change.old_end} {meter.unit}", f"changed, from {change.new_start} on")
    return now_so


def rolled_over(facts: VehicleFacts, meter: Meter, last: Reading | None, reading: Reading) -> tuple[Vehicle, str]:
    """The vehicle with a dial that begins anew at nought, and the note that its reading carries.

    How many digits the dial has follows from the last reading: it can only have turned after all its nines. Raises
    BadReading if it was not near enough to them, so that a slip of the hand is never taken for a turn.
    """
    shows = dial_value(reading.value, reading.unit, meter)
    before = None if last is None else dial_value(last.value, last.unit, meter)
    if before is None or shows >= before:
        raise BadReading("A dial that rolled over shows less than last time.", remedy="Enter it as it stands.")
    digits = turned_after(before, shows)
    older = [dial_value(r.value, r.unit, meter) for r in facts.readings if _is_on_this_dial(r, meter)]
    if digits is None or max(older, default=before) >= 10**digits:
        raise BadReading(
            saying("A dial rolls over after all its nines, and last time it showed {before}.", before=f"{before:.0f}"),
            remedy="If another meter was fitted, say that the meter was changed.",
        )
    return _with(facts.vehicle, replace(meter, digits=digits, rolls_over=True)), rolled_note(meter)


def rolled_note(before: Meter) -> str:
    """What the reading after a turn of the dial carries: how the meter was put down before."""
    digits = kept_digits(before.digits)
    if before.rolls_over:
        return saying("The dial rolled over; before, it was put down with {digits}, rolling over.", digits=digits)
    return saying("The dial rolled over; before, it was put down with {digits}, not rolling over.", digits=digits)


def put_rolled_over(unit: WriteUnit, vehicle: Vehicle, meter: Meter) -> None:
    """Stores the vehicle whose dial rolled over. meter: as it was put down before."""
    unit.put_vehicle(vehicle)
    now_so = next(m for m in vehicle.meters if m.key == meter.key)
    if now_so != meter:
        unit.log_change(
            vehicle.mark, "meter", counted(meter.digits, "digit"), f"rolls over after {10**now_so.digits - 1}"
        )


def undo_dial(unit: WriteUnit, facts: VehicleFacts, reading: Reading) -> None:
    """A meter that was said to be changed, or to have rolled over, together with a reading stands as before."""
    for meter in facts.vehicle.meters:
        if meter.key != reading.meter:
            continue
        start = in_unit(reading.value, reading.unit, meter.unit)
        kept = tuple(c for c in meter.changes if not (c.on == reading.on and c.new_start == start))
        as_before = replace(meter, changes=kept)
        for digits in range(1, MOST_DIGITS + 1):
            for rolls in (False, True):
                told = replace(as_before, digits=digits, rolls_over=rolls)
                if reading.note == rolled_note(told):
                    as_before = told
        if as_before != meter:
            unit.put_vehicle(_with(facts.vehicle, as_before))
            what = "changed" if as_before.changes != meter.changes else "rolled over"
            unit.log_change(facts.vehicle.mark, "meter", what, f"not {what} after all")


def in_unit(value: Decimal, unit: MeterUnit, wanted: MeterUnit) -> Decimal:
    """A figure of the dial in another unit of distance, to the tenth; as it is if there is nothing to convert."""
    here, there = unit.distance, wanted.distance
    if unit is wanted or here is None or there is None:
        return value
    return Decimal(repr(round(km_to(km_from(value, here), there), 1)))


def _with(vehicle: Vehicle, meter: Meter) -> Vehicle:
    return replace(vehicle, meters=tuple(meter if m.key == meter.key else m for m in vehicle.meters))


def _is_on_this_dial(reading: Reading, meter: Meter) -> bool:
    since = max((change.on for change in meter.changes), default=None)
    return reading.meter == meter.key and reading.state is ReadingState.USED and (since is None or reading.on >= since)
