"""The invented garage as it stands on 14 April 2026, and every page made from it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from fleetcare.book.rows import AfterEvent, BookRow, IntervalBook, IntervalRule, Limits, Override, Status
from fleetcare.due.change_words import WindowChange
from fleetcare.due.dial_course import CourseDay, DialCourse, DialPoint
from fleetcare.due.outlook import (
    Cause,
    DueWindow,
    LineOutlook,
    NoDate,
    ReadingWanted,
    Step,
    StoodStill,
    VehicleOutlook,
)
from fleetcare.due.vehicle_state import UNTIL_FURTHER_NOTICE
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.component import Component, LineKey, LineStart, TagFact
from fleetcare.fleet.duty import ALL_DAILY, DutyCycle, DutySplit
from fleetcare.fleet.people import Garage, Person, Role
from fleetcare.fleet.vehicle import HOUR_METER, ODOMETER, Meter, Vehicle, VehicleKind
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.page.cards import book_row, choose, come_in, doubt, entry, handbook, message, road, saved, stop_letters
from fleetcare.page.cards import held as held_page
from fleetcare.page.cards import stickers as stickers_page
from fleetcare.page.cards import vehicle as vehicle_cards
from fleetcare.page.cards import vehicles as vehicles_cards
from fleetcare.page.cards.frame import Link
from fleetcare.page.cards.laid_up import Tried
from fleetcare.page.cards.whose import whose_vehicles
from fleetcare.page.render import Pages
from fleetcare.quantities import DateSpan, DistanceUnit, MeterUnit
from fleetcare.settings.book_files import book_with, load_book
from fleetcare.settings.job_files import load_jobs
from fleetcare.settings.places import SHIPPED_BOOK, SHIPPED_JOBS, shipped_config
from fleetcare.work.record import Finding, WorkDone

TODAY = date(2026, 4, 14)
GARAGE = Garage("Karst Ridge Motor Club", "America/New_York", DistanceUnit.MI, list_keeper="ines")
INES = Person("ines", "Ines Calloway", "ines@karstridge.example", unit=DistanceUnit.MI)
NOOR = Person("noor", "Noor Haddad", "noor@karstridge.example", unit=DistanceUnit.MI, roles=(Role.DRIVER,))
DUTIES = (
    DutyCycle("towing", "towing", severe=True, pattern="chevrons"),
    DutyCycle("track", "track", severe=True, pattern="chequer"),
    DutyCycle("daily", "daily", severe=False, pattern="dots"),
)
ICE = DutyCycle("ice-racing", "ice racing", severe=True, pattern="rings")
NAMES = {"ines": "Ines", "teo": "Teo", "marit": "Marit"}


def reading(
    mark: str, value: str, on: date, *, unit: MeterUnit = MeterUnit.MI, by: str = "", meter: str = ODOMETER
) -> Reading:
    """A reading of one dial."""
    return Reading(mark, meter, on, Decimal(value), unit, datetime(on.year, on.month, on.day, 18, tzinfo=UTC), by=by)


def vehicle(mark: str, name: str, called: str, kind: VehicleKind, meters: tuple[Meter, ...] | None = None) -> Vehicle:
    """A vehicle with an odometer in miles, unless told otherwise."""
    own = (Meter(ODOMETER, MeterUnit.MI),) if meters is None else meters
    return Vehicle(mark, name, kind, called, DistanceUnit.MI, keeper="ines", meters=own, yearly_km=16093.44)


ANVIL = vehicle("AN", "Anvil", "tow rig", VehicleKind.LIGHT_TRUCK)
BELLOWS = vehicle("BE", "Bellows", "tow rig", VehicleKind.LIGHT_TRUCK)
POCKET = vehicle("PO", "Pocket", "courier hatchback", VehicleKind.CAR)
RAFT = vehicle("RA", "Raft", "car trailer", VehicleKind.TRAILER)
PLANK = vehicle("PL", "Plank", "tyre trailer", VehicleKind.TRAILER, ())
WINCH = vehicle(
    "WI", "Winch", "recovery truck", VehicleKind.HEAVY_TRUCK, (Meter(HOUR_METER, MeterUnit.HOURS, digits=5),)
)


def line(
    mark: str,
    title: str,
    short: str,
    component: str,
    *,
    share: tuple[float | None, float | None, float | None] = (None, None, None),
    dates: tuple[date, date, date] | None = None,
    cause: Cause = Cause.DATE,
    no_date: NoDate | None = None,
    after: tuple[AfterEvent, ...] = (),
) -> LineOutlook:
    """One service line; share is wear by reading, wear today, wear a day."""
    service = short.replace(" ", "-")
    row = BookRow(
        service, title, short, (component,), (), IntervalRule(Limits(months=12), after=after), "", Status.GARAGE
    )
    return LineOutlook(
        key=LineKey(mark, component.replace(" ", "-"), service),
        row=row,
        component=Component(component.replace(" ", "-"), component, component.capitalize()),
        today=TODAY,
        window=DueWindow(*dates, cause) if dates else None,
        no_date=no_date,
        q_read=share[0],
        q_now=share[1],
        per_day=share[2],
        last_done_on=None,
    )


def day(month: int, number: int, year: int = 2026) -> date:
    """A day of the year the garage is in."""
    return date(year, month, number)


VENTS = line(
    "AN", "Axle vents, front and rear", "axle vents", "axles", share=(0.8925, 0.8925, 0.005476),
    dates=(day(4, 13), day(5, 4), day(5, 25)),
)  # fmt: skip
AXLE_FLUID = line(
    "AN", "Rear axle fluid, cover reseal", "rear axle fluid", "rear axle", share=(0.9617, 0.9748, 0.000940),
    dates=(day(4, 22), day(5, 11), day(6, 9)), cause=Cause.DISTANCE,
)  # fmt: skip
ENGINE_OIL = line(
    "AN", "Engine oil and filter", "engine oil", "engine", share=(0.6545, 0.7253, 0.005060),
    dates=(day(5, 27), day(6, 7), day(6, 26)), cause=Cause.DISTANCE,
)  # fmt: skip
BELLOWS_OIL = line(
    "BE", "Engine oil and filter", "engine oil", "engine", share=(0.6022, 0.7573, 0.004698),
    dates=(day(5, 24), day(6, 5), day(6, 23)), cause=Cause.DISTANCE,
)  # fmt: skip
BELLOWS_FLUID = line(
    "BE", "Rear axle fluid, cover reseal", "rear axle fluid", "rear axle", share=(0.6, 0.63, 0.000861),
    dates=(day(3, 2, 2027), day(6, 18, 2027), day(11, 3, 2027)), cause=Cause.DISTANCE,
)  # fmt: skip
COUPLING = line(
    "RA", "Coupling, inspection", "coupling inspection", "coupling", share=(1.0541, 1.0541, 0.002738),
    dates=(day(3, 11), day(3, 25), day(4, 8)),
)  # fmt: skip
OFF_THE_ROD = line(
    "RA", "Wheel bearings, repack", "wheel bearings", "hubs", share=(1.1, 1.31, 0.003),
    dates=(day(1, 12), day(1, 20), day(2, 9)), cause=Cause.DISTANCE,
)  # fmt: skip
WIRING = line(
    "PL", "Lights and wiring, inspection", "lights and wiring", "electrics", share=(0.94, 0.94, 0.0027),
    dates=(day(4, 13), day(5, 5), day(5, 27)),
)  # fmt: skip
TYRES = line("PL", "Tyres", "tyres", "wheels", no_date=NoDate.NO_USE, share=(0.4, 0.4, 0.0))
IMMERSION = line(
    "RA", "Hubs after immersion", "hubs after immersion", "hubs", no_date=NoDate.NO_EVENT,
    after=(AfterEvent("immersion"),),
)  # fmt: skip
POCKET_OIL = line(
    "PO", "Engine oil and filter", "engine oil", "engine", share=(0.77, 0.78, 0.0075),
    dates=(day(5, 8), day(5, 12), day(5, 17)), cause=Cause.DISTANCE,
)  # fmt: skip
WINCH_OIL = line("WI", "Winch oil", "winch oil", "winch", no_date=NoDate.NO_READING)

LINK_UNTIL = day(4, 21)
BELLOWS_LAST = reading("BE", "83365", day(3, 12), by="teo")
BELLOWS_NOW = replace(
    reading("BE", "84210", TODAY, by="teo"), split=DutySplit.from_parts({"towing": 3, "daily": 1}), id=7
)


def outlook(of: Vehicle, *lines: LineOutlook, last: Reading | None = None, wanted: ReadingWanted | None = None,
            held: tuple[Reading, ...] = (), used: int = 12) -> VehicleOutlook:  # fmt: skip
    """A vehicle as it stands today."""
    return VehicleOutlook(
        vehicle=of,
        today=TODAY,
        last_reading=last,
        reckoned_dial=None,
        pace_km_per_day=None,
        readings_used=used,
        basis="twelve readings of the last year",
        mix=ALL_DAILY,
        lines=lines,
        wanted=wanted,
        held=held,
    )


BELLOWS_WANTED = ReadingWanted(ODOMETER, day(4, 9), day(3, 12), Decimal(83365))
BELLOWS_OUTLOOK = outlook(BELLOWS, BELLOWS_OIL, BELLOWS_FLUID, last=BELLOWS_LAST, wanted=BELLOWS_WANTED)
OUTLOOKS = (
    outlook(ANVIL, VENTS, AXLE_FLUID, ENGINE_OIL, last=reading("AN", "112640", day(3, 31), by="ines")),
    BELLOWS_OUTLOOK,
    outlook(
        POCKET, POCKET_OIL, last=reading("PO", "61204", day(4, 13)),
        held=(replace(reading("PO", "16204", day(4, 14), by="teo"), state=ReadingState.HELD),),
    ),
    outlook(RAFT, COUPLING, OFF_THE_ROD, IMMERSION, last=reading("RA", "18340", day(3, 31))),
    outlook(PLANK, WIRING, TYRES),
    outlook(WINCH, WINCH_OIL, wanted=ReadingWanted(HOUR_METER, day(4, 1), None, None), used=0),
)  # fmt: skip
WORK = (
    WorkDone(LineKey("BE", "rear-axle", "rear-axle-fluid"), day(3, 2), by="teo",
             findings=(Finding("Rear cover damp at the lower left bolt", look_again_on=day(4, 30)),)),
    WorkDone(LineKey("AN", "engine", "engine-oil"), day(2, 21), by="marit",
             findings=(Finding("Grey paste on the axle magnet, no flakes.", look_again_on=day(4, 9)),
                       Finding("Loose clip", settled_on=day(3, 1)))),
)  # fmt: skip


def road_card(outlooks: tuple[VehicleOutlook, ...] = OUTLOOKS, *, reader: Person | None = INES, start: int = 0,
              note: str = "Letters lie in the folder letters; no mail server is set.",
              unit: DistanceUnit = DistanceUnit.MI, visits: Sequence[BayVisit] = (),
              of: str = "") -> road.RoadCard:  # fmt: skip
    """The front page of the garage."""
    whose = whose_vehicles(of, outlooks, garage=GARAGE, reader=reader, names=NAMES, whole_names={})
    return road.road_card(
        garage=GARAGE, reader=reader, outlooks=outlooks, work=WORK, today=TODAY, unit=unit,
        mail_folder_note=note, can_enter=reader is not None, start=start, names=NAMES, visits=visits, whose=whose,
    )  # fmt: skip


AXLES = (
    Component(
        "front-axle", "front axle", "Front axle", "75W-90 GL-5", Decimal("1.70"), (TagFact("ratio", "4.10", "stamped"),)
    ),
    Component(
        "rear-axle",
        "rear axle",
        "Rear axle, limited slip",
        "75W-140 GL-5",
        Decimal("2.6"),
        (
            TagFact("cover", "sealant, no gasket"),
            TagFact("friction modifier", "118 mL"),
            TagFact("ratio", "4.10", "unknown"),
        ),
    ),
    Component("brakes", "brakes", "Brakes"),
)
RECKONED_FLUID = replace(
    AXLE_FLUID,
    row=replace(
        AXLE_FLUID.row,
        source="Karst Ridge axle sheet",
        status=Status.MEMORY,
        action="drain, reseal, fill",
        overrides=(Override("repeat.distance", "50 000 mi", "40 000 mi", "long grades"),),
    ),
    last_done_on=day(1, 21, 2024),
    steps=(
        Step("Counted from the work of 21 January 2024, when the dial showed 83 312 mi."),
        Step("Distance since then up to 31 March: 29 328 mi, over 30 498 mi: 96.2 % used up by reading."),
        Step("Early 22 April, likely 11 May, late 9 June."),
    ),
)
WHEEL_NUTS = line(
    "AN",
    "Wheel nuts, first check after fitting",
    "wheel nuts",
    "wheels",
    no_date=NoDate.NO_EVENT,
    after=(AfterEvent("wheel fitted"),),
)
ANVIL_OUTLOOK = replace(
    outlook(
        replace(ANVIL, components=AXLES, description="Crew cab on two live axles."),
        WHEEL_NUTS,
        ENGINE_OIL,
        RECKONED_FLUID,
        VENTS,
        last=reading("AN", "112640", day(3, 31), by="ines"),
    ),
    reckoned_dial=Decimal(113045),
    pace_km_per_day=46.53,
    mix=DutySplit.from_parts({"towing": 5, "daily": 3}),
    basis="from 25 readings since 9 November 2024",
    held=(reading("AN", "212640", day(4, 2), by="teo"),),
)
ANVIL_READINGS = (
    reading("AN", "99000", day(4, 13, 2025), by="ines"),
    replace(reading("AN", "111380", day(2, 28), by="ines"), split=DutySplit.from_parts({"towing": 2, "daily": 1})),
    replace(
        reading("AN", "112604", day(3, 31), by="teo"), state=ReadingState.SUPERSEDED, note="Figures exchanged.", id=4
    ),
    replace(
        reading("AN", "112640", day(3, 31), by="ines"), split=DutySplit.from_parts({"towing": 634, "daily": 211}), id=5
    ),
    reading("AN", "212640", day(4, 2), by="teo"),
    replace(reading("AN", "112900", day(4, 9), by="guest"), state=ReadingState.TAKEN_BACK),
)


ANVIL_COURSE = DialCourse(
    MeterUnit.MI,
    points=(
        DialPoint(day(5, 15, 2025), 103560.0, None),
        DialPoint(day(6, 30, 2025), 104900.0, DutySplit.from_parts({"towing": 3, "daily": 1})),
        DialPoint(day(11, 2, 2025), 107720.0, DutySplit.from_parts({"towing": 1, "daily": 2})),
        DialPoint(day(2, 28), 111380.0, DutySplit.from_parts({"towing": 2, "daily": 1})),
        DialPoint(day(3, 31), 112640.0, DutySplit.from_parts({"towing": 634, "daily": 211})),
    ),
    ahead=(
        CourseDay(day(3, 31), 112640.0, 112640.0, 112640.0),
        CourseDay(day(8, 1), 115400.0, 116200.0, 117300.0),
        CourseDay(day(1, 1, 2027), 118760.0, 120610.0, 122340.0),
    ),
)


def vehicle_card(
    of: VehicleOutlook = ANVIL_OUTLOOK,
    *,
    reader: Person | None = INES,
    start: int = 0,
    readings: tuple[Reading, ...] = ANVIL_READINGS,
    readings_start: int = 0,
    changes: Mapping[LineKey, Sequence[WindowChange]] | None = None,
    may_lay_up: bool = False,
    tried: Tried | None = None,
    course: DialCourse | None = None,
) -> vehicle_cards.VehicleCard:
    """The page about one vehicle."""
    return vehicle_cards.vehicle_card(
        garage=GARAGE, reader=reader, outlook=of, readings=readings, duties={each.key: each for each in DUTIES},
        work=tuple(done for done in WORK if done.line.mark == of.vehicle.mark), can_enter=reader is not None,
        names=NAMES, start=start, readings_start=readings_start, changes=changes, may_lay_up=may_lay_up, tried=tried,
        course=course,
    )  # fmt: skip


STANDING = StoodStill(ODOMETER, day(2, 3), day(4, 1), 3, Decimal(112640), MeterUnit.MI)
STANDS = replace(ANVIL_OUTLOOK, standing=STANDING, held=())
"""Anvil shows the same for eight weeks."""
FORGOTTEN = replace(
    ANVIL_OUTLOOK,
    vehicle=replace(
        ANVIL_OUTLOOK.vehicle,
        laid_up=(DateSpan(day(12, 1, 2024), day(3, 1, 2025)), DateSpan(day(2, 3), UNTIL_FURTHER_NOTICE)),
    ),
    moved=reading("AN", "112640", day(3, 31), by="ines"),
    held=(),
)
"""Anvil is laid up until further notice, and yet it ran."""


def change(line: LineOutlook, day_number: int, why: str, told: str) -> WindowChange:
    """A change of a line on a day of this April."""
    at = datetime(2026, 4, day_number, 18, tzinfo=UTC)
    return WindowChange(at, at.date(), "ines", why, line.window, line.window, told)


CHANGES = {
    AXLE_FLUID.key: tuple(
        change(AXLE_FLUID, number, why, told)
        for number, why, told in (
            (13, "the reading of 31 March", "12 days earlier"),
            (9, "a new day", "1 day later"),
            (4, "rear axle fluid done on 2 April", "3 weeks later, the limit is now the date"),
            (2, "brought in from readings.csv", "new, likely 25 May"),
        )
    )
}


def vehicles_card(outlooks: tuple[VehicleOutlook, ...] = OUTLOOKS, *, find: str = "", start: int = 0,
                  reader: Person | None = INES) -> vehicles_cards.VehiclesCard:  # fmt: skip
    """The list of vehicles."""
    return vehicles_cards.vehicles_card(
        garage=GARAGE,
        reader=reader,
        outlooks=outlooks,
        today=TODAY,
        can_enter=reader is not None,
        find=find,
        start=start,
    )


def crowded() -> tuple[VehicleOutlook, tuple[Reading, ...]]:
    """A vehicle with fifty services of many steps, and a reading for every day of a year."""
    steps = tuple(
        Step(f"Step {number} of a long way from the last reading to its date, 12 345 mi in all.")
        for number in range(12)
    )
    lines = tuple(
        replace(each, key=each.key._replace(service=f"{each.key.service}-{number}"), steps=steps)
        for number in range(17)
        for each in (VENTS, AXLE_FLUID, ENGINE_OIL)
    )
    readings = tuple(
        reading("AN", str(100000 + 30 * number), TODAY - timedelta(days=number), by="ines") for number in range(365)
    )
    components = tuple(replace(each, key=f"{each.key}-{number}") for number in range(8) for each in AXLES)
    return replace(ANVIL_OUTLOOK, lines=lines, vehicle=replace(ANVIL, components=components)), readings


def entry_card(of: Vehicle = BELLOWS, *, last: Reading | None = BELLOWS_LAST, typed: str = "", problem: str = "",
               problem_field: str = "odo", meter: str = ODOMETER, day_typed: str = "",
               duties: tuple[DutyCycle, ...] = DUTIES, until: date | None = LINK_UNTIL,
               people: Sequence[tuple[str, str]] = (), who: str = "") -> entry.EntryCard:  # fmt: skip
    """A reading page opened by Teo's link."""
    return entry.entry_card(
        garage=GARAGE, vehicle=of, meter_key=meter, last=last, parts={"towing": 3, "track": 0, "daily": 1},
        duties=duties, today=TODAY, unit=MeterUnit.MI, form_key="f0rm", action_url="/o/k3y", reader_name="Teo",
        until=until, typed=typed, problem=problem, problem_field=problem_field, day=day_typed,
        people=people, who=who,
    )  # fmt: skip


