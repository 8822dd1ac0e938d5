"""A feed read by hand from its bytes: lines, blocks and properties by RFC 5545, sharing no code with any library."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

CONTENT_LINE = re.compile(
    r'(?P<name>[A-Z][A-Z0-9-]*)(?P<params>(?:;[A-Z][A-Z0-9-]*=(?:"[^"]*"|[^";:,]*))*):(?P<value>.*)'
)
"""RFC 5545 3.1, with the upper-case names that strict readers want."""


@dataclass(frozen=True, slots=True)
class Property:
    """One unfolded content line."""

    name: str
    params: str
    value: str

    @property
    def text(self) -> str:
        """The value as TEXT, unescaped in one pass (RFC 5545 3.3.11)."""
        return re.sub(r"\\(.)", lambda m: "\n" if m[1] in "nN" else m[1], self.value)


@dataclass(slots=True)
class Block:
    """What stands between BEGIN and END: properties and blocks in their order."""

    kind: str
    content: list[Property | Block] = field(default_factory=list)

    @property
    def properties(self) -> list[Property]:
        return [each for each in self.content if isinstance(each, Property)]

    @property
    def blocks(self) -> list[Block]:
        return [each for each in self.content if isinstance(each, Block)]

    def all(self, name: str) -> list[Property]:
        return [each for each in self.properties if each.name == name]

    def one(self, name: str) -> Property:
        """The property that stands exactly once."""
        found = self.all(name)
        assert len(found) == 1, f"{name} stands {len(found)} times in {self.kind}"
        return found[0]


@dataclass(frozen=True, slots=True)
class RawFeed:
    """A body as served, when and on which day, and the name its calendar should have."""

    body: bytes
    now: datetime
    today: date
    name: str

    @property
    def physical(self) -> list[bytes]:
        return self.body.removesuffix(b"\r\n").split(b"\r\n")

    @property
    def logical(self) -> list[str]:
        return unfolded(self.body)

    @property
    def calendar(self) -> Block:
        return parsed(self.logical)

    @property
    def events(self) -> list[Block]:
        return [block for block in self.calendar.blocks if block.kind == "VEVENT"]

    def each_property(self) -> Iterator[Property]:
        yield from self.calendar.properties
        for event in self.events:
            yield from event.properties


def unfolded(body: bytes) -> list[str]:
    """RFC 5545 3.1: a CRLF and one space or tab are taken out."""
    return re.sub(rb"\r\n[ \t]", b"", body).decode("utf-8").removesuffix("\r\n").split("\r\n")


def parsed(lines: list[str]) -> Block:
    """The one outermost block. Raises AssertionError if lines are no content lines or blocks do not nest and close."""
    top = Block("")
    open_blocks = [top]
    for line in lines:
        match = CONTENT_LINE.fullmatch(line)
        assert match, f"not a content line: {line!r}"
        name, value = match["name"], match["value"]
        if name == "BEGIN":
            block = Block(value)
            open_blocks[-1].content.append(block)
            open_blocks.append(block)
        elif name == "END":
            assert open_blocks.pop().kind == value, f"END:{value} closes another block"
        else:
            open_blocks[-1].content.append(Property(name, match["params"], value))
    assert open_blocks == [top], "a block is left open"
    assert len(top.content) == 1, "more than one outermost block"
    (only,) = top.blocks
    return only


def day_of(prop: Property) -> date:
    """A DATE value (RFC 5545 3.3.4)."""
    assert re.fullmatch(r"\d{8}", prop.value), prop.value
    return date(int(prop.value[:4]), int(prop.value[4:6]), int(prop.value[6:]))


def is_timed(prop: Property) -> bool:
    """It is an instant and not a day."""
    return "T" in prop.value


def when(prop: Property) -> date | datetime:
    """The day of a DATE, the instant of a DATE-TIME."""
    return moment_of(prop) if is_timed(prop) else day_of(prop)


def start_of(prop: Property) -> date:
    """The day of a DATE, or the day in UTC of a DATE-TIME."""
    return moment_of(prop).date() if is_timed(prop) else day_of(prop)


def end_of(prop: Property) -> date:
    """The first day after what ends there."""
    return (moment_of(prop) - timedelta(seconds=1)).date() + timedelta(days=1) if is_timed(prop) else day_of(prop)


def moment_of(prop: Property) -> datetime:
    """A DATE-TIME in UTC (RFC 5545 3.3.5, form 2)."""
    assert re.fullmatch(r"\d{8}T\d{6}Z", prop.value), prop.value
    return datetime.strptime(prop.value[:-1] + "+0000", "%Y%m%dT%H%M%S%z")


def duration_of(value: str) -> timedelta:
    """A DURATION (RFC 5545 3.3.6)."""
    shape = r"([+-]?)P(?=.)(?:(\d+)W|(?:(\d+)D)?(?:T(?=.)(?:(\d+)H)?(?:(\d+)M)?(?:(\d+)S)?)?)"
    match = re.fullmatch(shape, value)
    assert match, value
    weeks, days, hours, minutes, seconds = (int(part or 0) for part in match.groups()[1:])
    length = timedelta(weeks=weeks, days=days, hours=hours, minutes=minutes, seconds=seconds)
    return -length if match[1] == "-" else length
