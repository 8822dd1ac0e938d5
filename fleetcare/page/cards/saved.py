"""After saving: what the reading gave, the windows it moved, and the way back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from fleetcare.due.outlook import DueWindow, LineOutlook, VehicleOutlook
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.people import Garage
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr
from fleetcare.language.measure import told_in
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.page.cards.entry import FORM_FIELD
from fleetcare.page.cards.frame import Frame, Plate, bare_frame, vehicle_plate
from fleetcare.page.cards.rod import Rod, rod
from fleetcare.page.cards.sentences import service_title
from fleetcare.page.drawings.dipstick import PHONE
from fleetcare.quantities import DistanceUnit, km_from, km_to
from fleetcare.wording import (
    counted,
    counted_words,
    day_short,
    day_words,
    days_words,
    distance_words,
    meter_words,
    parts_words,
    sentence,
    share_words,
    unit_name,
    weekday_words,
    whole,
)

_RODS_AT_MOST = 8
_FINEST_PARTS = 12


@dataclass(frozen=True, slots=True)
class GivenWindow:
    """One window that the reading gave: title, rod, three dates, and what it was before if it moved."""

    title: str
    rod: Rod
    early: str
    likely: str
    late: str
    was: str


@dataclass(frozen=True, slots=True)
class SavedCard:
    """The page after saving. take_back: the button is there. hidden: name and value that its form carries."""

    frame: Frame
    plate: Plate
    heading: str
    told: str
    windows: tuple[GivenWindow, ...]
    more: str
    next_reading: str
    take_back_url: str
    take_back_until: str
    hidden: tuple[tuple[str, str], ...]
    done_url: str


@dataclass(frozen=True, slots=True)
class TakenBackCard:
    """The page after a reading was taken back."""

    frame: Frame
    plate: Plate
    heading: str
    told: str
    again_url: str
    done_url: str


def saved_card(
    *,
    garage: Garage,
    vehicle: Vehicle,
    reading: Reading,
    previous: Reading | None,
    outlook: VehicleOutlook,
    before: Mapping[LineKey, DueWindow | None],
    today: date,
    take_back_url: str = "",
    take_back_until: datetime | None = None,
    form_key: str = "",
    reader_name: str = "",
    reckoned: Decimal | None = None,
    next_wanted_on: date | None = None,
    keeper_name: str = "",
    duty_titles: Mapping[str, str] | None = None,
    done_url: str = "",
    home_url: str = "",
    hidden: Sequence[tuple[str, str]] = (),
) -> SavedCard:
    """What one reading gave.

    previous: the reading before it on the same meter, or None. outlook: the vehicle after the reading. before: the
    windows as they were. take_back_until: local to the garage; None: as long as the link works. reckoned: what the dial
    was reckoned to show, in the reading's unit. keeper_name: who settles a reading that is held. duty_titles: words by
    duty key. hidden: what the form that takes it back carries besides.
    """
    held = reading.state is ReadingState.HELD
    shown = meter_words(reading.value, reading.unit)
    heading = tr("Kept aside: {shown}", shown=shown) if held else tr("Saved: {shown}", shown=shown)
    lines = sorted(
        ((line, line.window) for line in outlook.lines if line.window), key=lambda row: (row[1].late, row[0].key)
    )
    given = (
        () if held else tuple(_given(outlook, line, window, before, today) for line, window in lines[:_RODS_AT_MOST])
    )
    return SavedCard(
        frame=bare_frame(f"{vehicle.name}: {heading}", garage=garage, today=today, home_url=home_url),
        plate=vehicle_plate(vehicle),
        heading=heading,
        told=" ".join(
            text
            for text in (
                _held(keeper_name) if held else _gained(reading, previous, duty_titles),
                "" if held else _reckoning(reading, reckoned),
                "" if held else _moved(lines, before, outlook, vehicle),
                tr("Thank you, {reader_name}.", reader_name=reader_name) if reader_name else tr("Thank you."),
            )
            if text
        ),
        windows=given,
        more=_more(len(lines) - len(given)) if not held else "",
        next_reading=tr("The next reading is wanted on {day}.", day=day_words(next_wanted_on, today))
        if next_wanted_on
        else "",
        take_back_url=take_back_url,
        take_back_until=_until(take_back_until, today),
        hidden=((FORM_FIELD, form_key), *hidden) if form_key else (),
        done_url=done_url,
    )


def taken_back_card(
    *,
    garage: Garage,
    vehicle: Vehicle,
    reading: Reading,
    today: date,
    again_url: str,
    done_url: str = "",
    home_url: str = "",
) -> TakenBackCard:
    """The page after a reading was taken back. again_url: where it can be entered anew."""
    heading = tr("Taken back: {reading}", reading=meter_words(reading.value, reading.unit))
    return TakenBackCard(
        frame=bare_frame(f"{vehicle.name}: {heading}", garage=garage, today=today, home_url=home_url),
        plate=vehicle_plate(vehicle),
        heading=heading,
        told=tr("{vehicle} goes by the readings before it again.", vehicle=vehicle.name),
        again_url=again_url,
        done_url=done_url,
    )


def split_words(split: DutySplit, titles: Mapping[str, str] | None = None) -> str:
    """A split in the smallest parts that give it (`towing 3 : daily 1`), else in per cent, largest first."""
    by_size = sorted(split.shares, key=lambda each: -each[1])
    named = [((titles or {}).get(duty, duty), share) for duty, share in by_size]
    for whole_parts in range(1, _FINEST_PARTS + 1):
        counts = [share * whole_parts for _, share in named]
        if all(abs(count - round(count)) < 1e-6 for count in counts):
            return parts_words([(name, round(count)) for (name, _), count in zip(named, counts, strict=True)])
    return ", ".join(f"{name} {share_words(share)}" for name, share in named)


def _given(
    outlook: VehicleOutlook,
    line: LineOutlook,
    window: DueWindow,
    before: Mapping[LineKey, DueWindow | None],
    today: date,
) -> GivenWindow:
    earlier = before.get(line.key)
    was = (
        tr("Likely was {day}.", day=day_short(earlier.likely, today))
        if earlier and earlier.likely != window.likely
        else ""
    )
    return GivenWindow(
        title=service_title(outlook, line),
        rod=rod(line, PHONE),
        early=tr("Early {day}", day=day_short(window.early, today)),
        likely=tr("likely {day}", day=day_short(window.likely, today)),
        late=tr("late {day}", day=day_short(window.late, today)),
        was=was,
    )


def _gained(reading: Reading, previous: Reading | None, titles: Mapping[str, str] | None) -> str:
    """`845 mi in 33 days, towing 3 : daily 1.`, in the unit of this reading; empty if the dial was changed between."""
    if previous is None:
        return ""
    gain = reading.value - _in_unit_of(previous, reading)
    days = (reading.on - previous.on).days
    if gain < 0 or days < 0:
        return ""
    mixed = f", {split_words(reading.split, titles)}" if reading.split else ""
    return tr(
        "{reading} in {days}{mixed}.",
        reading=meter_words(_like(gain, reading), reading.unit),
        days=days_words(days),
        mixed=mixed,
    )


def _in_unit_of(previous: Reading, reading: Reading) -> Decimal:
    here, there = reading.unit.distance, previous.unit.distance
    if here is None or there is None or here is there:
        return previous.value
    return Decimal(repr(km_to(km_from(previous.value, there), here)))


def _like(gain: Decimal, reading: Reading) -> Decimal:
    """A gain in tenths only if the reading has them."""
    return gain.quantize(Decimal(1)) if reading.value == reading.value.to_integral_value() else gain


def _reckoning(reading: Reading, reckoned: Decimal | None) -> str:
    if reckoned is None:
        return ""
    off = abs(reading.value - reckoned).quantize(Decimal(1))
    if off == 0:
        return tr("That is what was reckoned.")
    if off <= 12:
        return tr("That is {distance} off the reckoning.", distance=counted_words(int(off), unit_name(reading.unit, 1)))
    side = tr("more") if reading.value > reckoned else tr("less")
    return tr("That is {off} {unit} {side} than reckoned.", off=whole(off), unit=reading.unit, side=side)


def _moved(
    lines: Sequence[tuple[LineOutlook, DueWindow]],
    before: Mapping[LineKey, DueWindow | None],
    outlook: VehicleOutlook,
    vehicle: Vehicle,
) -> str:
    """What the reading did to the windows, in one sentence."""
    if outlook.readings_used < 2:
        return _first_reading(vehicle)
    both = [(earlier, window) for line, window in lines if (earlier := before.get(line.key))]
    if not both:
        return ""
    moved = sum(earlier.likely != window.likely for earlier, window in both)
    tighter = (
        sum((window.late - window.early).days - (earlier.late - earlier.early).days for earlier, window in both) < 0
    )
    told = (
        tr("nothing moved")
        if moved == 0
        else tr("{dates} moved", dates=counted_words(moved, "likely date", "likely dates"))
    )
    return sentence(f"{told}{tr(' and the windows are tighter') if tighter else ''}.")


def _first_reading(vehicle: Vehicle) -> str:
    told = tr("One reading makes no pace.")
    if vehicle.yearly_km is None:
        return told
    yearly = distance_words(vehicle.yearly_km, told_in(DistanceUnit(vehicle.unit)))
    return tr(
        "{told} Until the second one the dates come from the yearly distance you gave: {yearly}.",
        told=told,
        yearly=yearly,
    )


def _held(keeper_name: str) -> str:
    who = keeper_name or "somebody"
    return tr(
        "It does not fit the readings around it, so it is not used until {who} settles it. The dates stay as "
        "they were.",
        who=who,
    )


def _more(count: int) -> str:
    return (
        tr("And {services} further along the road.", services=counted(count, "service", "services"))
        if count > 0
        else ""
    )


def _until(until: datetime | None, today: date) -> str:
    """`until tomorrow 08:00`."""
    if until is None:
        return ""
    ahead = (until.date() - today).days
    day = {0: tr("today"), 1: tr("tomorrow")}.get(ahead) or weekday_words(until.date(), today)
    return tr("until {day} {until}", day=day, until=f"{until:%H:%M}")
