"""Where a vehicle's dial is heading: the drawing with its fan, the mixes and the lane, and the same in a sentence."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from fleetcare.due.dial_course import CourseDay, DialCourse, DialPoint, course_in
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.duty import DutyCycle, DutySplit
from fleetcare.language import tr, tr_book
from fleetcare.language.measure import told_in
from fleetcare.page.cards.entry import meter_name
from fleetcare.page.cards.past import mix_words, whole_parts
from fleetcare.page.drawings.fan import PHONE_FAN, WIDE_FAN, AheadGiven, Fan, FanForm, ReadGiven, fan
from fleetcare.page.drawings.lone import PLAIN
from fleetcare.page.drawings.mix_bar import MixPart
from fleetcare.page.drawings.road.given import LaneGiven
from fleetcare.quantities import MeterUnit
from fleetcare.wording import day_words, lower_first, meter_words, percent, sentence


@dataclass(frozen=True, slots=True)
class DutyKey:
    """What a pattern stands for."""

    pattern: str
    title: str


@dataclass(frozen=True, slots=True)
class HeadingCard:
    """The section. told: what the courses come to, in sentences. phone: None if those months show nothing."""

    title: str
    told: tuple[str, ...]
    wide: Fan
    phone: Fan | None
    duties: tuple[DutyKey, ...]

    @property
    def numbers(self) -> frozenset[int]:
        """By which windows are named on the phone's form."""
        if self.phone is None or self.phone.lane is None:
            return frozenset()
        return frozenset(int(word.text) for word in self.phone.lane.words if word.text.isdigit())

    @property
    def patterns(self) -> tuple[str, ...]:
        """Those that its mixes are drawn with."""
        return tuple(each.pattern for each in self.duties if each.pattern != PLAIN)


def heading_card(
    outlook: VehicleOutlook, course: DialCourse | None, lane: LaneGiven, duties: Mapping[str, DutyCycle]
) -> HeadingCard | None:
    """The section about one meter; None without a reading, or with so little that no line could be drawn.

    lane: windows, bay days and bookings of the vehicle.
    """
    if course is None or not course.points:
        return None
    vehicle, today = outlook.vehicle, outlook.today
    course = course_in(course, told_in(vehicle.unit))
    readings = [_read(point, duties) for point in course.points]
    ahead = [AheadGiven(day.on, day.quiet, day.likely, day.busy) for day in course.ahead]
    last = course.points[-1]

    def drawn(form: FanForm) -> Fan | None:
        value = meter_words(round(last.value), course.unit)
        day = day_words(last.on, today)
        return fan(
            readings,
            ahead,
            lane,
            today=today,
            form=form,
            read_words=value if form.is_phone else tr("{value} read {day}", value=value, day=day),
            course_names=(tr("busy"), tr("likely"), tr("quiet")),
            round_to=round_to(course),
            label=_label(outlook, course),
        )

    wide = drawn(WIDE_FAN)
    if wide is None:
        return None
    meter = vehicle.odometer or vehicle.hour_meter
    name = sentence(meter_name(vehicle, meter)) if meter is not None else tr("Odometer")
    seen = {key for point in course.points if point.split for key, share in point.split.shares if share > 0}
    return HeadingCard(
        title=tr("{meter}, and where it is heading", meter=name),
        told=tuple(_told(outlook, course, duties)),
        wide=wide,
        phone=drawn(PHONE_FAN),
        duties=tuple(DutyKey(_pattern(key, duties), _title(key, duties)) for key in _in_order(seen, duties)),
    )


def round_to(course: DialCourse) -> int:
    """In what multiples the courses are told: no finer than what they are unsure of can bear."""
    spread = course.ahead[-1].busy - course.ahead[-1].quiet if course.ahead else 0.0
    return 100 if spread >= 1000 else 10 if spread >= 100 else 1


def _told(outlook: VehicleOutlook, course: DialCourse, duties: Mapping[str, DutyCycle]) -> Iterable[str]:
    if course.ahead:
        yield _ahead_words(course.ahead[-1], course, outlook)
    if course.counted_on:
        yield tr(
            "The dial was changed or began anew in this time; drawn is what it has counted in all, not what it shows."
        )
    if course.unit is not MeterUnit.HOURS and course.ahead:
        yield tr("From here on the forecast takes the mix {mix}.", mix=mix_words(outlook.mix, duties))


def _ahead_words(end: CourseDay, course: DialCourse, outlook: VehicleOutlook) -> str:
    whole = round_to(course)
    likely, busy, quiet = (
        meter_words(whole * round(value / whole), course.unit) for value in (end.likely, end.busy, end.quiet)
    )
    facts = {"day": day_words(end.on, outlook.today), "likely": likely, "busy": busy, "quiet": quiet}
    if course.counted_on:
        return tr(
            "By {day} it will likely have counted {likely} in all. With 1 chance in 10 it is more than {busy}, "
            "the busy course, and with 1 in 10 less than {quiet}, the quiet one.",
            **facts,
        )
    return tr(
        "By {day} it will likely show {likely}. With 1 chance in 10 it is more than {busy}, the busy course, "
        "and with 1 in 10 less than {quiet}, the quiet one.",
        **facts,
    )


def _label(outlook: VehicleOutlook, course: DialCourse) -> str:
    """What the drawing shows, for who does not see it; the readings themselves are the table on the page."""
    first, last = course.points[0], course.points[-1]
    return tr(
        "From {value} on {day} to {value2} on {day2}, and the forecast after it. "
        "The sentence above says what it comes to; the readings are in the table below.",
        value=meter_words(round(first.value), course.unit),
        day=day_words(first.on, outlook.today),
        value2=meter_words(round(last.value), course.unit),
        day2=day_words(last.on, outlook.today),
    )


def _read(point: DialPoint, duties: Mapping[str, DutyCycle]) -> ReadGiven:
    if point.split is None:
        return ReadGiven(point.on, point.value)
    shares = dict(point.split.shares)
    keys = _in_order((key for key, share in shares.items() if share > 0), duties)
    parts = tuple(MixPart(_title(key, duties), shares[key], _pattern(key, duties)) for key in keys)
    return ReadGiven(point.on, point.value, parts, _parts(point.split, keys))


def _parts(split: DutySplit, keys: tuple[str, ...]) -> str:
    """`3 : 1`, in the order of the bar from below; per cent where no small parts tell it; nothing for a single duty."""
    if len(keys) < 2:
        return ""
    shares = [split.share(key) for key in keys]
    parts = whole_parts(shares) or [percent(share) for share in shares]
    return " : ".join(str(part) for part in parts)


def _in_order(keys: Iterable[str], duties: Mapping[str, DutyCycle]) -> tuple[str, ...]:
    """From the bottom of the bar up: severe use first, each by title, so that a duty always lies in the same place."""
    return tuple(sorted(keys, key=lambda key: (not (key in duties and duties[key].severe), _title(key, duties))))


def _title(key: str, duties: Mapping[str, DutyCycle]) -> str:
    return tr_book(duties[key].title) if key in duties else lower_first(key)


def _pattern(key: str, duties: Mapping[str, DutyCycle]) -> str:
    return (duties[key].pattern if key in duties else "") or PLAIN
