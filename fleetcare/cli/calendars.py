"""Commands for other people's calendars: calendar add, list, remove, read. An address is never shown, only its host."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fleetcare.cli.frame import NOT_NOW, AsJson, Home, app, command, parts_of, say, show_data
from fleetcare.errors import BadInput, shown
from fleetcare.language import later, saying, tr

if TYPE_CHECKING:
    from datetime import datetime

    from fleetcare.actions.read_calendars import CalendarRead, CalendarStand
    from fleetcare.fleet.busy import CalendarSource
    from fleetcare.fleet.calendar_bookings import EntryNotice

calendars = typer.Typer(
    help="Calendars of people, vehicles and the bay that are read by their address, so that trips move dates.",
    rich_markup_mode=None,
)
app.add_typer(calendars, name="calendar")


@calendars.callback(invoke_without_command=True)
def _root(context: typer.Context) -> None:
    if context.invoked_subcommand is None:
        # Somebody who types the bare word asks what there is; that is no mistake.
        say(context.get_help())


Which = Annotated[str, typer.Argument(metavar="CALENDAR", help="Its name, as the list shows it.")]


@command("add", calendars)
def add(
    owner: Annotated[str, typer.Argument(help="Whose calendar: a vehicle, a person, or bay.")],
    address: Annotated[str, typer.Argument(help="Its secret address; - reads it from standard input.")],
    key: Annotated[str, typer.Option("--key", help="A name for it; else it is called like whose it is.")] = "",
    private: Annotated[
        bool, typer.Option("--private", help="It lies in a private network, which may be called for it.")
    ] = False,
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Takes a calendar on. The server reads it about once an hour; `calendar read` reads it now."""
    from fleetcare.actions.keep_calendars import add_calendar
    from fleetcare.intake.toml_models import is_key

    if key and not is_key(key):
        raise BadInput(
            saying("{key} cannot be a name.", key=shown(key, 40)), remedy="Use lower case letters, digits and hyphens."
        )
    given = sys.stdin.readline() if address == "-" else address
    with parts_of(home) as parts:
        source = add_calendar(
            parts.store, owner, given, key=key, may_be_private=private, now=parts.clock.now(), who="command"
        )
    if as_json:
        show_data(source_data(source))
        return
    command = f"fleetcare calendar read {source.key}"
    say(tr("Taken on: {calendar}. Read it now with: {command}", calendar=source.key, command=command))


@command("list", calendars)
def list_(home: Home = None, as_json: AsJson = False) -> None:
    """Shows every calendar: when it was last read, what went wrong, and what in it was not taken."""
    from fleetcare.actions.read_calendars import calendar_stands

    with parts_of(home) as parts:
        stands = calendar_stands(parts.store, parts.rules, parts.calendar_desk)
        now = parts.clock.now()
    if as_json:
        show_data([stand_data(stand) for stand in stands])
        return
    if not stands:
        command = "fleetcare calendar add OWNER ADDRESS"
        say(tr("No calendar is read by its address yet. Take one on with: {command}", command=command))
    for stand in stands:
        _say_stand(stand, now)


@command("remove", calendars)
def remove(which: Which, home: Home = None, as_json: AsJson = False) -> None:
    """Takes a calendar away, with the bookings made from it that are still to come."""
    from fleetcare.actions.keep_calendars import remove_calendar

    with parts_of(home) as parts:
        gone = remove_calendar(
            parts.store, parts.rules, which, now=parts.clock.now(), base_url=parts.base_url, who="command"
        )
    if as_json:
        show_data({"calendar": which, "bookings": gone})
        return
    say(tr("Taken away: {calendar}; bookings to come that went with it: {count}.", calendar=which, count=gone))