def doubt_card(**changed: object) -> doubt.DoubtCard:
    """48 210 typed where 84 210 was meant."""
    facts: dict[str, object] = {
        "garage": GARAGE, "vehicle": BELLOWS, "meter_key": ODOMETER, "today": TODAY, "on": TODAY,
        "typed": Decimal(48210), "typed_unit": MeterUnit.MI, "last": BELLOWS_LAST, "gain": Decimal(-35155), "days": 33,
        "action_url": "/o/k3y", "again_url": "/o/k3y", "form_key": "f0rm", "parts": {"towing": 3, "daily": 1},
        "guess": Decimal(84210), "guess_kind": doubt.GuessKind.EXCHANGED, "guess_gain": Decimal(845), "places": (0, 1),
        "keeper_name": "Ines",
    }  # fmt: skip
    return doubt.doubt_card(**{**facts, **changed})  # type: ignore[arg-type]


def saved_card(
    given: Reading = BELLOWS_NOW, previous: Reading | None = BELLOWS_LAST, used: int = 13
) -> saved.SavedCard:
    """What Bellows' reading gave."""
    assert BELLOWS_OIL.window is not None
    older = replace(BELLOWS_OIL.window, likely=day(6, 7), late=BELLOWS_OIL.window.late + timedelta(days=3))
    return saved.saved_card(
        garage=GARAGE, vehicle=BELLOWS, reading=given, previous=previous,
        outlook=replace(BELLOWS_OUTLOOK, readings_used=used, wanted=None),
        before={BELLOWS_OIL.key: older, BELLOWS_FLUID.key: BELLOWS_FLUID.window}, today=TODAY,
        take_back_url="/o/k3y/take-back", take_back_until=datetime(2026, 4, 15, 8, tzinfo=UTC), form_key="f0rm",
        reader_name="Teo", reckoned=Decimal(84211), next_wanted_on=day(5, 14), keeper_name="Ines", done_url="/",
    )  # fmt: skip


