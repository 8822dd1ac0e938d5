"""The words of calendar entries: titles that say it in 28 characters, texts that stay the same while nothing is new.

Figures are rounded so far that the noise of readings does not show, and nothing counts days from today: a text may
change because something happened, not because a day went by.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date

from fleetcare.calendar_feed.calm import Shown
from fleetcare.calendar_feed.plain_text import one_line
from fleetcare.calendar_feed.values import EntryKind, FeedEntry
from fleetcare.due.outlook import Cause, DueWindow, LineOutlook, VehicleOutlook
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.feed_choice import WindowDate
from fleetcare.fleet.vehicle import Vehicle, VehicleKind
from fleetcare.language import ENGLISH, in_force, later, tr, tr_book
from fleetcare.quantities import DAYS_PER_YEAR, DateSpan, DistanceUnit, MeterUnit, km_from, km_to
from fleetcare.wording import counted, day_words, distance_words, grouped, joined, lower_first, share_words, whole

NAME_ROOM = 16
"""A longer name would leave a narrow screen no room for the rest of the title; then the mark stands for it."""
READING_TEXT = later("The link is in that day's mail, or scan the sticker.")

BAY_TAKEN = later("Bay taken")
BAY_FREE = later("The bay is free")

_NO_YEAR = date.min
"""Days told against this one always have their year, so that a text does not change at New Year."""
_MARKS_IN_TITLE = 3
_COMPONENT_ROOM = 24
_SERVICE_ROOM = 32
_FEW_READINGS = 6
_WORN_STEP = 0.05
_MOST_WORN = 99.0
_NO_SUCH_KM_PER_DAY = 10_000.0
_NO_SUCH_DISTANCE = 1_000_000
_FACT_ROOM = 80
_NO_SUCH_CAPACITY_L = 1000
_FRICTION = "friction modifier"
# Words of a service's title and action from which it follows what is needed. Common practice, no source.
_TAKES_FLUID = ("refill", "change", "flush")
_FACTS_WANTED = {_FRICTION: _TAKES_FLUID, "closure": ("reseal", "cover off")}
_CAUSES = {
    Cause.DISTANCE: later("Distance comes first."),
    Cause.HOURS: later("Running hours come first."),
    Cause.DATE: later("The date comes first."),
    Cause.EVENT: later("It is counted from an event."),
    Cause.UNKNOWN_HISTORY: later("Nobody knows when it was last done, so a look at it comes first."),
}


def names_in_titles(vehicles: Sequence[Vehicle]) -> dict[str, str]:
    """What vehicles are called in titles, by mark: the name, with the mark if two share it; the mark if it is long."""
    shown = {vehicle.mark: one_line(vehicle.name) for vehicle in vehicles}
    times = Counter(shown.values())
    names: dict[str, str] = {}
    taken: Counter[str] = Counter()
    for mark, name in shown.items():
        title = _name_in_title(mark, name, alone=times[name] == 1)
        taken[title] += 1
        # Two marks may look alike on a narrow screen, or one like the name of another vehicle.
        names[mark] = title if taken[title] == 1 else f"{title} ({taken[title]})"
    return names


def services_in_titles(outlook: VehicleOutlook) -> dict[tuple[str, str], str]:
    """What each line of a vehicle is called in titles, by component and service; two axles are told apart."""
    shorts = {(line.key.component, line.key.service): _service(line) for line in outlook.lines}
    times = Counter(short.casefold() for short in shorts.values())
    components = {
        line.key.component: lower_first(one_line(tr_book(line.component.title), _COMPONENT_ROOM))
        for line in outlook.lines
    }
    return {
        key: short if times[short.casefold()] == 1 else f"{components[key[0]]}, {short}"
        for key, short in shorts.items()
    }


def due_title(name: str, service: str, cause: Cause, which: WindowDate = WindowDate.LIKELY) -> str:
    """`Anvil: engine oil likely due`, `... window opens`, `..., late date`; of unknown history it is a first look."""
    look = tr(", first look") if cause is Cause.UNKNOWN_HISTORY else ""
    said = {
        WindowDate.EARLY: tr("{look} window opens", look=look),
        WindowDate.LIKELY: tr("{look} due", look=look) if look else tr(" likely due"),
        WindowDate.LATE: tr("{look}, late date", look=look),
    }
    return one_line(f"{name}: {service}{said[which]}")


def past_late_title(name: str, service: str, cause: Cause) -> str:
    """`Raft: coupling past late`."""
    look = tr(", first look") if cause is Cause.UNKNOWN_HISTORY else ""
    return one_line(tr("{name}: {service}{look} past late", name=name, service=service, look=look))


def reading_title(name: str, vehicle: Vehicle, meter: str) -> str:
    """`Bellows: odometer, please`."""
    return one_line(tr("{name}: {meter_name}, please", name=name, meter_name=_meter_name(vehicle, meter)))


def look_again_title(name: str, finding: str) -> str:
    """`Bellows: look again, rear cover damp`."""
    return one_line(tr("{name}: look again, {finding}", name=name, finding=one_line(finding).rstrip(".")).rstrip(", "))


def booking_title(booking: Booking, marks: Sequence[str], names: Mapping[str, str]) -> str:
    """`AN, NE, RA spoken for: hill climb`, and the name instead of the mark if it is one vehicle."""
    if len(marks) == 1:
        who = names[marks[0]]
    elif len(marks) <= _MARKS_IN_TITLE:
        who = ", ".join(marks)
    else:
        who = tr(
            "{marks} and {number} more", marks=", ".join(marks[:_MARKS_IN_TITLE]), number=len(marks) - _MARKS_IN_TITLE
        )
    return one_line(tr("{who} spoken for: {title}", who=who, title=one_line(booking.title)).rstrip(": "))


def laid_up_title(name: str) -> str:
    """`Nettle laid up`."""
    return one_line(tr("{name} laid up", name=name))


def laid_up_text(vehicle: Vehicle, days: DateSpan) -> str:
    """Which vehicle, from when to when, and what that does to its dates."""
    return tr(
        "{full_name} is laid up.\n{span}.\nIts distances wait meanwhile; dates go on.",
        full_name=_full_name(vehicle),
        span=_span_words(days),
    )


def busy_title(name: str) -> str:
    """`Anvil taken`: that it is, and not why."""
    return one_line(tr("{name} taken", name=name))


def free_title(name: str) -> str:
    """`Anvil is free`: what the only entry says of a vehicle that is not taken on any day shown."""
    return one_line(tr("{name} is free", name=name))


def full_text(entry: FeedEntry) -> str:
    """The whole text of an entry: what follows from its three dates, then its own text."""
    if entry.window is None:
        return entry.text
    return "\n".join(part for part in (_window_words(entry.kind, entry.window, entry.days.first), entry.text) if part)


def line_text(outlook: VehicleOutlook, line: LineOutlook, unit: DistanceUnit, shown: Shown) -> str:
    """Why a service is due: the limit that comes first, the share worn, when it was last done, the pace, what to have.

    shown: the figures as they were last published, so that noise in them does not change the text.
    """
    cause = shown.window.cause
    done = (
        tr("Last done {day}.", day=day_words(line.last_done_on, _NO_YEAR))
        if line.last_done_on
        else tr("There is no record of it here.")
    )
    parts = (
        f"{_full_name(outlook.vehicle)}: {one_line(tr_book(line.row.title))}.",
        " ".join(part for part in (tr(_CAUSES[cause]), _worn_words(shown.worn, cause)) if part),
        done,
        _pace_words(outlook, shown.pace_km_per_day, unit) if cause is Cause.DISTANCE else "",
        _have_ready(line),
    )
    return "\n".join(part for part in parts if part)


def reading_text(last_on: date | None, *, on: date) -> str:
    """Where to enter a reading, and when the last one was; never a link, and never what the dial should show."""
    return f"{tr(READING_TEXT)}\n{tr('Last read {day}.', day=day_words(last_on, on))}" if last_on else tr(READING_TEXT)


def look_again_text(vehicle: Vehicle, finding: str, found_on: date) -> str:
    """The finding, on which vehicle, and when it was found."""
    return tr(
        "{full_name}: {finding}\nFound {day}.",
        full_name=_full_name(vehicle),
        finding=finding,
        day=day_words(found_on, _NO_YEAR),
    )


def booking_text(booking: Booking, vehicles: Sequence[Vehicle], unit: DistanceUnit) -> str:
    """What it is, for which vehicles, from when to when, and the distance expected of each."""
    each = tr(" each") if len(vehicles) > 1 else ""
    distance = ""
    if booking.distance is not None and 0 < booking.distance < _NO_SUCH_DISTANCE:
        duty = f", {one_line(tr_book(booking.duty))}" if booking.duty else ""
        words = distance_words(km_from(booking.distance, booking.unit), unit)
        distance = tr("Expected: about {words}{each}{duty}.", words=words, each=each, duty=duty)
    names = joined([f"{_full_name(vehicle)} ({one_line(vehicle.mark)})" for vehicle in vehicles])
    said = one_line(booking.title)
    parts = (
        f"{said}." if said else "",
        tr("Spoken for: {names}.", names=names),
        f"{_span_words(booking.days)}.",
        distance,
    )
    return "\n".join(part for part in parts if part)


def nothing_due_title(undated: int, end: date, vehicles: int) -> str:
    """What the only entry of a feed says: nothing due before the end of what it shows, or no date in sight."""
    if vehicles == 0:
        return tr("No vehicle of yours yet")
    if undated:
        return tr("No date in sight")
    return tr("Nothing due before {day}", day=day_words(end, _NO_YEAR))


def nothing_due_text(undated: int, vehicles: int) -> str:
    """What to do about it, if anything."""
    if vehicles == 0:
        return tr("Vehicles you keep or drive will show here.")
    if undated:
        return tr(
            "{have} no date; the page of the vehicle says why.", have=counted(undated, "service has", "services have")
        )
    return tr("The feed works; there is nothing to show.")


def _name_in_title(mark: str, name: str, *, alone: bool) -> str:
    mark = one_line(mark, NAME_ROOM)
    if not name or len(name) > NAME_ROOM:
        return mark
    return name if alone else f"{name} {mark}"


def _service(line: LineOutlook) -> str:
    return one_line(tr_book(line.row.short or line.row.title), _SERVICE_ROOM)


def _full_name(vehicle: Vehicle) -> str:
    return one_line(vehicle.name) or one_line(vehicle.mark)


def _meter_name(vehicle: Vehicle, key: str) -> str:
    if any(meter.key == key and meter.unit is MeterUnit.HOURS for meter in vehicle.meters):
        return tr("hour meter")
    return tr("hub odometer") if vehicle.kind is VehicleKind.TRAILER else tr("odometer")


def _window_words(kind: EntryKind, window: DueWindow, on: date) -> str:
    early, likely, late = (day_words(day, on) for day in (window.early, window.likely, window.late))
    if kind is EntryKind.PAST_LATE:
        return tr("Past late since {late}. Early was {early}, likely {likely}.", late=late, early=early, likely=likely)
    return tr("Early {early}, likely {likely}, late {late}.", early=early, likely=likely, late=late)


def _worn_words(worn: float | None, cause: Cause) -> str:
    if worn is None or not math.isfinite(worn) or cause is Cause.UNKNOWN_HISTORY:
        return ""
    rounded = math.floor(min(max(worn, 0.0), _MOST_WORN) / _WORN_STEP + 0.5) * _WORN_STEP
    by_reading = tr(" at the last reading") if cause in {Cause.DISTANCE, Cause.HOURS} else ""
    return tr("Worn about {share}{by_reading}.", share=share_words(round(rounded, 2)), by_reading=by_reading)


def _pace_words(outlook: VehicleOutlook, pace: float | None, unit: DistanceUnit) -> str:
    if pace is None or not 0 <= pace < _NO_SUCH_KM_PER_DAY:  # not a number is in no range
        return ""
    a_month = _in_coarse_steps(km_to(pace * DAYS_PER_YEAR / 12, unit))
    runs = (
        tr("about {a_month} {unit} a month", a_month=whole(a_month), unit=unit)
        if a_month >= 1
        else tr("less than 1 {unit} a month", unit=unit)
    )
    return tr("It runs {runs}{basis}.", runs=runs, basis=_basis_words(outlook))


def _have_ready(line: LineOutlook) -> str:
    """What the tag of the component says is needed for this work; nothing if it says nothing."""
    component, does = line.component, f"{line.row.title} {line.row.action}".casefold()
    fluid = ""
    if component.fluid_grade and any(word in does for word in _TAKES_FLUID):
        capacity = component.fluid_capacity_l
        amount = (
            tr("{capacity} L of ", capacity=grouped(capacity))
            if capacity is not None and 0 < capacity < _NO_SUCH_CAPACITY_L
            else ""
        )
        fluid = f"{amount}{one_line(component.fluid_grade, _FACT_ROOM)}"
    wanted = [name for name, words in _FACTS_WANTED.items() if any(word in does for word in words)]
    facts = [
        one_line(
            f"{fact.name}: {one_line(fact.value, _FACT_ROOM)}" if fact.name == _FRICTION else fact.value, _FACT_ROOM
        )
        for name in wanted
        for fact in component.facts
        if fact.name.casefold() == name
    ]
    ready = "; ".join(part for part in (fluid, *facts) if part)
    return tr("Have ready: {ready}.", ready=ready.rstrip(".")) if ready else ""


def _basis_words(outlook: VehicleOutlook) -> str:
    # The exact number of readings would change the text with every one of them.
    if outlook.readings_used >= _FEW_READINGS:
        return tr(", by its readings")
    if outlook.readings_used > 1:
        return tr(", by a few readings")
    # Calendars are reckoned once for readers of every language, and what the pace rests on was told in English then.
    basis = one_line(outlook.basis).rstrip(".") if in_force() is ENGLISH else ""
    return f" ({basis})" if basis else ""


def _in_coarse_steps(value: float) -> float:
    """Rounded in steps of 5 to 10 %: 10, 11 ... 20, 22 ... 50, 55 ... 100."""
    if value <= 0:
        return 0.0
    power = math.floor(math.log10(value)) - 1
    lead = value / 10.0**power  # 10 up to 100
    step = 1 if lead < 20 else 2 if lead < 50 else 5
    return math.floor(lead / step + 0.5) * step * 10.0**power


def _span_words(days: DateSpan) -> str:
    first, last = days.first, days.last
    if first == last:
        return day_words(first, first)
    if (first.year, first.month) == (last.year, last.month):
        return tr("{day} to {day2}", day=first.day, day2=day_words(last, first))
    return tr("{day} to {day2}", day=day_words(first, first), day2=day_words(last, first))
