"""The road ahead: every window of the garage by its late date, and what is wanted before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from fleetcare.due.outlook import DueWindow, LineOutlook, VehicleOutlook
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.people import Garage, Person
from fleetcare.language import tr
from fleetcare.page.cards.frame import NEW_URL, ROAD_URL, Frame, Link, full_frame, vehicle_url
from fleetcare.page.cards.held import HELD_URL
from fleetcare.page.cards.laid_up import Asked, asked_after
from fleetcare.page.cards.opening import opening
from fleetcare.page.cards.rod import Rod, rod, standing
from fleetcare.page.cards.sentences import Sentence, service_title, whose
from fleetcare.page.cards.state_words import state_word
from fleetcare.page.cards.strip import StripCard, strip_card
from fleetcare.page.cards.waiting import (
    FindingWaiting,
    HeldReading,
    Undated,
    WantedReading,
    findings_waiting,
    held_readings,
    undated,
    wanted_readings,
)
from fleetcare.page.cards.whose import OF_FIELD, Whose
from fleetcare.page.drawings.dipstick import SMALL, Standing
from fleetcare.quantities import DistanceUnit, months_after
from fleetcare.wording import day_short, day_strip, day_words, days_words, grouped, lower_first, month_words, sentence
from fleetcare.work.record import WorkDone

ROWS_A_PAGE = 24
"""So many windows with their drawings, and a full strip above them, keep a page under 100 kB."""
_MONTHS_AHEAD = 2

DatedLine = tuple[VehicleOutlook, LineOutlook, DueWindow]


@dataclass(frozen=True, slots=True)
class RoadRow:
    """One window: late date large, what about it, vehicle and service, early and likely, the rod."""

    late: str
    state: str
    is_past_late: bool
    mark: str
    name: str
    service: str
    dates: str
    rod: Rod
    bay: str = ""
    """The bay day that covers it, with its state."""
    number: int = 0
    """By which the strip on a phone names it; 0 if it is not on it."""

    @property
    def url(self) -> str:
        """The vehicle's page."""
        return vehicle_url(self.mark)


@dataclass(frozen=True, slots=True)
class RoadCard:
    """The front page.

    notes: what people must know before they read on. near: rows up to `near_until`; far: rows after it.
    empty: said in place of the near rows if there are none.
    """

    frame: Frame
    notes: tuple[str, ...]
    lead: Sentence
    has_vehicles: bool
    near_until: str
    near: tuple[RoadRow, ...]
    empty: str
    far: tuple[RoadRow, ...]
    range_words: str
    earlier: Link | None
    later: Link | None
    asked: tuple[Asked, ...]
    wanted: tuple[WantedReading, ...]
    wanted_more: str
    findings: tuple[FindingWaiting, ...]
    findings_more: str
    held: tuple[HeldReading, ...]
    held_more: str
    settle: Link | None
    undated: tuple[Undated, ...]
    undated_more: str
    add: Link | None = None
    """Where the first vehicle is put on the road, for who may."""
    strip: StripCard | None = None
    """Only above the first page of the list."""
    whose: Whose | None = None
    """Whose vehicles these are, and whose there are to choose; None in a garage that is taken in at a glance."""


def road_card(
    *,
    garage: Garage,
    reader: Person | None,
    outlooks: Sequence[VehicleOutlook],
    work: Sequence[WorkDone],
    today: date,
    unit: DistanceUnit,
    mail_folder_note: str,
    can_enter: bool,
    start: int = 0,
    names: Mapping[str, str] | None = None,
    letter_notes: Sequence[str] = (),
    visits: Sequence[BayVisit] = (),
    bookings: Sequence[Booking] = (),
    may_add: bool = False,
    whose: Whose | None = None,
) -> RoadCard:
    """The front page of a garage.

    outlooks: in the garage's order. work: every record, for its findings. mail_folder_note: said on top if letters
    cannot go out, else empty. can_enter: the reader may give readings. start: how many windows of the list to leave
    out, for its further pages. names: first names by person key. letter_notes: what a keeper has to know of letters.
    visits: those that take place and are not over. bookings: spells in which vehicles are spoken for. may_add: the
    reader may put vehicles on the road. whose: whose vehicles these are, of a large garage.
    """
    called = names or {}
    zone = ZoneInfo(garage.zone)
    dated = windows_in_order(outlooks)
    numbers = {row[1].key: place for place, row in enumerate(dated, start=1)}
    drawn = None
    if start <= 0:
        drawn = strip_card(
            outlooks,
            numbers=numbers,
            reader=reader,
            visits=visits,
            bookings=bookings,
            work=work,
            zone=zone,
            today=today,
            unit=unit,
        )
    beside = _Beside(_bay_days(visits, zone, today), numbers, drawn.numbers if drawn else frozenset())
    start = min(max(0, start), max(0, len(dated) - 1))
    shown = dated[start : start + ROWS_A_PAGE]
    near_end = _near_end(today)
    near = [row for row in shown if row[2].late < near_end]
    far = [row for row in shown if row[2].late >= near_end]
    asked = asked_after(outlooks)
    wanted, wanted_more = wanted_readings(outlooks, today=today, unit=unit, can_enter=can_enter)
    findings, findings_more = findings_waiting(outlooks, work, today=today, names=called)
    held, held_more = held_readings(outlooks, today=today, names=called)
    without, without_more = undated(outlooks)
    return RoadCard(
        frame=full_frame(
            tr("Road ahead"), garage=garage, reader=reader, today=today, here=ROAD_URL, unit=unit, can_enter=can_enter
        ),
        notes=(*((mail_folder_note,) if mail_folder_note else ()), *letter_notes),
        lead=opening(outlooks, dated, visits=visits, zone=zone, today=today, can_enter=can_enter),
        has_vehicles=bool(outlooks),
        near_until=month_words(near_end - timedelta(days=1), today),
        near=tuple(_row(*row, beside) for row in near),
        empty="" if near else _nothing_near(dated, near_end, today, has_rows_before=start > 0),
        far=tuple(_row(*row, beside) for row in far),
        range_words=_range_words(start, len(shown), len(dated)),
        earlier=_page_link(tr("Earlier ones"), max(0, start - ROWS_A_PAGE), whose) if start else None,
        later=_page_link(tr("Later ones"), start + ROWS_A_PAGE, whose) if start + ROWS_A_PAGE < len(dated) else None,
        asked=asked,
        wanted=wanted,
        wanted_more=wanted_more,
        findings=findings,
        findings_more=findings_more,
        held=held,
        held_more=held_more,
        settle=Link(tr("Settle them"), HELD_URL) if held and can_enter else None,
        undated=without,
        undated_more=without_more,
        add=Link(tr("Put the first vehicle on the road"), NEW_URL, is_main=True) if may_add and not outlooks else None,
        strip=drawn,
        whose=whose,
    )