@command("read", calendars)
def read(
    which: Annotated[str, typer.Argument(metavar="[CALENDAR]", help="Its name; every calendar if left out.")] = "",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Reads calendars now. The last good copy of one that cannot be read stays in force."""
    from fleetcare.actions.read_calendars import read_calendar

    with parts_of(home) as parts:
        with parts.store.read() as view:
            keys = [which] if which else [source.key for source in view.calendars()]
        reads = [
            read_calendar(
                parts.store,
                parts.rules,
                parts.calendar_desk,
                key,
                clock=parts.clock,
                base_url=parts.base_url,
                who="command",
            )
            for key in keys
        ]
    if as_json:
        show_data([read_data(each) for each in reads])
    elif not reads:
        say(tr("There is no calendar to read yet."))
    else:
        for each in reads:
            _say_read(each)
    if any(each.source.trouble for each in reads):
        raise typer.Exit(NOT_NOW)


def source_data(source: CalendarSource) -> dict[str, Any]:
    """A calendar for `--json`; of its address the host alone."""
    from fleetcare.fleet.calendar_address import host_of

    return {
        "calendar": source.key,
        "of": source.owner_kind.value,
        "owner": source.owner,
        "host": host_of(source.url),
        "tried_at": None if source.tried_at is None else source.tried_at.isoformat(),
        "good_at": None if source.good_at is None else source.good_at.isoformat(),
        "failures": source.failures,
        "trouble": source.trouble,
        "entries": None if source.copy is None else len(source.copy.events),
    }


def stand_data(stand: CalendarStand) -> dict[str, Any]:
    """A calendar with its bookings and notices."""
    return {
        **source_data(stand.source),
        "bookings": [
            {
                "title": booking.title,
                "first_day": booking.days.first.isoformat(),
                "last_day": booking.days.last.isoformat(),
                "vehicles": list(booking.marks),
                "distance": None if booking.distance is None else str(booking.distance),
                "unit": booking.unit.value,
                "duty": booking.duty,
            }
            for booking in stand.bookings
        ],
        "notices": _notices(stand.source, stand.notices),
    }


def read_data(read_: CalendarRead) -> dict[str, Any]:
    """What came of reading a calendar."""
    return {
        **source_data(read_.source),
        "changed": read_.put,
        "dropped": read_.dropped,
        "moved": 0 if read_.settled is None else len(read_.settled.moved),
        "notices": _notices(read_.source, read_.notices),
    }


def _notices(source: CalendarSource, notices: tuple[EntryNotice, ...]) -> list[str]:
    """What in a calendar was not taken, as data has it; `_notice_words` says it in a language."""
    return _each_notice(source, notices, str)


def _notice_words(source: CalendarSource, notices: tuple[EntryNotice, ...]) -> list[str]:
    return _each_notice(source, notices, tr)


def _each_notice(source: CalendarSource, notices: tuple[EntryNotice, ...], said: Callable[[str], str]) -> list[str]:
    of_the_copy = [] if source.copy is None else [said(each) for each in source.copy.notices]
    return [*of_the_copy, *(f"{each.on}, {each.title}: {said(each.what)}" for each in notices)]


_OWNERS = {"person": later("person"), "vehicle": later("vehicle"), "bay": later("bay")}


def _say_stand(stand: CalendarStand, now: datetime) -> None:
    from fleetcare.fleet.calendar_address import host_of

    source = stand.source
    whose = f"{tr(_OWNERS[source.owner_kind.value])} {source.owner}".strip()
    say(tr("{calendar}: {whose}, from {host}", calendar=source.key, whose=whose, host=host_of(source.url)))
    if source.good_at is None:
        say(f"  {tr('not read yet')}")
    else:
        entries = 0 if source.copy is None else len(source.copy.events)
        held = _held_words(entries, len(stand.bookings))
        say("  " + tr("read {ago}: {held}", ago=_ago(source.good_at, now), held=held))
    if source.trouble:
        say(f"  {tr(source.trouble)}")
    for text in _notice_words(source, stand.notices):
        say(f"  - {text}")


def _say_read(read_: CalendarRead) -> None:
    from fleetcare.wording import counted

    source = read_.source
    if read_.overtaken:
        say(tr("{calendar}: somebody else read or changed it meanwhile.", calendar=source.key))
        return
    if source.trouble:
        say(f"{source.key}: {tr(source.trouble)}")
        return
    moved = 0 if read_.settled is None else len(read_.settled.moved)
    entries = 0 if source.copy is None else len(source.copy.events)
    changes = tr(
        "bookings new or changed: {put}, gone: {gone}; dates moved: {moved}",
        put=read_.put,
        gone=read_.dropped,
        moved=moved,
    )
    say(f"{source.key}: {counted(entries, 'entry', 'entries')}; {changes}.")
    for text in _notice_words(source, read_.notices):
        say(f"  - {text}")


def _ago(then: datetime, now: datetime) -> str:
    minutes = max(0, int((now - then).total_seconds() // 60))
    if minutes < 120:
        return tr("{minutes} min ago", minutes=minutes)
    hours = minutes // 60
    if hours < 48:
        return tr("{hours} h ago", hours=hours)
    from fleetcare.wording import counted

    return tr("{days} ago", days=counted(hours // 24, "day"))


def _held_words(entries: int, bookings: int) -> str:
    from fleetcare.wording import counted

    return f"{counted(entries, 'entry', 'entries')}, {counted(bookings, 'booking')}"
