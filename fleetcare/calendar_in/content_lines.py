"""From the bytes of a calendar to the lines that matter: whole, within limits, and without what nobody here needs.

Only this much of a calendar reaches the library that reads it: events and time zones, and of events the properties
that say when they are and what they are called. Alarms, attachments, attendees, to-dos and everything private to some
program are gone before. Grammar: RFC 5545, 3.1 (folding, content lines) and 3.6 (components).
"""

from __future__ import annotations

import re
import zoneinfo
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field

from fleetcare.calendar_in.limits import Limits
from fleetcare.calendar_in.told import told

NO_ZONES = frozenset({"localtime", "Factory", "posixrules"})
"""Files beside the time zones that are none: they mean whatever the machine is set to, or nothing."""

_OF_EVENTS = frozenset(
    {
        *("UID", "DTSTART", "DTEND", "DURATION", "RRULE", "RDATE", "EXDATE", "RECURRENCE-ID", "SEQUENCE"),
        *("SUMMARY", "DESCRIPTION", "STATUS", "TRANSP"),
    }
)
_OF_ZONES = frozenset({"TZID", "DTSTART", "RRULE", "RDATE", "TZOFFSETFROM", "TZOFFSETTO", "TZNAME"})
_TEXTS = frozenset({"SUMMARY", "DESCRIPTION", "UID"})
_DATED = ("DTS", "DTE", "RDA", "EXD", "REC")
"""How the names of properties begin that may name a time zone."""
_REPEATING = frozenset({"RRULE", "RDATE", "RECURRENCE-ID"})

_NAME = re.compile(r"[A-Za-z0-9-]+(?=[;:])")
_TZID = re.compile(r';TZID=("[^"]*"|[^";:]*)', re.IGNORECASE)
_DAY = re.compile(r"[0-9]{8}")
_UNFOLD = re.compile(r"\r?\n[ \t]")
_LINE_END = re.compile(r"\r\n|\n|\r")
_RULE_OF_A_ZONE = re.compile(r"RRULE:FREQ=YEARLY[;A-Z0-9=,+-]*", re.IGNORECASE)

_OUR_OWN = "fleetcare"
"""Stands in the PRODID of every feed that is made here."""
MOST_LEVELS = 8
MOST_ZONES = 100
MOST_CHANGES_OF_A_ZONE = 200
LONGEST_TEXT = 2100
"""Characters of one text that are handed on; the rest of it is nobody's business here."""


class Refused(Exception):
    """The calendar as a whole cannot be taken. `said` says why."""

    def __init__(self, kind: str, **facts: int | str) -> None:
        self.said = told(kind, **facts)
        super().__init__(self.said)


@dataclass(slots=True)
class Lines:
    """What is left of a calendar.

    text: ready for the library. shown_from: first day (YYYYMMDD) of the earliest event that happens once, or empty.
    unknown_zones: names that no time zone has; times in them are left floating.
    """

    text: str
    shown_from: str = ""
    unknown_zones: list[str] = field(default_factory=list)


@dataclass(slots=True)
class _Block:
    """One VEVENT or VTIMEZONE with what is kept of it."""

    kind: str
    lines: list[str] = field(default_factory=list)
    names: set[str] = field(default_factory=set)
    first_day: str = ""
    changes: int = 0
    fits: bool = True
    tzid: str = ""


def decoded(raw: bytes, charset: str) -> str:
    """The text of a calendar. Raises Refused if it is not in that charset."""
    try:
        text = raw.decode(charset)
    except (UnicodeDecodeError, LookupError):
        raise Refused("charset", charset=charset[:40]) from None
    return text.removeprefix("\ufeff")


def kept_lines(text: str, *, first_day: str, end_day: str, limits: Limits) -> Lines:
    """The lines that matter between two days (YYYYMMDD, the second one out). Raises Refused.

    A calendar is refused as a whole if it is cut off, nests wrongly, or is larger than the limits: half a calendar
    would look as if what is missing had been cancelled.
    """
    blocks = list(_blocks(text, limits))
    known = zone_names()
    zones: dict[str, _Block] = {}
    for block in blocks:
        if _is_own_zone(block, known):
            zones.setdefault(block.tzid, block)
    if len(zones) > MOST_ZONES:
        raise Refused("zones", most=MOST_ZONES)
    own = {tzid: f"Zone-{number}" for number, tzid in enumerate(zones)}
    shown_from = ""
    unknown: dict[str, None] = {}
    out = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//calendar//read//"]
    for tzid, block in zones.items():
        out += [f"TZID:{own[tzid]}" if line.startswith("TZID:") else line for line in block.lines]
    events = 0
    for block in blocks:
        if block.kind == "VTIMEZONE":
            continue
        if not block.names & _REPEATING and block.first_day:
            shown_from = min(shown_from or block.first_day, block.first_day)
            if _is_out_of_sight(block, first_day, end_day):
                continue
        events += 1
        if events > limits.events:
            raise Refused("events", most=limits.events)
        out += [_with_known_zone(line, own, known, unknown) for line in block.lines]
    out.append("END:VCALENDAR")
    return Lines("\r\n".join(out) + "\r\n", shown_from, list(unknown))


