"""A garage for the tests: outlooks, bookings and findings made by hand, with ordinary and with nasty names."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import cast

from fleetcare.book.rows import BookRow, IntervalRule, Status
from fleetcare.calendar_feed.calm import Shown, shown_lines
from fleetcare.calendar_feed.entries import feed_entries
from fleetcare.calendar_feed.publishing import Published, checked_base, draft_of, press_at, publish
from fleetcare.calendar_feed.render import feed_body
from fleetcare.calendar_feed.rules import FeedRules
from fleetcare.calendar_feed.values import FeedBody, FeedEntry, PublishedEntry
from fleetcare.due.outlook import Cause, DueWindow, LineOutlook, NoDate, ReadingWanted, VehicleOutlook
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.component import Component, LineKey, TagFact
from fleetcare.fleet.duty import ALL_DAILY
from fleetcare.fleet.feed_choice import FeedAlarm, FeedChoice, WindowDate
from fleetcare.fleet.people import Person, Role
from fleetcare.fleet.vehicle import Meter, Vehicle, VehicleKind
from fleetcare.quantities import DateSpan, DistanceUnit, MeterUnit
from fleetcare.work.record import Finding, WorkDone
from tests.calendar_feed.raw_feed import RawFeed

TODAY = date(2026, 4, 14)
NOW = datetime(2026, 4, 14, 6, 30, 15, 123456, tzinfo=UTC)
BASE = "https://garage.example"
GARAGE_ID = "karst-ridge-1"
NAME = "Karst Ridge garage"
INES = Person("ines", "Ines Calloway", unit=DistanceUnit.MI, roles=(Role.KEEPER,))

NASTY = (
    "Anvil, the \N{HAMMER AND WRENCH}\N{VARIATION SELECTOR-16} one; really",
    "C:\\New\\nuts",
    'Say "oil": now',
    "BEGIN:VEVENT\r\nSUMMARY:not mine\r\nEND:VEVENT",
    "אדום, ‮ירוק",
    "q" * 200,
    "e" + "\N{COMBINING ACUTE ACCENT}" * 120,
    "\N{FAMILY}\N{ZERO WIDTH JOINER}" * 60,
    "a\x00b\x07c\x85d\u2028e\u2029f\ufeffg\ufffdh",
    "ends with a backslash \\",
    "\\, \\; \\n \\N \\\\n",
    "tab\tand  blanks  ",
    "\ud800 half a pair",
    "'quote' ^n ^' %0D%0A",
    "\N{HAMMER AND WRENCH} long, " * 900,
)


def vehicle(mark: str, name: str, **changes: object) -> Vehicle:
    """A tow rig with an odometer, or what the changes make of it."""
    made = Vehicle(
        mark, name, VehicleKind.LIGHT_TRUCK, "tow rig", DistanceUnit.MI, meters=(Meter("odometer", MeterUnit.MI),)
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def line(
    mark: str,
    service: str,
    window: tuple[date, date, date] | None,
    *,
    component: str = "engine",
    component_title: str = "",
    short: str = "",
    title: str = "",
    cause: Cause = Cause.DISTANCE,
    q_read: float | None = 0.63,
    last_done_on: date | None = date(2025, 9, 1),
    action: str = "",
    tag: str = "",
) -> LineOutlook:
    """One service line, as it stands on TODAY."""
    row = BookRow(
        key=service,
        title=title or service.replace("-", " ").capitalize(),
        short=short or service.replace("-", " "),
        components=(component,),
        vehicles=(),
        rule=IntervalRule(),
        source="made up for a test",
        status=Status.GARAGE,
        action=action,
    )
    return LineOutlook(
        key=LineKey(mark, component, service),
        row=row,
        component=Component(
            component,
            component,
            component_title or component.replace("-", " ").capitalize(),
            fluid_grade=tag,
            fluid_capacity_l=Decimal("2.6") if tag else None,
            facts=tuple(TagFact(name, tag) for name in ("closure", "friction modifier")) if tag else (),
        ),
        today=TODAY,
        window=DueWindow(*window, cause) if window else None,
        no_date=None if window else NoDate.NO_READING,
        q_read=q_read,
        q_now=q_read,
        per_day=0.002,
        last_done_on=last_done_on,
    )


def outlook(of: Vehicle, *lines: LineOutlook, **changes: object) -> VehicleOutlook:
    """A vehicle with these lines, as it stands on TODAY."""
    made = VehicleOutlook(
        vehicle=of,
        today=TODAY,
        last_reading=None,
        reckoned_dial=None,
        pace_km_per_day=46.5,
        readings_used=24,
        basis="24 readings in twelve months",
        mix=ALL_DAILY,
        lines=lines,
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def around(likely: date, before: int = 12, after: int = 20) -> tuple[date, date, date]:
    """A window around its likely date."""
    return (likely - timedelta(days=before), likely, likely + timedelta(days=after))


def karst_ridge() -> tuple[VehicleOutlook, ...]:
    """Three ordinary vehicles: one with windows ahead, one past late, one that wants a reading."""
    anvil = vehicle("AN", "Anvil", keeper="ines")
    raft = vehicle("RA", "Raft", kind=VehicleKind.TRAILER, keeper="ines")
    bellows = vehicle("BE", "Bellows", keeper="teo", drivers=("ines",))
    return (
        outlook(
            anvil,
            line("AN", "engine-oil", (date(2026, 5, 27), date(2026, 6, 7), date(2026, 6, 26)), title="Engine oil"),
            line("AN", "axle-fluid", around(date(2026, 5, 11)), component="rear-axle"),
            line("AN", "axle-fluid", around(date(2026, 5, 11)), component="front-axle"),
            line("AN", "coolant", None, component="cooling-system"),
        ),
        outlook(
            raft,
            line(
                "RA",
                "coupling",
                (date(2026, 3, 11), date(2026, 3, 25), date(2026, 4, 8)),
                component="trailer-coupling",
                cause=Cause.DATE,
                q_read=1.0541,
            ),
            pace_km_per_day=None,
        ),
        outlook(
            bellows,
            line("BE", "hubs", around(date(2026, 9, 1)), cause=Cause.UNKNOWN_HISTORY, last_done_on=None),
            wanted=ReadingWanted("odometer", date(2026, 4, 9), date(2026, 3, 12), Decimal(83365)),
            readings_used=0,
            basis="the yearly distance given",
        ),
    )


def karst_ridge_bookings() -> tuple[Booking, ...]:
    """Two spells, one of them with a vehicle that is not shown."""
    return (
        Booking(
            "hill-climb", "Hollow Lake hill climb", DateSpan.of_days(date(2026, 5, 1), date(2026, 5, 3)), ("AN", "RA")
        ),
        Booking(
            "tow",
            "Track day tow",
            DateSpan.of_days(date(2026, 5, 15), date(2026, 5, 16)),
            ("NE", "BE"),
            distance=Decimal(180),
            unit=DistanceUnit.MI,
            duty="towing",
        ),
    )


def karst_ridge_work() -> tuple[WorkDone, ...]:
    """One record with a finding to look at again, one that is settled, one without."""
    return (
        WorkDone(
            LineKey("BE", "engine", "hubs"),
            date(2026, 2, 1),
            findings=(
                Finding("rear cover damp", look_again_on=date(2026, 5, 20)),
                Finding("vent stiff", look_again_on=date(2026, 3, 1), settled_on=date(2026, 3, 2)),
                Finding("magnet clean"),
            ),
        ),
    )


def nasty_garage() -> tuple[tuple[VehicleOutlook, ...], tuple[Booking, ...], tuple[WorkDone, ...]]:
    """Every nasty text in every place a person can type one into: names, services, bookings, findings, marks."""
    outlooks, bookings, work = [], [], []
    for number, text in enumerate(NASTY):
        mark = f"{text[:2]}{number}"
        likely = TODAY + timedelta(days=20 + number % 3)
        spell = DateSpan.of_days(TODAY - timedelta(days=number), TODAY + timedelta(days=number))
        outlooks.append(
            outlook(
                vehicle(mark, text, laid_up=(spell,)),
                line(
                    mark,
                    "oil",
                    around(likely),
                    short=text[:24],
                    title=text,
                    component_title=text,
                    action=f"reseal, refill {text}",
                    tag=text,
                ),
                line(mark, "fluid", around(TODAY - timedelta(days=60)), short="fluid", component=text),
                line(mark, "fluid", around(likely), short="fluid", component=f"{text}2", component_title=text),
                wanted=ReadingWanted("odometer", TODAY - timedelta(days=number), None, None),
                basis=text,
                readings_used=0,
            )
        )
        booking_days = DateSpan.of_days(TODAY, TODAY + timedelta(days=number))
        bookings.append(Booking(text, text, booking_days, (mark, "XX"), distance=Decimal(70), duty=text))
        finding = Finding(text, look_again_on=TODAY + timedelta(days=3))
        work.append(WorkDone(LineKey(mark, "engine", "oil"), TODAY, findings=(finding, finding)))
    return tuple(outlooks), tuple(bookings), tuple(work)


def rich_entries(today: date = TODAY, choice: FeedChoice | None = None) -> tuple[FeedEntry, ...]:
    """What Ines is shown of the ordinary garage and of the nasty one together."""
    outlooks, bookings, work = nasty_garage()
    return feed_entries(
        INES,
        outlooks=(*karst_ridge(), *outlooks),
        bookings=(*karst_ridge_bookings(), *bookings),
        work=(*karst_ridge_work(), *work),
        today=today,
        choice=choice,
    )


def published(
    entries: Sequence[FeedEntry],
    previous: Sequence[PublishedEntry] = (),
    now: datetime = NOW,
    base_url: str = BASE,
    era: int = 0,
) -> Published[PublishedEntry]:
    """The ledger after publishing these entries."""
    press = press_at(now, era)
    press.knows(previous)
    base = checked_base(base_url)
    drafts = [draft_of(entry, garage_id=GARAGE_ID, base=base) for entry in entries]
    # What comes in with its bytes goes out with its bytes.
    return cast("Published[PublishedEntry]", publish(previous, drafts, press))


class Subscription:
    """One person's calendar, published again and again; what calendars say of the lines is kept in between."""

    def __init__(self, rules: FeedRules | None = None, choice: FeedChoice | None = None) -> None:
        self.rules = rules or FeedRules()
        self.choice = choice
        self.shown: Mapping[LineKey, Shown] = {}
        self.ledger = published(())
        self.body: FeedBody | None = None

    def publish(
        self,
        outlooks: Sequence[VehicleOutlook],
        bookings: Sequence[Booking] = (),
        work: Sequence[WorkDone] = (),
        *,
        today: date,
        now: datetime,
    ) -> FeedBody:
        """The body on that day."""
        self.shown = shown_lines(self.shown, outlooks, today=today, rules=self.rules)
        entries = feed_entries(
            INES,
            outlooks=outlooks,
            bookings=bookings,
            work=work,
            today=today,
            choice=self.choice,
            shown=self.shown,
            rules=self.rules,
        )
        self.ledger = published(entries, self.ledger.entries, now)
        self.body = served(self.ledger, previous=self.body, now=now)
        return self.body


ALARMS = (FeedAlarm("week", 7, timedelta(hours=9)), FeedAlarm("day", 1, timedelta(hours=18)))
EVERYTHING = FeedChoice(dates=tuple(WindowDate), alarms=ALARMS)
"""The choice that fills a calendar most."""


def served(
    ledger: Published[PublishedEntry], previous: FeedBody | None = None, now: datetime = NOW, name: str = NAME
) -> FeedBody:
    """The body Ines is served."""
    return feed_body("ines", name, ledger.entries, previous=previous, now=now)


def raw(entries: Sequence[FeedEntry], name: str = NAME) -> RawFeed:
    """A fresh feed of these entries, to be read by hand."""
    return RawFeed(served(published(entries), name=name).body, NOW, TODAY, name)