def late_words(window: DueWindow, today: date) -> str:
    """What the late date means today: `6 days past late`, `window open`, `at the latest`."""
    if window.is_past_late(today):
        return tr("{days} past late", days=days_words(window.days_past_late(today)))
    return tr("window open") if window.is_open(today) else tr("at the latest")


def windows_in_order(outlooks: Sequence[VehicleOutlook]) -> list[DatedLine]:
    """Every window of the garage by its late date, as the list under the strip has them."""
    rows = [(outlook, line, line.window) for outlook in outlooks for line in outlook.lines if line.window]
    return sorted(rows, key=lambda row: (row[2].late, row[1].key))


def _near_end(today: date) -> date:
    """The first of the month after the next two: near is what a keeper can still arrange."""
    return months_after(today.replace(day=1), _MONTHS_AHEAD + 1)


def _bay_days(visits: Sequence[BayVisit], zone: ZoneInfo, today: date) -> dict[LineKey, str]:
    """What is said of each service that a visit covers, the earliest first."""
    found: dict[LineKey, str] = {}
    for visit in sorted(visits, key=lambda each: (each.begins_at, each.key)):
        day = day_strip(visit.begins_at.astimezone(zone).date(), today)
        for line in visit.lines:
            found.setdefault(line, tr("In the bay {day}, {state}", day=day, state=state_word(visit.state)))
    return found


@dataclass(frozen=True, slots=True)
class _Beside:
    """What stands beside a row: its bay day, and its number if it is on the strip."""

    bay: Mapping[LineKey, str]
    numbers: Mapping[LineKey, int]
    drawn: frozenset[int]


def _row(outlook: VehicleOutlook, line: LineOutlook, window: DueWindow, beside: _Beside) -> RoadRow:
    today = line.today
    number = beside.numbers[line.key]
    return RoadRow(
        late=day_short(window.late, today),
        state=late_words(window, today),
        is_past_late=standing(line) is Standing.PAST_LATE,
        mark=outlook.vehicle.mark,
        name=outlook.vehicle.name,
        service=lower_first(service_title(outlook, line)),
        dates=tr(
            "early {day}, likely {day2}", day=day_short(window.early, today), day2=day_short(window.likely, today)
        ),
        rod=rod(line, SMALL),
        bay=beside.bay.get(line.key, ""),
        number=number if number in beside.drawn else 0,
    )


def _nothing_near(dated: Sequence[DatedLine], near_end: date, today: date, *, has_rows_before: bool) -> str:
    if has_rows_before:
        return ""
    if not dated:
        return tr("No window is in sight yet.")
    outlook, line, window = min(dated, key=lambda row: (row[2].early, row[1].key))
    return tr(
        "Nothing is due at the latest before {month}. The next is {whose}, early {day}.",
        month=month_words(near_end, today),
        whose=whose(outlook, line),
        day=day_words(window.early, today),
    )


def _range_words(start: int, shown: int, whole: int) -> str:
    """`Windows 51 to 100 of 214.`, empty if all are shown."""
    if shown == whole:
        return ""
    return sentence(
        tr(
            "windows {value} to {value2} of {whole}.",
            value=grouped(start + 1),
            value2=grouped(start + shown),
            whole=grouped(whole),
        )
    )


def _page_link(text: str, start: int, whose: Whose | None) -> Link:
    asked = {OF_FIELD: whose.chosen} if whose is not None and not whose.is_first else {}
    asked |= {"start": str(start)} if start else {}
    return Link(text, f"?{urlencode(asked)}" if asked else ROAD_URL)
