"""What concerns one person this week: chosen from where the garage stands, in a fixed order."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from fleetcare.due.outlook import DueWindow, LineOutlook, VehicleOutlook
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.people import Garage, Person, Role
from fleetcare.meter.reading import Reading
from fleetcare.work.record import Finding, WorkDone

AHEAD = timedelta(weeks=8)
"""A service is told of from eight weeks before its window opens."""
MOST_LINES = 40
"""A keeper of very many vehicles gets the most urgent services of them; the rest is a count and a link."""
MOST_ELSEWHERE = 12


@dataclass(frozen=True, slots=True)
class ServiceAhead:
    """A service whose window opens soon, is open, or is past late."""

    outlook: VehicleOutlook
    line: LineOutlook
    window: DueWindow

    @property
    def urgency(self) -> tuple[date, date, LineKey]:
        """Sorts the latest date that comes first to the front."""
        return (self.window.late, self.window.early, self.line.key)


@dataclass(frozen=True, slots=True)
class OpenFinding:
    """A finding that somebody wanted to look at again."""

    found_on: date
    finding: Finding
    look_again_on: date


@dataclass(frozen=True, slots=True)
class Kept:
    """One vehicle the person keeps or drives, with what is to be said of it."""

    outlook: VehicleOutlook
    services: tuple[ServiceAhead, ...]
    findings: tuple[OpenFinding, ...]
    held: tuple[Reading, ...]
    spoken_for: tuple[Booking, ...]
    reading_link: str
    """Where its reading is entered, if one is wanted of this person."""

    @property
    def says_something(self) -> bool:
        """True if there is more than a spell it is spoken for, which by itself asks nothing of anybody."""
        return bool(self.services or self.findings or self.held or self.reading_link or self.is_asked_after)

    @property
    def is_asked_after(self) -> bool:
        """True if it seems to stand, or to run while it is laid up, and somebody has to say which."""
        return self.outlook.standing is not None or self.outlook.moved is not None


@dataclass(frozen=True, slots=True)
class Concerns:
    """Everything one garage letter is made from. services_left_out: of the kept vehicles, beyond the limit."""

    kept: tuple[Kept, ...]
    services_left_out: int
    past_late_elsewhere: tuple[ServiceAhead, ...]
    open_elsewhere: tuple[ServiceAhead, ...]
    today: date

    @property
    def services(self) -> tuple[ServiceAhead, ...]:
        """Services of the kept vehicles, most urgent first."""
        return tuple(sorted((each for kept in self.kept for each in kept.services), key=lambda each: each.urgency))

    @property
    def past_late(self) -> tuple[ServiceAhead, ...]:
        """Those of them that are past late."""
        return tuple(each for each in self.services if each.window.is_past_late(self.today))

    @property
    def open(self) -> tuple[ServiceAhead, ...]:
        """Those of them whose window is open."""
        return tuple(each for each in self.services if each.window.is_open(self.today))

    @property
    def readings_wanted(self) -> tuple[Kept, ...]:
        """Vehicles whose meter this person is asked to read."""
        return tuple(kept for kept in self.kept if kept.reading_link)


def concerns_of(
    person: Person,
    *,
    garage: Garage,
    outlooks: Sequence[VehicleOutlook],
    kept: Collection[str],
    work: Sequence[WorkDone],
    bookings: Sequence[Booking],
    reading_links: Mapping[str, str],
    today: date,
    ahead: Sequence[ServiceAhead] | None = None,
    has_bay_days: bool = False,
) -> Concerns | None:
    """What concerns this person, or None if nothing does.

    What is past late elsewhere concerns people who keep or mend vehicles and who keeps the list; somebody who only
    drives gets no letter for it alone. Vehicles keep the order of `outlooks`. ahead: `services_ahead` of the outlooks,
    for who asks for many people. has_bay_days: the person is down for work in the bay, which is enough for a letter.
    """
    everything = services_ahead(outlooks, today) if ahead is None else ahead
    own = [outlook for outlook in outlooks if outlook.vehicle.mark in kept]
    theirs_ahead = [each for each in everything if each.outlook.vehicle.mark in kept]
    told: defaultdict[str, list[ServiceAhead]] = defaultdict(list)
    for each in theirs_ahead[:MOST_LINES]:
        told[each.outlook.vehicle.mark].append(each)
    findings = _findings(work, today)
    spoken_for = _spoken_for(bookings, today)
    theirs = tuple(
        Kept(
            outlook=outlook,
            services=tuple(told[outlook.vehicle.mark]),
            findings=tuple(findings[outlook.vehicle.mark]),
            held=outlook.held,
            spoken_for=tuple(spoken_for[outlook.vehicle.mark]),
            reading_link=reading_links.get(outlook.vehicle.mark, "") if outlook.wanted else "",
        )
        for outlook in own
    )
    others = [each for each in everything if each.outlook.vehicle.mark not in kept]
    found = Concerns(
        kept=theirs,
        services_left_out=max(0, len(theirs_ahead) - MOST_LINES),
        past_late_elsewhere=tuple(each for each in others if each.window.is_past_late(today)),
        open_elsewhere=tuple(each for each in others if each.window.is_open(today)),
        today=today,
    )
    minds_the_rest = person.key == garage.list_keeper or {Role.KEEPER, Role.MECHANIC} & set(person.roles)
    if has_bay_days or any(each.says_something for each in theirs) or (minds_the_rest and found.past_late_elsewhere):
        return found
    return None


def services_ahead(outlooks: Sequence[VehicleOutlook], today: date) -> tuple[ServiceAhead, ...]:
    """Services whose window opens within eight weeks, is open, or is past late; most urgent first."""
    found = [
        ServiceAhead(outlook, line, line.window)
        for outlook in outlooks
        for line in outlook.lines
        if line.window is not None and line.window.early - today <= AHEAD
    ]
    return tuple(sorted(found, key=lambda each: each.urgency))


def _findings(work: Sequence[WorkDone], today: date) -> defaultdict[str, list[OpenFinding]]:
    """By mark; one look through the work of the whole garage, of which most found nothing."""
    found: defaultdict[str, list[OpenFinding]] = defaultdict(list)
    for done in work:
        for finding in done.findings:
            again_on = finding.look_again_on
            if again_on is not None and finding.settled_on is None and again_on - today <= AHEAD:
                found[done.line.mark].append(OpenFinding(done.on, finding, again_on))
    for of_one in found.values():
        of_one.sort(key=lambda each: (each.look_again_on, each.found_on, each.finding.text))
    return found


def _spoken_for(bookings: Sequence[Booking], today: date) -> defaultdict[str, list[Booking]]:
    """By mark, those that are not over and begin soon."""
    ahead: defaultdict[str, list[Booking]] = defaultdict(list)
    for booking in sorted(bookings, key=lambda each: (each.days, each.key)):
        if booking.days.end > today and booking.days.first - today <= AHEAD:
            for mark in dict.fromkeys(booking.marks):
                ahead[mark].append(booking)
    return ahead
