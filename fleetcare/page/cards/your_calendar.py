"""Your calendar: the addresses of one person's calendar, what it holds, how it gets onto a phone, what it will show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from fleetcare.fleet.access import FAREWELL_TIME, LONGEST_NAME, Fetch
from fleetcare.fleet.feed_choice import FeedAlarm, FeedChoice
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import later, tr
from fleetcare.page.cards.calendar_choice import TickGroup, Tried, tick_groups
from fleetcare.page.cards.frame import CALENDAR_URL, Frame, Plate, bare_frame, full_frame, garage_plate
from fleetcare.page.drawings.code import SquareCode, square_code
from fleetcare.wording import counted, day_short, day_strip, day_words, weekday_name

NAME_FIELD, FORM_FIELD = "name", "form"
ADDRESSES_URL = f"{CALENDAR_URL}/addresses"
CHOICE_URL = f"{CALENDAR_URL}/choice"
ADD_URL = f"{CALENDAR_URL}/add"
ADDRESSES_ANCHOR = "#addresses"

STEPS = (
    (
        later("iPhone and iPad"),
        (
            later("Open the page of a new address on that device: point its camera at the code."),
            later("Press “Add to this device’s calendar” and say yes when it asks whether to subscribe."),
            (
                later(
                    "If nothing opens: in the settings, among the calendar accounts, add a subscribed "
                    "calendar and paste the address."
                )
            ),
            later("The same place has a switch that leaves alarms out. It may be on at first."),
        ),
    ),
    (
        later("Android"),
        (
            (
                later(
                    "Many calendars on these phones take no address themselves. Add it once at a computer, "
                    "on the web page of the calendar the phone shows: other calendars, then from an address, "
                    "and paste it."
                )
            ),
            later("Then let the phone show it: in the calendar’s settings on the phone, tick the new calendar."),
            (
                later(
                    "Or put a program on the phone that follows calendar addresses, and paste it there. Such "
                    "a program looks more often and keeps alarms."
                )
            ),
        ),
    ),
    (
        later("Computer"),
        (
            later("Press “Add to this device’s calendar”. If a calendar opens, say yes."),
            (
                later(
                    "If none does: in your calendar, look for a new calendar from the internet or from the "
                    "network, and paste the address."
                )
            ),
            later("Where it asks how often to look, an hour is plenty."),
        ),
    ),
)
"""From memory, in words that outlast a version: makers rename their menus."""


@dataclass(frozen=True, slots=True)
class NewAddress:
    """An address just made. It is shown once: only a hash of its key is kept. add_url: its page for another device."""

    name: str
    webcal: str
    address: str
    add_url: str
    code: SquareCode


@dataclass(frozen=True, slots=True)
class AddressRow:
    """One address. url: where its forms are sent, with `/rename`, `/replace` or `/end` behind it.

    problem: what is wrong with the name in its field `name_again`.
    """

    short: str
    name: str
    made: str
    fetched: str
    replaced: str
    url: str
    name_again: str
    problem: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry as the calendar shows it."""

    days: str
    title: str


@dataclass(frozen=True, slots=True)
class YourCalendarCard:
    """The whole page. form_key: goes with every form, so that only this page can send it."""

    frame: Frame
    form_key: str
    new: NewAddress | None
    rows: tuple[AddressRow, ...]
    name: str
    name_problem: str
    longest_name: int
    groups: tuple[TickGroup, ...]
    entries: tuple[Entry, ...]
    entries_told: str
    letters: str
    keeps: bool
    """The reader keeps a vehicle, so there are shared calendars to look after."""
    steps: tuple[tuple[str, tuple[str, ...]], ...] = STEPS
    replaced_days: int = FAREWELL_TIME.days


@dataclass(frozen=True, slots=True)
class AddCard:
    """The page behind the code: for another device of the same person, which need not come in."""

    frame: Frame
    plate: Plate
    name: str
    webcal: str
    address: str
    steps: tuple[tuple[str, tuple[str, ...]], ...] = STEPS


@dataclass(frozen=True, slots=True)
class Address:
    """What the list is told of one address; times in UTC."""

    short: str
    name: str
    made_at: datetime
    expires_at: datetime | None
    replaced_at: datetime | None
    fetch: Fetch | None


def webcal_of(address: str) -> str:
    """The address under the scheme that calendars listen to: `webcal://garage.example/feeds/...`."""
    return f"webcal://{address.partition('://')[2]}"


def new_address(name: str, address: str, add_url: str) -> NewAddress:
    """What is shown of an address once. address, add_url: whole, with scheme and host."""
    return NewAddress(name, webcal_of(address), address, add_url, square_code(add_url))


