"""The sentences of letters, made from what concerns the reader."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from fleetcare.digest.cards import LineCard
from fleetcare.digest.concerns import Concerns, Kept, OpenFinding, ServiceAhead
from fleetcare.digest.rod import RodCell, Standing, rod_cells
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.due.telling import clock_question
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.people import Garage
from fleetcare.fleet.vehicle import VehicleKind
from fleetcare.language import in_force, tr, tr_book, tr_count
from fleetcare.meter.reading import Reading
from fleetcare.quantities import DateSpan, MeterUnit
from fleetcare.wording import (
    count_words,
    counted_words,
    day_short,
    day_words,
    days_words,
    joined,
    lower_first,
    meter_words,
    of_vehicle,
    sentence,
    share_words,
    text_gauge,
)

MOST_NAMED = 3
"""How many things a sentence names before it only counts them."""


def garage_title(garage: Garage) -> str:
    """The garage as the head of a letter has it."""
    name = one_line(garage.name)
    return name if "garage" in name.casefold() else tr("{name}, garage", name=name)


def one_line(text: str) -> str:
    """What somebody typed, without line ends."""
    return " ".join(text.split())


def name_of(outlook: VehicleOutlook) -> str:
    """What the vehicle is called."""
    return one_line(outlook.vehicle.name)


def meter_name(outlook: VehicleOutlook, meter: str) -> str:
    """What the dial is called: odometer, hub odometer or hour meter."""
    if meter_unit(outlook, meter) is MeterUnit.HOURS:
        return tr("hour meter")
    return tr("hub odometer") if outlook.vehicle.kind is VehicleKind.TRAILER else tr("odometer")


def meter_unit(outlook: VehicleOutlook, meter: str) -> MeterUnit:
    """What the dial counts in; the vehicle's distance unit if the meter is not there."""
    found = (each.unit for each in outlook.vehicle.meters if each.key == meter)
    return next(found, MeterUnit(outlook.vehicle.unit.value))


def lead_of(first_name: str, clauses: Sequence[tuple[str, str]], after: str) -> tuple[tuple[str, bool], ...]:
    """The opening sentences as runs of text, each with whether it is strong. clauses: not empty."""
    runs: list[tuple[str, bool]] = []
    for index, (strong, tail) in enumerate(clauses):
        if index == 0:
            runs.append((f"{first_name}, " if first_name else "", False))
            runs += [(strong if first_name else sentence(strong), True), (f"{tail}.", False)]
        else:
            runs.append((f" {sentence(strong)}{tail}.", False))
    if after:
        runs.append((f" {after}", False))
    return tuple(runs)


# What is wanted of the reader: a strong clause, and what follows it in the sentence


def reading_clause(outlooks: Sequence[VehicleOutlook], today: date) -> tuple[str, str]:
    """That readings are wanted. outlooks: not empty, each with `wanted`."""
    wanted = [(outlook, outlook.wanted) for outlook in outlooks if outlook.wanted is not None]
    days = [day_words(each.last_on, today) for _, each in wanted if each.last_on is not None]
    if len(wanted) == 1:
        outlook, only = wanted[0]
        tail = tr(": the last one is from {days}", days=days[0]) if days else tr(": there is no reading yet")
        return tr(
            "{name_of} wants its {meter_name} read",
            name_of=name_of(outlook),
            meter_name=meter_name(outlook, only.meter),
        ), tail
    names = some([name_of(outlook) for outlook, _ in wanted])
    tail = (
        tr(": the last readings are from {days}", days=joined(days)) if len(days) == len(wanted) <= MOST_NAMED else ""
    )
    return tr("{names} want their meters read", names=names), tail


def past_late_clause(services: Sequence[ServiceAhead], today: date) -> tuple[str, str]:
    """That services of the reader's own vehicles are past late. services: not empty."""
    if len(services) == 1:
        late = days_words(services[0].window.days_past_late(today))
        return tr("{called} is {late} past late", called=called(services[0]), late=late), ""
    return tr("{services} services of yours are past late", services=count_words(len(services))), named_after_colon(
        services
    )


def open_clause(services: Sequence[ServiceAhead], today: date) -> tuple[str, str]:
    """That windows of the reader's own vehicles are open. services: not empty."""
    if len(services) == 1:
        until = day_words(services[0].window.late, today)
        return tr("the window of {called} is open until {until}", called=called(services[0]), until=until), ""
    return tr("{services} windows of yours are open", services=count_words(len(services))), named_after_colon(services)