CONSTELLATION = replace(ANVIL, name="Constellation", mark="CO")


def stickers_card(**changed: object) -> stickers_page.StickersCard:
    """Anvil has two stickers, one of them used; Bellows none."""
    made_at = datetime(2026, 2, 3, 15, tzinfo=UTC)
    facts: dict[str, object] = {
        "garage": GARAGE, "reader": INES, "today": TODAY, "hidden": (("seal", "se4l"), ("stand", "5tand")),
        "vehicles": (
            (ANVIL, [("0a1b", made_at, datetime(2026, 3, 31, 15, tzinfo=UTC)), ("2c3d", made_at, None)]),
            (BELLOWS, []),
        ),
    }  # fmt: skip
    return stickers_page.stickers_card(**{**facts, **changed})  # type: ignore[arg-type]


def held_card(**changed: object) -> held_page.HeldCard:
    """Bellows' slip kept aside, and one of Wanda's of which nothing is known."""
    slip = replace(BELLOWS_NOW, value=Decimal(48210), state=ReadingState.HELD, by="teo", id=7)
    other = reading("BR", "27188", day(3, 29))
    facts: dict[str, object] = {
        "garage": GARAGE, "reader": INES, "today": TODAY, "names": {"teo": "Teo"}, "seal": "se4l", "done": "",
        "waiting": (
            held_page.Waiting(BELLOWS, slip, None),
            held_page.Waiting(ANVIL, replace(other, state=ReadingState.HELD, id=8), None),
        ),
        "tried": held_page.TriedHeld("8", "27k", "That is not a number: “27k”. Digits only, please."),
    }  # fmt: skip
    return held_page.held_card(**{**facts, **changed})  # type: ignore[arg-type]