def your_calendar_card(
    *,
    garage: Garage,
    reader: Person,
    today: date,
    form_key: str,
    addresses: Sequence[Address],
    choice: FeedChoice,
    vehicles: Sequence[Vehicle],
    alarms: Sequence[FeedAlarm],
    ahead: Sequence[tuple[date, date, str, time | None, time | None]],
    ahead_in_all: int,
    can_enter: bool,
    new: NewAddress | None = None,
    tried: Tried | None = None,
) -> YourCalendarCard:
    """The page of one person. vehicles: those the person is shown. alarms: those there are to choose from.

    ahead: the next entries of the calendar as it is, each with its first day, last day, title, and the times of day
    it begins and ends (None: whole days).
    ahead_in_all: how many lie ahead in all.
    """
    zone = ZoneInfo(garage.zone)
    tried = tried or Tried("", "", "")
    is_new = tried.where == "" and bool(tried.problem)
    return YourCalendarCard(
        frame=full_frame(
            tr("Your calendar"), garage=garage, reader=reader, today=today, here=CALENDAR_URL, can_enter=can_enter
        ),
        form_key=form_key,
        new=new,
        rows=tuple(address_row(each, zone, today, tried) for each in addresses),
        name=tried.typed if is_new else "",
        name_problem=tried.problem if is_new else "",
        longest_name=LONGEST_NAME,
        groups=tick_groups(choice, vehicles, alarms, tried),
        entries=tuple(
            Entry(_when(first, last, today, begins, ends), title) for first, last, title, begins, ends in ahead
        ),
        entries_told=_entries_told(len(ahead), ahead_in_all),
        letters=_letters(reader),
        keeps=reader.key == garage.list_keeper or any(vehicle.keeper == reader.key for vehicle in vehicles),
    )


def add_card(*, garage: Garage, today: date, name: str, address: str) -> AddCard:
    """The page that puts a calendar on the device it is opened on. name: what the address is called."""
    return AddCard(
        frame=bare_frame(tr("Add the calendar"), garage=garage, today=today),
        plate=garage_plate(garage),
        name=name,
        webcal=webcal_of(address),
        address=address,
    )


def address_row(
    each: Address, zone: ZoneInfo, today: date, tried: Tried | None = None, *, url: str = ADDRESSES_URL
) -> AddressRow:
    """One address as the list has it. url: where its forms are sent."""
    is_tried = tried is not None and tried.where == each.short
    replaced = ""
    if each.replaced_at is not None:
        until = tr(" until {day}", day=_day(each.expires_at, zone, today)) if each.expires_at else ""
        replaced = tr("replaced on {day}; says so{until}", day=_day(each.replaced_at, zone, today), until=until)
    return AddressRow(
        short=each.short,
        name=each.name or each.short,
        made=tr("made on {day}", day=_day(each.made_at, zone, today)),
        fetched=_fetched(each.fetch, zone, today),
        replaced=replaced,
        url=f"{url}/{each.short}",
        name_again=tried.typed if tried is not None and is_tried else each.name,
        problem=tried.problem if tried is not None and is_tried else "",
    )


def _day(at: datetime, zone: ZoneInfo, today: date) -> str:
    return day_words(at.astimezone(zone).date(), today)


def _fetched(fetch: Fetch | None, zone: ZoneInfo, today: date) -> str:
    if fetch is None:
        return tr("Nobody has fetched it yet. Some calendars take a day.")
    # Fetches are noted to the hour.
    at = fetch.at.astimezone(zone)
    on = tr("today") if at.date() == today else day_words(at.date(), today)
    return tr("last fetched {on}, in the hour from {at}, by {reader}", on=on, at=f"{at:%H:%M}", reader=tr(fetch.reader))


def _days(first: date, last: date, today: date) -> str:
    return (
        day_strip(first, today)
        if first == last
        else tr("{day} to {day2}", day=day_short(first, today), day2=day_short(last, today))
    )


def _entries_told(shown: int, in_all: int) -> str:
    if not in_all:
        return tr("Nothing lies ahead in it.")
    return (
        tr("The next {shown} of {entries}.", shown=shown, entries=counted(in_all, "entry", "entries"))
        if shown < in_all
        else ""
    )


def _when(first: date, last: date, today: date, begins: time | None, ends: time | None) -> str:
    if begins is None or ends is None:
        return _days(first, last, today)
    if first == last:
        return tr(
            "{day}, {begins} to {ends}", day=day_strip(first, today), begins=f"{begins:%H:%M}", ends=f"{ends:%H:%M}"
        )
    return tr(
        "{day}, {begins} to {day2}, {ends}",
        day=day_strip(first, today),
        begins=f"{begins:%H:%M}",
        day2=day_strip(last, today),
        ends=f"{ends:%H:%M}",
    )


def _letters(reader: Person) -> str:
    if reader.letter_weekday is None or not reader.mail:
        return tr("No garage letter comes to you; ask who keeps the list for one.")
    return tr(
        "The garage letter comes on {weekday}s at {letter_hour}:00.",
        weekday=weekday_name(reader.letter_weekday),
        letter_hour=f"{reader.letter_hour:02d}",
    )