def finding_clause(kept: Sequence[Kept], today: date) -> tuple[str, str]:
    """That findings want a second look. kept: not empty, each with findings."""
    looks = [
        tr("at {name_of} {by}", name_of=name_of(each.outlook), by=_by(each.findings[0].look_again_on, today))
        for each in kept
        if each.findings
    ]
    return tr("look again {some}", some=some(looks)), ""


def held_clause(kept: Sequence[Kept]) -> tuple[str, str]:
    """That readings are kept aside. kept: not empty, each with held readings."""
    names = some([name_of(each.outlook) for each in kept])
    count = sum(len(each.held) for each in kept)
    if count == 1:
        return tr("a reading of {names} waits for somebody to settle it", names=names), ""
    return tr(
        "{number} readings of {names} wait for somebody to settle them", number=count_words(count), names=names
    ), ""


def clock_clause(kept: Sequence[Kept]) -> tuple[str, str]:
    """That somebody has to say whether vehicles are laid up. kept: not empty, each asked after."""
    names = some([name_of(each.outlook) for each in kept])
    return tr_count("say whether {names} is laid up", "say whether {names} are laid up", len(kept), names=names), ""


def clock_note(outlook: VehicleOutlook, today: date) -> str:
    """What is asked of a vehicle that seems to stand, or to run while it is laid up; nothing if neither."""
    question = clock_question(outlook.vehicle, outlook.standing, outlook.moved, today)
    return f"{name_of(outlook)} {question}" if question else ""


def nothing_clause(concerns: Concerns) -> tuple[str, str]:
    """That nothing is wanted now, and what comes next."""
    ahead = [each for each in concerns.services if each.window.early > concerns.today]
    if not ahead:
        return tr("nothing is wanted of you this week"), ""
    first = min(ahead, key=lambda each: (each.window.early, each.urgency))
    opens = day_words(first.window.early, concerns.today)
    return tr("nothing is wanted of you this week"), tr(
        ": the next window to open is {called}, on {opens}", called=called(first), opens=opens
    )


def elsewhere_sentence(services: Sequence[ServiceAhead]) -> str:
    """What is past late in vehicles of others; nothing if nothing is."""
    if not services:
        return ""
    return tr_count(
        "Elsewhere in the garage {services} is past late{which}.",
        "Elsewhere in the garage {services} are past late{which}.",
        len(services),
        services=counted_words(len(services), "service", "services"),
        which=named_after_colon(services),
    )


def windows_open_sentence(services: Sequence[ServiceAhead], today: date, most: int) -> str:
    """Windows open in vehicles of others, in one sentence; nothing if none is."""
    if not services:
        return ""
    told = [
        tr("{called} until {day}", called=called(each), day=day_words(each.window.late, today))
        for each in services[:most]
    ]
    more = len(services) - len(told)
    return tr(
        "Windows open: {services}.",
        services=joined([*told, tr("{further} more", further=count_words(more))] if more else told),
    )


# One service, one finding, one spell


def line_card(service: ServiceAhead, today: date) -> LineCard:
    """One service with its rod, its share and its three dates."""
    line, window = service.line, service.window
    days_late = window.days_past_late(today)
    standing = Standing.PAST_LATE if days_late else Standing.OPEN if window.is_open(today) else Standing.AHEAD
    q_read, q_now, q_early, q_late = line.q_read, line.q_now, line.q_early, line.q_late
    said = (
        tr("{days} past late", days=days_words(days_late))
        if days_late
        else tr("Window open")
        if standing is Standing.OPEN
        else ""
    )
    rod: tuple[RodCell, ...] = ()
    gauge = worn = ""
    if q_read is not None and q_now is not None and q_early is not None and q_late is not None:
        rod = rod_cells(q_read=q_read, q_now=q_now, q_early=q_early, q_late=q_late, standing=standing)
        gauge = text_gauge(q_read, q_now, q_early, q_late)
    if q_now is not None:
        is_reckoned = q_read is not None and share_words(q_read) != share_words(q_now)
        worn = (
            tr("{share} worn by reckoning", share=share_words(q_now))
            if is_reckoned
            else tr("{share} worn", share=share_words(q_now))
        )
    return LineCard(
        mark=service.outlook.vehicle.mark,
        title=f"{name_of(service.outlook)}, {_title(service)}",
        rod=rod,
        gauge=gauge,
        worn=worn,
        dates=tr(
            "Early {day}, likely {day2}, late {day3}.",
            day=day_short(window.early, today),
            day2=day_short(window.likely, today),
            day3=day_short(window.late, today),
        ),
        standing=said,
        is_past_late=days_late > 0,
    )


