"""Values to store: the garage of the Karst Ridge Motor Club in small, and strategies for anything a garage may hold."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from hypothesis import strategies as st

from fleetcare.actions.ports import Change, PackedInputs, Store, WriteUnit
from fleetcare.calendar_feed.calm import Shown
from fleetcare.calendar_feed.render import digest_of
from fleetcare.calendar_feed.values import FEED_END, FeedBody, FeedContents, PublishedEntry
from fleetcare.digest.values import Delivery, LetterKind
from fleetcare.due.outlook import Cause, DueWindow
from fleetcare.fleet.access import AccessKey, Purpose
from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.fleet.component import Component, History, LineKey, LineStart, TagFact
from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.feed_choice import FeedAlarm, FeedChoice, Topic, WindowDate
from fleetcare.fleet.people import Garage, Person, Role
from fleetcare.fleet.vehicle import Meter, MeterChange, Vehicle, VehicleKind
from fleetcare.meter.reading import Door, Reading, ReadingState
from fleetcare.quantities import DateSpan, DistanceUnit, MeterUnit
from fleetcare.usage.learned import FitBasis, Fitted, FleetNumbers
from fleetcare.work.record import Finding, WorkDone

NOW = datetime(2026, 4, 14, 15, 0, 0, 123456, tzinfo=UTC)
TODAY = date(2026, 4, 14)
MINUTE = timedelta(minutes=1)
CHANGE = Change("teo", "typed in", NOW)

GARAGE = Garage("Karst Ridge Motor Club", "America/Denver", DistanceUnit.MI, "k4rst", "ines")
INES = Person("ines", "Inés Farrow", "ines@garage.example", "America/Denver", DistanceUnit.MI, (Role.KEEPER,), None, 6)
TEO = Person("teo", "Teo Lindqvist", roles=(Role.MECHANIC, Role.DRIVER))
SPLIT = DutySplit.from_parts({"towing": 300, "daily": 545})
AXLE = Component(
    "rear-axle",
    "rear axle",
    "Rear axle",
    "75W-140",
    Decimal("2.60"),
    (TagFact("ratio", "3.73", "stamped"), TagFact("friction modifier", "required — 118 mL")),
    (LineStart("axle-fluid", History.RECORDED, TODAY), LineStart("axle-look")),
    date(2019, 5, 2),
)
ANVIL = Vehicle(
    mark="AN",
    name="Anvil",
    kind=VehicleKind.LIGHT_TRUCK,
    called="tow rig",
    unit=DistanceUnit.MI,
    keeper="ines",
    drivers=("teo", "ines"),
    description="Pulls Raft; “the old one”\n二",
    vin="1M8GDM9AXKP042788",
    in_service_on=date(2016, 2, 29),
    entered_on=TODAY,
    usual_split=SPLIT,
    yearly_km=19312.128,
    meters=(
        Meter(
            "odometer",
            MeterUnit.MI,
            5,
            rolls_over=True,
            changes=(MeterChange(date(2024, 3, 1), Decimal("99999.9"), Decimal("0.1")),),
            delivery_value=Decimal("12.5"),
        ),
        Meter("hours", MeterUnit.HOURS),
    ),
    components=(AXLE, Component("engine", "engine", "Engine")),
    laid_up=(DateSpan(date(2025, 12, 1), date(2026, 3, 1)),),
    out_of_fleet_on=date(2031, 1, 1),
    max_km_per_day=1200.5,
)
RAFT = Vehicle("RA", "Raft", VehicleKind.TRAILER, "car trailer", DistanceUnit.MI, towed_by=("AN",))
BELLOWS = Vehicle("BE", "Bellows", VehicleKind.LIGHT_TRUCK, "tow rig", DistanceUnit.MI)
LINE = LineKey("AN", "rear-axle", "axle-fluid")


def reading(value: str = "84210.5", *, mark: str = "AN", meter: str = "odometer", on: date = TODAY) -> Reading:
    """A reading typed at NOW."""
    return Reading(mark, meter, on, Decimal(value), MeterUnit.MI, NOW, "teo", Door.PHONE, SPLIT, note="wet dial")


def work(*, on: date = TODAY, at: str | None = "84210.5", line: LineKey = LINE) -> WorkDone:
    """Work done on the rear axle, with two findings."""
    found = (Finding("Fine dust on the magnet", date(2026, 6, 1)), Finding("Cover pitted", None, TODAY))
    given = None if at is None else Decimal(at)
    return WorkDone(line, on, given, None if at is None else MeterUnit.MI, "teo", "2.6 L taken", found)


def event(kind: str = "track day", *, mark: str = "AN", on: date = TODAY, component: str = "") -> UseEvent:
    """Something that happened."""
    return UseEvent(mark, kind, on, component, "dusty")


def booking(key: str = "ridge-run", *, first: date = TODAY, marks: tuple[str, ...] = ("AN",)) -> Booking:
    """A weekend away."""
    days = DateSpan(first, first + timedelta(days=3))
    return Booking(key, "Ridge run", days, marks, Decimal("640.5"), DistanceUnit.MI, "towing", "tow")


def key(
    hash_: str = "aa11",
    *,
    purpose: Purpose = Purpose.FEED,
    person: str = "ines",
    mark: str = "",
    made_at: datetime = NOW,
    expires_at: datetime | None = None,
) -> AccessKey:
    """A key as stored."""
    return AccessKey(hash_, purpose, person, mark, made_at, expires_at)


HEAD = b"BEGIN:VCALENDAR\r\n"


def contents(person: str = "ines", head: bytes = HEAD, entries: tuple[int, ...] = (), mark: str = "") -> FeedContents:
    """What stands in somebody's calendar."""
    etag = f"etag-{len(head)}-{len(entries)}"
    return FeedContents(person, mark, etag, NOW, head, "form\n二", ("AN", "BE"), entries)


