"""Numbers, days, spans, counts and lists in words, and the dipstick as text: one wording for page, letter and feed.

All of it in the language in force (`language.in_force`).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from fleetcare.language import ENGLISH, in_force, later, later_count, tr, tr_in
from fleetcare.language.measure import told_in
from fleetcare.language.tongue import ENGLISH_MONTHS, ENGLISH_WEEKDAYS, joined_in
from fleetcare.quantities import DistanceUnit, MeterUnit, km_from, km_to

THIN_SPACE = "\u2009"
MINUS = "\u2212"

WEEKDAYS = ENGLISH_WEEKDAYS
MONTHS = ENGLISH_MONTHS
"""As files and stored settings write them, whatever the language; `weekday_name`, `month_name` are for people."""

_COUNTS = (
    later("none"),
    later("one"),
    later("two"),
    later("three"),
    later("four"),
    later("five"),
    later("six"),
    later("seven"),
    later("eight"),
    later("nine"),
    later("ten"),
    later("eleven"),
    later("twelve"),
)
_UNIT_WORDS = {
    "km": later_count("kilometre", "kilometres"),
    "mi": later_count("mile", "miles"),
    "h": later_count("hour", "hours"),
}

_PIECES = {
    "pieces": later_count("piece", "pieces"),
    "tubes": later_count("tube", "tubes"),
    "sets": later_count("set", "sets"),
    "pairs": later_count("pair", "pairs"),
}
"""What jobs count by the piece; a garage may have words of its own."""

_NONE = later("no")
ARTICLE = "|"
"""In a catalogue, stands between the article of a counted noun and the noun: `ein|Tag`."""

_LAST = (later("and"), later("or"))
"""What stands before the last item of a list."""

GAUGE_CELLS = 24
_CELL = 0.05


# Numbers


def grouped(value: int | float | Decimal) -> str:
    """A number in groups of three from 1 000 up, thin space (U+2009) between them, at most one decimal.

    Halves are rounded up in size (`2.25` is `2.3`); whole numbers lose the decimal (`84210.0` is `84 210`).
    """
    if isinstance(value, int):
        # The same, four times as quick, and a page shows some hundreds.
        return f"{value:,}".replace(",", THIN_SPACE).replace("-", MINUS)
    figure = Decimal(repr(value) if isinstance(value, float) else value)
    figure = figure.quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)
    whole, _, tenth = f"{abs(figure):f}".partition(".")
    digits = f"{int(whole):,}".replace(",", THIN_SPACE)
    if tenth.strip("0"):
        digits = f"{digits}{in_force().decimal}{tenth}"
    return f"{MINUS}{digits}" if figure < 0 and digits != "0" else digits


def whole(value: int | float | Decimal) -> str:
    """A number without decimals, grouped; halves are rounded up in size."""
    figure = Decimal(repr(value) if isinstance(value, float) else value)
    return grouped(figure.quantize(Decimal(1), rounding=ROUND_HALF_UP))


def distance_words(km: float, unit: DistanceUnit) -> str:
    """A distance given in km, in the reader's unit, without decimals: `845 mi`."""
    return f"{whole(km_to(km, unit))} {unit}"


def meter_words(value: int | float | Decimal, unit: MeterUnit | DistanceUnit) -> str:
    """What a dial shows, with its unit: `84 210 mi`, `1 204.5 h`."""
    return f"{grouped(value)} {unit}"


def reading_words(value: int | float | Decimal, unit: MeterUnit | DistanceUnit) -> str:
    """What a dial showed, for reading: in the reader's unit if it counts in another one, then without decimals."""
    own = None if unit == MeterUnit.HOURS else DistanceUnit(unit.value)
    if own is None or told_in(own) is own:
        return meter_words(value, unit)
    return distance_words(km_from(value, own), told_in(own))


def document_words(value: int | float | Decimal, unit: MeterUnit | DistanceUnit) -> str:
    """What a dial showed, where the dial's own figure counts: `112 640 mi`, with `(181 277 km)` for who reads km."""
    own, read = meter_words(value, unit), reading_words(value, unit)
    return own if read == own else f"{own} ({read})"


def unit_name(unit: MeterUnit | DistanceUnit, count: int | float | Decimal = 2) -> str:
    """The unit written out: `miles`, `kilometres`, `hours`; without the s for exactly one."""
    one, more = _UNIT_WORDS[unit.value]
    return _bare(in_force().said_of(one, more, count))