def finding_note(found: OpenFinding, today: date) -> str:
    """What was found, and by when to look again."""
    what = one_line(found.finding.text).rstrip(".")
    over = (today - found.look_again_on).days
    look = tr("Look again by {day}", day=day_words(found.look_again_on, today))
    if over > 0:
        look = tr(
            "The second look was to be by {day}, {days} ago",
            day=day_words(found.look_again_on, today),
            days=days_words(over),
        )
    return tr("Finding of {day}: {what}. {look}.", day=day_words(found.found_on, today), what=what, look=look)


def held_note(reading: Reading, today: date) -> str:
    """A reading that is kept aside."""
    shown = meter_words(reading.value, reading.unit)
    aside = tr("it is kept aside until somebody settles it")
    return tr(
        "The reading of {shown} on {day} does not fit; {aside}.",
        shown=shown,
        day=day_words(reading.on, today),
        aside=aside,
    )


def spoken_for_note(bookings: Sequence[Booking], today: date) -> str:
    """Spells ahead in which the vehicle is wanted elsewhere, in one sentence; not empty."""
    return tr(
        "Spoken for: {bookings}.",
        bookings="; ".join(f"{one_line(b.title)}, {span_of_days(b.days, today)}" for b in bookings),
    )


def last_read_note(outlook: VehicleOutlook, today: date) -> str:
    """That somebody else is asked for the reading; nothing if none is wanted."""
    wanted = outlook.wanted
    if wanted is None:
        return ""
    meter = meter_name(outlook, wanted.meter)
    if wanted.last_on is None:
        return tr("Its {meter} was not read yet; a reading is wanted.", meter=meter)
    return tr(
        "Its {meter} was last read on {day}; a reading is wanted.", meter=meter, day=day_words(wanted.last_on, today)
    )


def span_of_days(days: DateSpan, today: date) -> str:
    """`16 May`, `15 and 16 May`, `1 to 3 May`, `30 April to 2 May`."""
    first, last = days.first, days.last
    if first == last:
        return day_words(first, today)
    if (first.year, first.month) == (last.year, last.month):
        day, day2 = _day_alone(first), day_words(last, today)
        return (
            tr("{day} and {day2}", day=day, day2=day2) if days.days == 2 else tr("{day} to {day2}", day=day, day2=day2)
        )
    return tr("{day} to {day2}", day=day_words(first, today), day2=day_words(last, today))


def _day_alone(day: date) -> str:
    """`15`, as it stands before the name of a month."""
    return in_force().day_and_month.format(day=day.day, month="").strip()


def called(service: ServiceAhead) -> str:
    """A service in a sentence: `Bellows' engine oil`; with its component where the vehicle has two of them."""
    row, component = service.line.row, service.line.component
    twins = [each for each in service.outlook.lines if each.row.short == row.short]
    where = f" ({lower_first(one_line(tr_book(component.title)))})" if len(twins) > 1 else ""
    return f"{of_vehicle(name_of(service.outlook))} {tr_book(row.short)}{where}"


def some(names: Sequence[str]) -> str:
    """Names in a sentence, at most three and how many more."""
    more = len(names) - MOST_NAMED
    if more <= 0:
        return joined(names)
    return joined([*names[:MOST_NAMED], tr("{further} more", further=count_words(more))])


def named_after_colon(services: Sequence[ServiceAhead]) -> str:
    """`: Raft's coupling inspection`, for the end of a sentence."""
    return f": {some([called(each) for each in services])}"


def inside(title: str) -> str:
    """A title inside a sentence: its first letter small, unless it begins in capitals."""
    return lower_first(title)


def _title(service: ServiceAhead) -> str:
    row, component = service.line.row, service.line.component
    title = inside(one_line(tr_book(row.title)))
    twins = [each for each in service.outlook.lines if each.row.title == row.title]
    return f"{title} ({lower_first(one_line(tr_book(component.title)))})" if len(twins) > 1 else title


def _by(day: date, today: date) -> str:
    return (
        tr("by {day}", day=day_words(day, today))
        if day >= today
        else tr("(it was to be by {day})", day=day_words(day, today))
    )