def zone_names() -> Collection[str]:
    """Time zones of the IANA list, and the names one widespread program gives them."""
    from icalendar.timezone.windows_to_olson import WINDOWS_TO_OLSON

    return (zoneinfo.available_timezones() - NO_ZONES) | set(WINDOWS_TO_OLSON)


def _blocks(text: str, limits: Limits) -> Iterator[_Block]:
    """Every event and time zone. Raises Refused."""
    lines = [line for line in _LINE_END.split(_UNFOLD.sub("", text)) if line.strip()]
    if not lines or lines[0].strip().upper() != "BEGIN:VCALENDAR":
        raise Refused("none")
    if len(lines) > limits.lines:
        raise Refused("lines", most=limits.lines)
    open_: list[str] = []
    block: _Block | None = None
    for line in lines:
        found = _NAME.match(line)
        name = found.group().upper() if found else ""
        if name == "BEGIN":
            kind = line[6:].strip().upper()
            open_.append(kind)
            if len(open_) > MOST_LEVELS:
                raise Refused("deep", most=MOST_LEVELS)
            if (kind == "VCALENDAR") != (len(open_) == 1):
                raise Refused("nesting")
            if len(open_) == 2 and kind in ("VEVENT", "VTIMEZONE"):
                block = _Block(kind)
                block.lines.append(f"BEGIN:{kind}")
            elif block is not None and block.kind == "VTIMEZONE" and len(open_) == 3:
                block.lines.append(f"BEGIN:{kind}")
                block.changes += 1
                block.fits = block.fits and kind in ("STANDARD", "DAYLIGHT")
        elif name == "END":
            kind = line[4:].strip().upper()
            if not open_ or open_.pop() != kind:
                raise Refused("nesting")
            if block is not None and len(open_) == 1:
                block.lines.append(f"END:{block.kind}")
                yield block
                block = None
            elif block is not None and block.kind == "VTIMEZONE" and len(open_) == 2:
                block.lines.append(f"END:{kind}")
        elif not open_:
            raise Refused("outside")
        elif len(open_) == 1:
            if name == "PRODID" and _OUR_OWN in line.casefold():
                # What stands in a feed of ours came from here; read back, every trip would count twice.
                raise Refused("ours")
            if name == "CALSCALE" and line.partition(":")[2].strip().upper() != "GREGORIAN":
                raise Refused("gregorian")
        elif block is not None:
            _keep(block, name, line, deep=len(open_) > 2)
    if open_:
        raise Refused("cut-off")


def _keep(block: _Block, name: str, line: str, *, deep: bool) -> None:
    if block.kind == "VTIMEZONE":
        if name not in _OF_ZONES or (name == "TZID") == deep:
            return
        if name == "RRULE" and not _RULE_OF_A_ZONE.fullmatch(line.strip()):
            block.fits = False
        if name == "TZID":
            block.tzid = line.partition(":")[2].strip()
            line = f"TZID:{block.tzid}"
        block.lines.append(line)
        return
    if deep or name not in _OF_EVENTS:
        return
    if name in _TEXTS:
        line = line[:LONGEST_TEXT].rstrip("\\")
    if name == "DTSTART":
        day = _DAY.search(line.rpartition(":")[2])
        block.first_day = day.group() if day else ""
    block.names.add(name)
    block.lines.append(line)


def _is_own_zone(block: _Block, known: Collection[str]) -> bool:
    """A time zone that only this calendar describes. One that everybody knows is taken as everybody knows it."""
    return (
        block.kind == "VTIMEZONE"
        and block.fits
        and bool(block.tzid)
        and block.tzid not in known
        and 0 < block.changes <= MOST_CHANGES_OF_A_ZONE
    )


def _is_out_of_sight(block: _Block, first_day: str, end_day: str) -> bool:
    """An event that happens once, and so far from the days looked at that no zone and no length brings it in.

    Years are compared, with one to spare; nothing that is taken lasts longer than a year.
    """
    year = int(block.first_day[:4])
    return year < int(first_day[:4]) - 2 or year > int(end_day[:4]) + 1


def _with_known_zone(line: str, own: dict[str, str], known: Collection[str], unknown: dict[str, None]) -> str:
    """The line with its time zone spelt so that the library finds the right one, or without."""
    found = _TZID.search(line)
    if found is None or not line[:3].upper().startswith(_DATED):
        return line
    tzid = found.group(1).strip('"')
    if tzid in own:
        return f"{line[: found.start()]};TZID={own[tzid]}{line[found.end() :]}"
    if tzid in known:
        return line
    unknown[tzid] = None
    return line[: found.start()] + line[found.end() :]