def feed(person: str = "ines", head: bytes = HEAD, parts: bytes = b"", mark: str = "", count: int = 0) -> FeedBody:
    """What is served to somebody. count: of the entries whose bytes are `parts`."""
    return FeedBody(person, f"etag-{len(head)}-{count}", NOW, head + parts + FEED_END, mark)


def published(uid: str = "u1", sequence: int = 0) -> PublishedEntry:
    """An entry as published."""
    body = b"BEGIN:VEVENT\r\nSUMMARY:\xc3\xa9" + uid.encode(errors="replace") + b"\r\n"
    return PublishedEntry(
        uid=uid,
        sequence=sequence,
        created_at=NOW,
        modified_at=NOW + MINUTE,
        content_hash="c" * 64,
        time_hash="t" * 64,
        digest=digest_of(body + bytes([sequence])),
        size=len(body),
        sort_key="2026-04-14 u1 2026-04-15",
        mark="AN",
        body=body,
    )


SHOWN = Shown(DueWindow(TODAY, TODAY, TODAY + timedelta(days=9), Cause.DISTANCE), 0.63, None)
CHOICE = FeedChoice(
    (Topic.DUE, Topic.LAID_UP),
    (WindowDate.EARLY, WindowDate.LATE),
    ("AN",),
    (FeedAlarm("week", 7, timedelta(hours=9)),),
)


def letter(person: str = "teo", period: str = "2026-W16", kind: LetterKind = LetterKind.GARAGE) -> Delivery:
    """A letter that is due."""
    raw = b"Subject: =?utf-8?q?Garage?=\r\n\r\n\x00\xff"
    return Delivery(
        person, kind, period, f"<{person}.{period}@x>", "Garage letter", "t@x.example", raw, NOW, NOW + 60 * MINUTE
    )


def inputs(numbers: bytes = b"\x00\x01\xff", *, mark: str = "AN") -> PackedInputs:
    """What dates are made of; a store keeps any bytes."""
    return PackedInputs(mark, "rules-1", True, numbers)