def percent(share: float) -> int:
    """A share in whole per cent, halves up: .975 is 98."""
    return int((Decimal(repr(share)) * 100).quantize(Decimal(1), rounding=ROUND_HALF_UP))


def share_words(share: float) -> str:
    """A share as `97 %`."""
    return f"{grouped(percent(share))} %"


def chance_words(chance: float) -> str:
    """A chance as people say it: `7 in 10`; under 1 and over 9 in ten as `less than 1 in 10`, `more than 9 in 10`."""
    if not 0 <= chance <= 1:
        raise ValueError(f"a chance lies between 0 and 1, not {chance}")
    if chance < 0.05:
        return tr("less than 1 in 10")
    if chance > 0.95:
        return tr("more than 9 in 10")
    tenths = int((Decimal(repr(chance)) * 10).quantize(Decimal(1), rounding=ROUND_HALF_UP))
    return tr("{tenths} in 10", tenths=min(9, max(1, tenths)))


def count_words(number: int) -> str:
    """A count: `none`, `one` ... `twelve`, then digits."""
    return tr(_COUNTS[number]) if 0 <= number < len(_COUNTS) else grouped(number)


def counted(number: int, one: str, more: str = "") -> str:
    """Digits and noun: `1 day`, `6 days`, `0 days`; `more` if the plural is not one + s."""
    return f"{grouped(number)} {_bare(in_force().said_of(one, more or one + 's', number))}"


def quantity_words(amount: Decimal, unit: str) -> str:
    """An amount with its unit, to a thousandth: `2.6 L`, `1 tube`; a word in s loses it for exactly one."""
    return f"{exact(round(amount, 3))} {piece_words(amount, unit)}"


def exact(amount: Decimal) -> str:
    """A number with all its decimals and no closing noughts: `2.65`, `40`."""
    return f"{amount.normalize():f}".replace(".", in_force().decimal)


def piece_words(amount: Decimal, unit: str) -> str:
    """What an amount is counted in: `L`, `tube`, `pieces`; a word in s loses it for exactly one."""
    if unit in _PIECES:
        return _bare(in_force().said_of(*_PIECES[unit], amount))
    return unit[:-1] if amount == 1 and len(unit) > 2 and unit.endswith("s") else unit


def counted_words(number: int, one: str, more: str = "") -> str:
    """Count in words and noun: `one window`, `two windows`; none is `no windows`."""
    noun = in_force().said_of(one, more or one + "s", number)
    if number in (0, 1) and ARTICLE in noun:
        return noun.replace(ARTICLE, " ") if number == 1 else f"{tr(_NONE)} {_bare(noun)}"
    return f"{tr(_NONE) if number == 0 else count_words(number)} {_bare(noun)}"


def _bare(noun: str) -> str:
    """The noun without the article that a catalogue has put before it."""
    return noun.rpartition(ARTICLE)[2]


def place_words(index: int) -> str:
    """A place counted from 0: `first`, `second` ... `tenth`, then `11th`."""
    places = (
        tr_in("place", "first"),
        tr_in("place", "second"),
        tr_in("place", "third"),
        tr_in("place", "fourth"),
        tr_in("place", "fifth"),
        tr_in("place", "sixth"),
        tr_in("place", "seventh"),
        tr_in("place", "eighth"),
        tr_in("place", "ninth"),
        tr_in("place", "tenth"),
    )
    if 0 <= index < len(places):
        return places[index]
    number = index + 1
    if in_force() is not ENGLISH:
        return tr("{number}th", number=number)
    ending = "th" if 10 <= number % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def parts_words(parts: Sequence[tuple[str, int]]) -> str:
    """A mix in parts: `towing 3 : daily 1`; parts of nothing are left out, a single duty is `all towing`."""
    used = [(duty, count) for duty, count in parts if count > 0]
    if len(used) == 1:
        return tr("all {duty}", duty=used[0][0])
    return " : ".join(f"{duty} {count}" for duty, count in used)


# Days and spans


def weekday_name(index: int) -> str:
    """`Monday` for 0."""
    return in_force().names.weekdays[index]


def weekday_short(index: int) -> str:
    """`Mon` for 0."""
    return in_force().names.weekdays_short[index]


def month_name(number: int) -> str:
    """`January` for 1."""
    return in_force().names.months[number - 1]


def day_words(day: date, today: date) -> str:
    """A day in text: `25 April`, with the year only when it is not this one."""
    return _with_year(_day_and(in_force().names.months, day), day, today)


def day_short(day: date, today: date) -> str:
    """A day in lists: `25 Apr`, with the year only when it is not this one."""
    return _with_year(_day_and(in_force().names.months_short, day), day, today)


