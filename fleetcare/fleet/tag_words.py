"""Figures, lengths, volumes, times and torques in the words of a tag."""

from __future__ import annotations

import re
from decimal import Decimal

from fleetcare.errors import BadInput, shown
from fleetcare.fleet.tag import Pass, Torque
from fleetcare.language import saying
from fleetcare.quantities import L_PER, MM_PER, TorqueUnit

NUMBER = r"\d{1,7}(?:\.\d{1,4})?"
DURATION = rf"{NUMBER}\s?(?:min|h|hours?|days?)"

_COUNTS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_TORQUE_UNITS = {
    "n·m": TorqueUnit.NM,
    "nm": TorqueUnit.NM,
    "n m": TorqueUnit.NM,
    "lb·ft": TorqueUnit.LBF_FT,
    "lb ft": TorqueUnit.LBF_FT,
    "lbf ft": TorqueUnit.LBF_FT,
    "ft lb": TorqueUnit.LBF_FT,
    "ft·lb": TorqueUnit.LBF_FT,
    "lb·in": TorqueUnit.LBF_IN,
    "lb in": TorqueUnit.LBF_IN,
    "lbf in": TorqueUnit.LBF_IN,
    "in lb": TorqueUnit.LBF_IN,
    "kgf·m": TorqueUnit.KGF_M,
    "kgf m": TorqueUnit.KGF_M,
}
_UNIT = "|".join(sorted(map(re.escape, _TORQUE_UNITS), key=len, reverse=True))
_RANGE = rf"({NUMBER})(?:\s?(?:to|–|-)\s?({NUMBER}))?\s?({_UNIT})\b"
_TORQUE = re.compile(rf"{_RANGE}(?:\s?\({_RANGE}\))?", re.IGNORECASE)
_PASS = re.compile(
    rf"((?:first|second|third|last|final)(?: (?:quarter|half))? (?:pass|turn))(?: ({NUMBER}))?( after the wait)?",
    re.IGNORECASE,
)
_THREAD = re.compile(r"M\d{1,2}(?:x\d(?:\.\d+)?)?|\d{1,2}/\d{1,2}-\d{1,2}")
_DRIVE = re.compile(r"(?:\d+|\d+/\d+) ?(?:inch|in|mm) (?:square|hex|hexagon|socket)")
_VOLUME_UNITS = {
    "l": "L",
    "litres": "L",
    "ml": "mL",
    "us pt": "US pt",
    "us qt": "US qt",
    "us gal": "US gal",
    "imp gal": "Imp gal",
    "us fl oz": "US fl oz",
    "fl oz": "US fl oz",
}


def figure(text: str) -> Decimal:
    """A plain number, or a fraction such as `5/8` or `1 5/8`."""
    whole, _, part = text.rpartition(" ")
    if "/" not in text:
        return Decimal(text)
    above, _, below = part.partition("/")
    if int(below) == 0:
        raise BadInput(saying("{text_} is no fraction.", text_=shown(text)), remedy="Write it as 5/8.")
    return Decimal(whole or 0) + Decimal(int(above)) / Decimal(int(below))


def as_mm(text: str, unit: str) -> Decimal:
    """A length in mm, to a hundredth; to a thousandth below 10 mm, where backlash is measured."""
    mm = figure(text) * Decimal(repr(MM_PER["in" if unit == "inch" else unit]))
    return round(mm, 3 if mm < 10 else 2)


def as_volume(text: str) -> Decimal | None:
    """The litres at the beginning of the words, perhaps with words behind; None if no volume with its unit is there."""
    units = "|".join(sorted(map(re.escape, _VOLUME_UNITS), key=len, reverse=True))
    found = re.match(rf"({NUMBER})\s?({units})\b", text, re.IGNORECASE)
    if found is None:
        return None
    unit = _VOLUME_UNITS[found[2].casefold()]
    value = Decimal(found[1])
    return value if unit == "L" else round(value * Decimal(repr(L_PER[unit])), 4)


def minutes_in(text: str) -> int:
    """The minutes in a time such as `5 min`, `1 h`, `2 days`, to the full minute."""
    found = re.fullmatch(rf"({NUMBER})\s?(min|h|hours?|days?)", text)
    if found is None:
        raise BadInput(saying("{text_} is no time.", text_=shown(text)), remedy="Write it as 5 min, 24 h or 2 days.")
    each = {"m": 1, "h": 60, "d": 24 * 60}[found[2][0]]
    return round(Decimal(found[1]) * each)


def count_in(word: str) -> int | None:
    """A number of things, in digits or in words up to twelve; None if it is none."""
    if word.isdigit() and 0 < int(word) < 100:
        return int(word)
    return _COUNTS.index(word.casefold()) + 1 if word.casefold() in _COUNTS else None


def torque_from(text: str) -> Torque | None:
    """The torque in the words of a fact, or None if there is none in them.

    The words are parts between commas, in any order: the range (`34 to 46 N·m`, with the same range in another unit in
    round brackets behind it), how many there are (`eight`, `10 bolts`), thread, drive, and passes (`first pass 20`,
    `final turn after the wait`); whatever else is said becomes the note. Raises BadInput for one that cannot be.
    """
    if not _TORQUE.search(text):
        return None
    parts = [part.strip() for part in re.split(r"[,;]", text)]
    ranges = [part for part in parts if _TORQUE.search(part)]
    if len(ranges) > 1:
        raise BadInput(
            saying("{text_} holds two torques.", text_=shown(text, 60)), remedy="Write one fact for each fastener."
        )
    count, thread, drive, passes, note = None, "", "", [], []
    for part in parts:
        if part is ranges[0]:
            continue
        if found := _PASS.fullmatch(part):
            passes.append(Pass(found[1].casefold(), Decimal(found[2]) if found[2] else None, bool(found[3])))
        elif _DRIVE.fullmatch(part):
            drive = part
        elif _THREAD.fullmatch(part):
            thread = part
        elif (number := _number_of(part)) is not None:
            count = number
        elif part:
            note.append(part)
    return torque_in(ranges[0], count=count, thread=thread, drive=drive, passes=tuple(passes), note=", ".join(note))


def torque_in(
    text: str, *, count: int | None, thread: str, drive: str, passes: tuple[Pass, ...], note: str
) -> Torque | None:
    """The range in one part of the words, with what the other parts said; None if it holds no torque."""
    found = _TORQUE.search(text)
    if found is None:
        return None
    low = Decimal(found[1])
    beside = None
    if found[4]:
        second = Decimal(found[4])
        beside = (second, Decimal(found[5]) if found[5] else second, _TORQUE_UNITS[found[6].casefold()])
    around = f"{text[: found.start()]} {text[found.end() :]}"
    count = count or next((n for word in around.split() if (n := count_in(word)) is not None), None)
    thread = thread or next(iter(_THREAD.findall(around)), "")
    return Torque(
        low,
        Decimal(found[2]) if found[2] else low,
        _TORQUE_UNITS[found[3].casefold()],
        beside,
        count,
        thread,
        drive,
        passes,
        note,
    )


def _number_of(part: str) -> int | None:
    found = re.fullmatch(r"(\w+)(?: (?:bolts?|nuts?|screws?|each|of them|each wheel|a wheel))?", part)
    return count_in(found[1]) if found else None
