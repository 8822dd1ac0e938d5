"""Why a service has no day in a plan, and which inked visits cannot all be, in sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from zoneinfo import ZoneInfo

from fleetcare.bayplan.impossible import NoDay, NoDayKind
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.component import LineKey
from fleetcare.language import tr
from fleetcare.page.cards.sentences import service_title
from fleetcare.wording import counted_words, joined, lower_first, span_words, weekday_words


def no_day_sentences(barred: Mapping[LineKey, NoDay], outlooks: Mapping[str, VehicleOutlook]) -> tuple[str, ...]:
    """One sentence for each service that has no day by itself; one for all if nobody is there at any time."""
    found = []
    for line, why in barred.items():
        told = _told(line, why, outlooks[line.mark])
        if told not in found:
            found.append(told)
    return tuple(found)


def clash_sentences(
    clashes: Sequence[Sequence[BayVisit]],
    outlooks: Mapping[str, VehicleOutlook],
    *,
    bays: int,
    zone: ZoneInfo,
    today: date,
) -> tuple[str, ...]:
    """Which inked visits cannot all be."""
    return tuple(
        tr(
            "{visits} cannot all be: they are inked for one time, and there is room for {bays}. Move one of them.",
            visits=joined([_named(each, outlooks, zone, today) for each in clash]),
            bays=counted_words(bays, "vehicle", "vehicles"),
        )
        for clash in clashes
    )


def _named(visit: BayVisit, outlooks: Mapping[str, VehicleOutlook], zone: ZoneInfo, today: date) -> str:
    outlook = outlooks.get(visit.mark)
    begins = visit.begins_at.astimezone(zone)
    return tr(
        "{name} on {day} at {time}",
        name=outlook.vehicle.name if outlook else visit.mark,
        day=weekday_words(begins.date(), today),
        time=f"{begins:%H:%M}",
    )


def _told(line: LineKey, why: NoDay, outlook: VehicleOutlook) -> str:
    name = outlook.vehicle.name
    known = next((each for each in outlook.lines if each.key == line), None)
    what = lower_first(service_title(outlook, known)) if known is not None else line.service
    first, second = (span_words(minutes) for minutes in why.figures)
    match why.kind:
        case NoDayKind.SKILL:
            return tr(
                "{name}, {what}: it wants somebody who knows {skill}, and nobody here is down for that in "
                "workshop.toml.",
                name=name,
                what=what,
                skill=why.skill,
            )
        case NoDayKind.TOO_LONG:
            return tr(
                "{name}, {what}: it takes {span} at a stretch, and no day is open for longer than {longest}.",
                name=name,
                what=what,
                span=first,
                longest=second,
            )
        case NoDayKind.AWAY:
            return tr(
                "{name}, {what}: {name} is spoken for whenever somebody is there. Free a day, or let it run past late "
                "knowingly.",
                name=name,
                what=what,
            )
        case NoDayKind.CHAIN:
            return tr(
                "{name}, {what}: its stages lie {least} or more apart, and no two open days fit that.",
                name=name,
                what=what,
                least=first,
            )
        case _:
            return tr("On no day of the time that is planned is anybody there with a bay free.")