def shipped_book() -> IntervalBook:
    """The interval book as it is shipped, with one change that this garage made."""
    change = """
[rows.rear-axle-fluid]
reason = "Long grades."
[rows.rear-axle-fluid.repeat.by_duty]
towing = { mi = 25000 }
"""
    return book_with(load_book(shipped_config() / SHIPPED_BOOK), change, "book.toml")


def handbook_card(*, reader: Person | None) -> handbook.HandbookCard:
    """The list of services."""
    lines = (LineStart("rear-axle-fluid"), LineStart("axle-vents"))
    carrying = Component("rear-axle", "rear axle", "Rear axle", lines=lines)
    return handbook.handbook_card(
        garage=GARAGE, reader=reader, today=TODAY, book=shipped_book(),
        vehicles=[replace(ANVIL, components=(carrying,)), BELLOWS],
        can_enter=reader is not None,
    )  # fmt: skip


def book_row_card(key: str, *, reader: Person | None = INES, problem: str = "") -> book_row.BookRowCard:
    """One of them, with the form that changes it for who came in."""
    row = shipped_book().rows[key]
    field = book_row.DISTANCE_FIELD if problem else ""
    duties = {duty.key: duty for duty in DUTIES}
    form = book_row.change_form(row, duties, unit=GARAGE.unit, problem=problem, problem_field=field)
    return book_row.book_row_card(
        row, garage=GARAGE, reader=reader, today=TODAY, vehicles=[ANVIL] if key.startswith("rear") else [],
        jobs=load_jobs(shipped_config() / SHIPPED_JOBS).jobs_of(row), can_enter=reader is not None,
        form=form if reader else None,
    )  # fmt: skip