def day_strip(day: date, today: date) -> str:
    """A day on strips, with its weekday: `Sat 25 Apr`, with the year only when it is not this one."""
    tongue = in_force()
    return tongue.with_weekday_short.format(weekday=weekday_short(day.weekday()), date=day_short(day, today))


def weekday_words(day: date, today: date) -> str:
    """A day in a sentence, with its weekday: `Saturday 25 April`."""
    return in_force().with_weekday.format(weekday=weekday_name(day.weekday()), date=day_words(day, today))


def month_words(day: date, today: date) -> str:
    """The month alone: `June`, or `June 2027` when it is not in this year."""
    return month_name(day.month) if day.year == today.year else f"{month_name(day.month)} {day.year}"


def day_in_head(day: date) -> str:
    """The day at the top of a page, always with its year: `Tue 14 Apr 2026`."""
    tongue = in_force()
    date_and_year = tongue.with_year.format(date=_day_and(tongue.names.months_short, day), year=day.year)
    return tongue.with_weekday_short.format(weekday=weekday_short(day.weekday()), date=date_and_year)


def span_words(minutes: int) -> str:
    """A span of work: `3 h 40`, `2 h`, `40 min`."""
    if minutes < 0:
        raise ValueError(f"a span is not negative: {minutes} minutes")
    hours, rest = divmod(minutes, 60)
    if hours == 0:
        return f"{rest} min"
    return f"{grouped(hours)} h {rest:02d}" if rest else f"{grouped(hours)} h"


def days_words(days: int) -> str:
    """`1 day`, `6 days`."""
    return counted(days, "day")


# Lists and names


def joined(words: Sequence[str], last: str = "and") -> str:
    """A list as a sentence has it: `a`, `a and b`, `a, b and c`; nothing for an empty one."""
    return joined_in(in_force(), words, last)


def of_person(name: str) -> str:
    """`Ines's`, `Teo's`."""
    return tr("{name}’s", name=name)


def of_vehicle(name: str) -> str:
    """`Raft's`; a name in s takes the apostrophe alone, `Bellows'`."""
    return tr("{name}’", name=name) if name.endswith("s") else tr("{name}’s", name=name)


def lower_first(title: str) -> str:
    """A title inside a sentence: its first letter small, unless its first word is in capitals.

    In a language that writes nouns with a capital it stays as it is.
    """
    if in_force().keeps_capitals or title[1:2].isupper():
        return title
    return title[:1].lower() + title[1:]


def sentence(text: str) -> str:
    """The text with its first letter as a capital; the rest stays as it is."""
    return text[:1].upper() + text[1:]


# The dipstick as text


def text_gauge(
    q_read: float | None, q_now: float | None, q_early: float | None = None, q_late: float | None = None
) -> str:
    """The dipstick as 24 cells of 5 % between round brackets, for letters and terminals.

    q_read, q_now: wear share at the last reading and today; q_early, q_late: ends of the zone; None if unknown.
    Each cell is judged at its middle, in this order: `!` past late, `#` worn inside the zone, `=` worn by reading,
    `~` worn by reckoning, `/` zone, `.` blank. Past late, the cell that holds `q_now` is `!` (the last one if it is off
    the rod). Without a cell of the zone, the cell at 100 % is `/`.
    """
    read = max(0.0, q_read or 0.0)
    now = max(read, q_now or 0.0)
    has_zone = q_early is not None and q_late is not None
    early, late = (q_early, q_late) if q_early is not None and q_late is not None else (2.0, 2.0)
    past_late = has_zone and q_now is not None and q_now > late
    cells = [_cell((index + 0.5) * _CELL, read=read, now=now, early=early, late=late) for index in range(GAUGE_CELLS)]
    if past_late:
        cells[min(GAUGE_CELLS - 1, int(now / _CELL))] = "!"
    elif not set(cells) & {"#", "/"}:
        cells[round(1 / _CELL)] = "/"
    return f"({''.join(cells)})"


def _cell(middle: float, *, read: float, now: float, early: float, late: float) -> str:
    if late < middle <= now:
        return "!"
    if early <= middle <= late:
        return "#" if middle <= now else "/"
    if middle <= read:
        return "="
    return "~" if middle <= now else "."


def _day_and(months: Sequence[str], day: date) -> str:
    return in_force().day_and_month.format(day=day.day, month=months[day.month - 1])


def _with_year(words: str, day: date, today: date) -> str:
    return words if day.year == today.year else in_force().with_year.format(date=words, year=day.year)