def fit(*, m0: float = 3.1, who: str = "teo", at: datetime = NOW) -> Fitted:
    """Numbers learned from 21 vehicles."""
    numbers = FleetNumbers(m0, 0.41, 1.25, 0.3, 55.5, 0.0171, (0.5, *(1.0,) * 10, 1.5))
    return Fitted(at, who, numbers, FitBasis(21, 340, 26, -0.1, -0.25, -0.08, -0.2, True))


def settle_in(store: Store) -> None:
    """The garage with its people and three vehicles, in one write."""
    with store.write(CHANGE) as unit:
        unit.put_garage(GARAGE)
        unit.put_person(TEO)
        unit.put_person(INES)
        for vehicle in (RAFT, ANVIL, BELLOWS):
            unit.put_vehicle(vehicle)


def everything(view: WriteUnit) -> tuple[object, ...]:
    """All that a view shows, for comparing before and after."""
    return (
        view.version(),
        view.garage(),
        view.people(),
        view.vehicles(),
        view.readings(),
        view.work(),
        view.events(),
        view.bookings(),
        view.windows(),
        view.keys(),
        view.feed("ines"),
        view.feed_contents(),
        view.published("ines"),
        view.revisions(),
        view.shown_lines(),
        view.feed_choices(),
        view.feed_era(),
        view.feeds_owed(),
        view.deliveries(),
        view.log(),
        view.line_inputs(),
        view.marks(),
        view.newest_fit(),
    )


# Anything a garage may hold

text = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=20)
names = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), min_size=1, max_size=8)
days = st.dates(date(1950, 1, 1), date(2199, 12, 31))
instants = st.datetimes(timezones=st.just(UTC), min_value=datetime(1950, 1, 1), max_value=datetime(2199, 12, 31))  # noqa: DTZ001 - hypothesis adds the zone
dial = st.integers(0, 10**12).map(lambda tenths: Decimal(tenths) / 10)
figures = st.decimals(0, 10**6, allow_nan=False, allow_infinity=False, places=3)
floats = st.floats(0, 1e9)
splits = st.dictionaries(names, st.integers(1, 10**6), min_size=1, max_size=4).map(DutySplit.from_parts)
spans = st.builds(lambda first, length: DateSpan(first, first + timedelta(days=length)), days, st.integers(1, 400))
changes = st.builds(MeterChange, days, dial, dial)
meters = st.builds(
    Meter,
    names,
    st.sampled_from(MeterUnit),
    st.integers(1, 12),
    st.booleans(),
    st.lists(changes, max_size=2).map(tuple),
    dial,
)
starts = st.builds(LineStart, names, st.sampled_from(History), st.none() | days)
facts = st.builds(TagFact, text, text, text)
components = st.builds(
    Component,
    names,
    text,
    text,
    text,
    st.none() | figures,
    st.lists(facts, max_size=2).map(tuple),
    st.lists(starts, max_size=2, unique_by=lambda start: start.service).map(tuple),
    st.none() | days,
)
vehicles = st.builds(
    Vehicle,
    mark=names,
    name=text,
    kind=st.sampled_from(VehicleKind),
    called=text,
    unit=st.sampled_from(DistanceUnit),
    keeper=text,
    drivers=st.lists(text, max_size=2).map(tuple),
    description=text,
    vin=text,
    in_service_on=st.none() | days,
    entered_on=st.none() | days,
    usual_split=splits,
    yearly_km=st.none() | floats,
    meters=st.lists(meters, max_size=2, unique_by=lambda meter: meter.key).map(tuple),
    components=st.lists(components, max_size=2, unique_by=lambda component: component.key).map(tuple),
    laid_up=st.lists(spans, max_size=2).map(tuple),
    towed_by=st.lists(text, max_size=2).map(tuple),
    out_of_fleet_on=st.none() | days,
    max_km_per_day=floats,
)
readings = st.builds(
    Reading,
    st.just("AN"),
    names,
    days,
    dial,
    st.sampled_from(MeterUnit),
    instants,
    text,
    st.sampled_from(Door),
    st.none() | splits,
    st.sampled_from(ReadingState),
    text,
)