def garage_of(vehicles: int) -> tuple[VehicleOutlook, ...]:
    """A garage with many vehicles, three services each."""
    made = []
    for number in range(vehicles):
        mark = f"{chr(65 + number // 26 % 26)}{chr(65 + number % 26)}{number // 676 or ''}"
        of = replace(ANVIL, mark=mark, name=f"Wagon {number + 1}")
        lines = tuple(replace(each, key=each.key._replace(mark=mark)) for each in (VENTS, AXLE_FLUID, ENGINE_OIL))
        made.append(outlook(of, *lines, last=reading(mark, "112640", day(3, 31))))
    return tuple(made)


def every_page(pages: Pages | None = None) -> dict[str, str]:
    """Every page of this room by a short name."""
    from tests.page.asking_pages import asking_pages
    from tests.page.away_pages import away_pages
    from tests.page.bay_pages import bay_pages
    from tests.page.finding_pages import finding_pages
    from tests.page.found_things import find_pages
    from tests.page.past_garage import trust_cards
    from tests.page.people_pages import people_pages
    from tests.page.sheet_garage import sheet_pages
    from tests.page.tag_pages import tag_pages
    from tests.page.workshop_pages import workshop_pages

    made = pages or Pages()
    held = replace(BELLOWS_NOW, state=ReadingState.HELD)
    long = replace(ANVIL, name="Constellation", mark="CO")
    return {
        **find_pages(made),
        **finding_pages(made),
        **tag_pages(made),
        **away_pages(made),
        **people_pages(made),
        "road": made.road(road_card()),
        "road-stranger": made.road(road_card(reader=None, unit=DistanceUnit.KM, note="")),
        "road-driver": made.road(road_card(reader=NOOR, note="")),
        "vehicle-driver": made.vehicle(vehicle_card(reader=NOOR)),
        "road-empty": made.road(replace(road_card(()), add=Link("Put the first vehicle on the road", "/new-vehicle"))),
        "road-many": made.road(road_card(garage_of(400), start=50)),
        "road-whose": made.road(road_card(garage_of(60))),
        "road-nobody": made.road(road_card(garage_of(60), start=24, of="nobody here")),
        **{name: made.trust(card) for name, card in trust_cards().items()},
        **bay_pages(made),
        **workshop_pages(made),
        **asking_pages(made),
        **sheet_pages(made),
        "vehicles": made.vehicles(vehicles_card()),
        "vehicles-many": made.vehicles(vehicles_card(garage_of(400), start=100, reader=None)),
        "vehicle": made.vehicle(vehicle_card(changes=CHANGES, course=ANVIL_COURSE)),
        "vehicle-stands": made.vehicle(vehicle_card(STANDS, may_lay_up=True)),
        "vehicle-laid-up": made.vehicle(vehicle_card(FORGOTTEN, may_lay_up=True, tried=Tried(
            out="2026-13-01", problem="That is no day: “2026-13-01”. Write it as 2026-04-14.", problem_field="out"))),
        "road-stands": made.road(road_card((STANDS, FORGOTTEN))),
        "vehicle-stranger": made.vehicle(vehicle_card(OUTLOOKS[3], reader=None, readings=())),
        "vehicle-bare": made.vehicle(vehicle_card(outlook(PLANK), readings=())),
        "vehicle-crowded": made.vehicle(vehicle_card(crowded()[0], readings=crowded()[1], start=20, readings_start=60)),
        "vehicle-long": made.vehicle(vehicle_card(replace(ANVIL_OUTLOOK, vehicle=replace(
            ANVIL_OUTLOOK.vehicle, name="Constellation", meters=(*ANVIL.meters, *WINCH.meters))))),
        "handbook": made.handbook(handbook_card(reader=INES)),
        "handbook-stranger": made.handbook(handbook_card(reader=None)),
        "book-row": made.book_row(book_row_card("rear-axle-fluid")),
        "book-row-odd-pair": made.book_row(book_row_card("transfer-case-oil")),
        "book-row-change": made.book_row(book_row_card("rear-axle-fluid", problem="An interval is more than nothing.")),
        "book-row-plain": made.book_row(book_row_card("wiper-blades", reader=None)),
        "choose": made.choose(choose.choose_card(garage=GARAGE, reader=INES, outlooks=OUTLOOKS, today=TODAY)),
        "choose-many": made.choose(
            choose.choose_card(garage=GARAGE, reader=INES, outlooks=garage_of(400), today=TODAY, find="wagon")
        ),
        "entry": made.entry(entry_card()),
        "entry-problem": made.entry(
            entry_card(typed="84k", problem="That is not a number: “84k”. Digits only, please.")
        ),
        "entry-day": made.entry(
            entry_card(typed="84210", problem="That day is still to come.", problem_field="on", day_typed="2026-05-01")
        ),
        "entry-first": made.entry(entry_card(POCKET, last=None, until=None)),
        "entry-hours": made.entry(entry_card(WINCH, last=reading(
            "WI", "1204.5", day(3, 12), unit=MeterUnit.HOURS, meter=HOUR_METER), meter=HOUR_METER)),
        "entry-hub": made.entry(entry_card(RAFT, last=reading("RA", "18340", day(3, 31)))),
        "entry-long": made.entry(entry_card(long, duties=(*DUTIES, ICE))),
        "doubt": made.doubt(doubt_card()),
        "doubt-no-guess": made.doubt(doubt_card(
            typed=Decimal(984210), gain=Decimal(900845), guess=None, guess_kind=None, guess_gain=None, places=())),
        "entry-sticker": made.entry(entry_card(
            until=None, people=(("teo", "Teo"), ("ines", "Ines"), ("konstantin", "Konstantin")), who="ines")),
        "stickers": made.stickers(stickers_card()),
        "stickers-none": made.stickers(stickers_card(vehicles=())),
        "stickers-problem": made.stickers(stickers_card(problem="No vehicle is ticked. Tick at least one.")),
        "sticker-sheet": made.sticker_sheet(stickers_page.sheet_card(
            garage=GARAGE, reader=INES, today=TODAY, copies=4,
            stickers=[(each, f"https://garage.example/o/{'k' * 43}") for each in (ANVIL, BELLOWS, CONSTELLATION)])),
        "held": made.held(held_card()),
        "held-none": made.held(held_card(waiting=())),
        "saved": made.saved(saved_card()),
        "saved-first": made.saved(saved_card(previous=None, used=1)),
        "saved-held": made.saved(saved_card(held)),
        "taken-back": made.taken_back(
            saved.taken_back_card(garage=GARAGE, vehicle=BELLOWS, reading=BELLOWS_NOW, today=TODAY, again_url="/o/k3y")
        ),
        "come-in": made.come_in(come_in.come_in_card(garage=GARAGE, today=TODAY)),
        "come-in-over": made.come_in(come_in.come_in_card(
            garage=GARAGE, today=TODAY, link_is_over=True, typed="ines", problem="That is not a mail address.")),
        "come-in-nobody": made.come_in(come_in.come_in_card(garage=GARAGE, today=TODAY, nobody_is_here=True)),
        "look-in-mail": made.look_in_mail(
            come_in.look_in_mail_card(garage=GARAGE, today=TODAY, list_keeper_name="Ines")
        ),
        "confirm": made.confirm(come_in.confirm_card(
            garage=GARAGE, today=TODAY, action_url="/sign-in/k3y", person_name="Ines Calloway")),
        "not-found": made.message(message.not_found_card(garage=GARAGE, today=TODAY)),
        "no-right": made.message(
            message.no_right_card(garage=GARAGE, today=TODAY, owner_name="Marit", list_keeper_name="Ines")
        ),
        "link-over": made.message(message.link_over_card(garage=GARAGE, today=TODAY, vehicle_name="Bellows")),
        "stop-letters": made.stop_letters(stop_letters.stop_letters_card(
            garage=GARAGE, today=TODAY, action_url="/letters/stop/k3y", person_name="Ines")),
        "busy": made.message(message.busy_card(garage=GARAGE, today=TODAY, reading_is_lost=True)),
        "trouble": made.message(message.trouble_card(
            garage=GARAGE, today=TODAY, mark="7K3", reading_is_lost=True, list_keeper_name="Ines")),
    }  # fmt: skip
