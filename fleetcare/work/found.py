"""Something that was found on a component while it was worked on: where, how bad, and what follows from it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from fleetcare.errors import BadFinding
from fleetcare.fleet.component import Component, LineKey
from fleetcare.language import from_books, saying
from fleetcare.quantities import MeterUnit
from fleetcare.work.findings import FindingBook, FindingKind, Follow, FollowKind, LimitKnown, Measure, measured_grade
from fleetcare.work.moves import Move, where_now
from fleetcare.work.tag_limits import limit_on_tag

_LOOK = re.compile(r"look-(\d{4,8})-(\d{1,3})")


@dataclass(frozen=True, slots=True)
class Found:
    """One finding. Never changed but for being settled.

    order, position: the sheet it stands on, and its place there from 1 on; (0, 0) before it has one. kind, grade: keys
    of the book of findings; grade is empty if no limit was known to judge a value by. words: what was found as it was
    said on that day, for the book may change. place: where on the component. value, unit: as measured. low,
    high: what it was judged by. at, meter: what
    the dial showed then. decided: why the keeper decided on something other than the book says, empty if not. photos:
    names of pictures in the home.
    """

    mark: str
    component: str
    kind: str
    grade: str
    words: str
    on: date
    follow: Follow
    place: str = ""
    value: Decimal | None = None
    unit: str = ""
    low: Decimal | None = None
    high: Decimal | None = None
    at: Decimal | None = None
    meter: MeterUnit | None = None
    by: str = ""
    note: str = ""
    decided: str = ""
    photos: tuple[str, ...] = ()
    order: int = 0
    position: int = 0
    settled_on: date | None = None
    settled_by: str = ""
    settled_note: str = ""

    def __post_init__(self) -> None:
        if not self.component:
            raise BadFinding("A finding has no place.", remedy="Say on which component it was found.", field="place")
        if self.settled_on is not None and self.settled_on < self.on:
            raise BadFinding(
                saying("A finding of {on} cannot be settled on {settled_on}.", on=self.on, settled_on=self.settled_on),
                remedy="Give a day after it was found.",
                field="settled_on",
            )

    @property
    def is_open(self) -> bool:
        """True if somebody still has to look: nobody settled it, and a look or a stop follows from it."""
        return self.settled_on is None and self.follow.kind in (FollowKind.LOOK_AGAIN, FollowKind.HOLD)

    @property
    def holds(self) -> bool:
        """True if the vehicle must not be driven because of it."""
        return self.is_open and self.follow.kind is FollowKind.HOLD

    @property
    def line(self) -> LineKey:
        """The line under which its look stands among the due dates."""
        return LineKey(self.mark, self.component, f"look-{self.order:04d}-{self.position}")


def finding_number(found: Found) -> str:
    """Sheet and place on it, `0147-1`: the name of a finding in addresses and commands."""
    return f"{found.order:04d}-{found.position}"


def found_words(found: Found) -> str:
    """What was found, as it was said on that day; `tr_book` says it in a language as far as the shipped book has it."""
    kind, value, unit = found_what(found), found.value, found.unit
    rest = found.words.partition(": ")[2]
    if value is None:
        told = from_books("{kind}: {grade}", kind=kind, grade=rest)
    elif grade := rest.removeprefix(f"{value} {unit}").removeprefix(", "):
        told = from_books("{kind}: {value} {unit}, {grade}", kind=kind, value=value, unit=unit, grade=grade)
    else:
        told = from_books("{kind}: {value} {unit}", kind=kind, value=value, unit=unit)
    return told if told == found.words else found.words


def found_what(found: Found) -> str:
    """What was looked at, and where: `Pad thickness, front left`; in a language as `found_words`."""
    what = found.words.partition(": ")[0]
    kind = what.removesuffix(f", {found.place}") if found.place else what
    return from_books("{kind}, {place}", kind=kind, place=found.place) if kind != what else what


def look_of(line: LineKey) -> tuple[int, int] | None:
    """Sheet and place of the finding whose look that line is; None for a service."""
    match = _LOOK.fullmatch(line.service)
    return (int(match[1]), int(match[2])) if match else None


def holding(found: Iterable[Found]) -> tuple[Found, ...]:
    """The findings for which a vehicle must not be driven, oldest first."""
    return tuple(sorted((each for each in found if each.holds), key=lambda each: (each.on, each.order, each.position)))


def settled(found: Found, *, on: date, by: str, note: str = "") -> Found:
    """The finding once somebody looked and settled it. Raises BadFinding for a day before it was found."""
    return replace(found, settled_on=on, settled_by=by, settled_note=note)


def found_where_it_is(found: Iterable[Found], moves: Sequence[Move]) -> tuple[Found, ...]:
    """The findings under the place where their component is now; in the order given."""
    return tuple(_placed(each, moves) for each in found) if moves else tuple(found)


def _placed(found: Found, moves: Sequence[Move]) -> Found:
    mark, component = where_now(found.mark, found.component, found.on, moves)
    if (mark, component) == (found.mark, found.component):
        return found
    # What the dial showed was another vehicle's dial.
    return replace(found, mark=mark, component=component, at=None, meter=None)


@dataclass(frozen=True, slots=True)
class Seen:
    """A finding as somebody gives it, before the book has its say.

    component, place, kind, grade: as typed. value: measured, in the unit of the kind. otherwise: what the keeper
    decides on instead of what the book says, with the reason in `decided`.
    """

    component: str
    kind: str
    grade: str = ""
    place: str = ""
    value: Decimal | None = None
    note: str = ""
    otherwise: Follow | None = None
    decided: str = ""
    photos: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Judged:
    """A finding with what the book says of it. by_book: what follows if nobody decides otherwise. means: what it says.

    limit: what a measured value was judged by, None if nothing is known. source: of what follows.
    """

    found: Found
    kind: FindingKind
    by_book: Follow
    means: str
    limit: LimitKnown | None
    source: str


def judged(
    seen: Seen,
    book: FindingBook,
    component: Component,
    *,
    mark: str,
    on: date,
    by: str,
    at: Decimal | None = None,
    meter: MeterUnit | None = None,
) -> Judged:
    """What the book says of a finding. Raises BadFinding and NotFound (kind), with what to give instead."""
    kind = book.kind(seen.kind)
    place = kind.place(seen.place, component)
    limit = None
    if kind.measure is not None:
        if seen.value is None:
            raise BadFinding(
                saying("{title} has no value.", title=kind.title),
                remedy=saying("Give it in {unit}.", unit=kind.measure.unit),
                field="value",
            )
        limit = limit_on_tag(component, kind.measure)
        key = measured_grade(kind.measure, seen.value, limit)
        grade = kind.grade(key) if key else None
    else:
        if seen.value is not None:
            raise BadFinding(
                saying("{title} is not measured.", title=kind.title), remedy="Give a grade.", field="value"
            )
        grade = kind.grade(seen.grade)
    by_book = grade.follow if grade is not None else Follow(FollowKind.NOTHING)
    if seen.otherwise is not None and seen.otherwise != by_book and not seen.decided.strip():
        raise BadFinding(
            saying("{title}: the book says “{kind}”.", title=kind.title, kind=by_book.kind.value),
            remedy="Say why it is decided otherwise.",
            field="decided",
        )
    follow = seen.otherwise or by_book
    found = Found(
        mark=mark,
        component=component.key,
        kind=kind.key,
        grade=grade.key if grade is not None else "",
        words=_words(kind, grade.words if grade is not None else "", place, seen.value, kind.measure),
        on=on,
        follow=follow,
        place=place,
        value=seen.value,
        unit=kind.measure.unit if kind.measure is not None else "",
        low=None if limit is None else limit.low,
        high=None if limit is None else limit.high,
        at=at,
        meter=meter,
        by=by,
        note=seen.note,
        decided=seen.decided.strip() if follow != by_book else "",
        photos=seen.photos,
    )
    no_limit = from_books("No limit is known; enter it on the tag from the vehicle’s manual.")
    means = grade.means if grade is not None else no_limit
    source = (grade.source if grade is not None else "") or kind.source
    return Judged(found, kind, by_book, means, limit, source)


def _words(kind: FindingKind, grade: str, place: str, value: Decimal | None, measure: Measure | None) -> str:
    where = f", {place}" if place else ""
    if value is not None and measure is not None:
        told = f"{value} {measure.unit}"
        return f"{kind.title}{where}: {told}{f', {grade}' if grade else ''}"
    return f"{kind.title}{where}: {grade}"
