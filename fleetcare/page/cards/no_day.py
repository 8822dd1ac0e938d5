"""Why a service has no day in a plan, which inked visits cannot all be, what figures mean nothing: in sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Protocol
from zoneinfo import ZoneInfo

from fleetcare.bayplan.impossible import NoDay, NoDayKind
from fleetcare.bayplan.workshop_doubts import WorkshopDoubts
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.component import LineKey
from fleetcare.language import tr
from fleetcare.page.cards.sentences import service_title
from fleetcare.wording import counted_words, joined, lower_first, span_words, weekday_words


class Troubled(Protocol):
    """A plan that was worked out, as far as its troubles go."""

    @property
    def today(self) -> date:
        """The day it was made on."""
        ...

    @property
    def zone(self) -> ZoneInfo:
        """Of the garage."""
        ...

    @property
    def outlooks(self) -> Mapping[str, VehicleOutlook]:
        """Every vehicle by its mark."""
        ...

    @property
    def barred(self) -> Mapping[LineKey, NoDay]:
        """What has no day by itself, and why."""
        ...

    @property
    def not_due(self) -> Sequence[LineKey]:
        """What is in its visit no more because it does not come due."""
        ...

    @property
    def clashes(self) -> Sequence[Sequence[BayVisit]]:
        """Inked visits that cannot all be."""
        ...

    @property
    def bays(self) -> int:
        """How many bays there are."""
        ...

    @property
    def doubts(self) -> WorkshopDoubts:
        """What in the workshop's own figures leads nowhere."""
        ...


def trouble_sentences(plan: Troubled) -> tuple[str, ...]:
    """What a plan could not do: inked visits that cannot all be, and services without a day. For page, command, API."""
    clashes = clash_sentences(plan.clashes, plan.outlooks, bays=plan.bays, zone=plan.zone, today=plan.today)
    return (
        *clashes,
        *no_day_sentences(plan.barred, plan.outlooks),
        *not_due_sentences(plan.not_due, plan.outlooks),
        *doubt_sentences(plan.doubts),
    )


def not_due_sentences(lines: Sequence[LineKey], outlooks: Mapping[str, VehicleOutlook]) -> tuple[str, ...]:
    """One sentence for each service that its visit loses because it does not come due."""
    return tuple(
        tr(
            "{name}, {what}: it does not come due in the time that is planned, so its visit goes without it. "
            "Ink the visit to keep it.",
            name=outlooks[line.mark].vehicle.name,
            what=_what(line, outlooks[line.mark]),
        )
        for line in lines
        if line.mark in outlooks
    )


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


def doubt_sentences(doubts: WorkshopDoubts) -> tuple[str, ...]:
    """What in workshop.toml and the jobs leads nowhere, each by name and with what to do."""
    found = [
        tr(
            "The order of {services} goes round in a circle and is not kept. Take one of these orders out of "
            "workshop.toml.",
            services=joined(circle),
        )
        for circle in doubts.circles
    ]
    found += [
        tr(
            "An order in workshop.toml names {service}, and no service is called that. Write its short name.",
            service=name,
        )
        for name in doubts.unknown
    ]
    found += [
        tr(
            "A job wants the set-up {name}, which has no row in workshop.toml: it is planned with a quarter of an hour "
            "and no money. Give it a row.",
            name=name,
        )
        for name in doubts.unpriced
    ]
    return tuple(found)


def _named(visit: BayVisit, outlooks: Mapping[str, VehicleOutlook], zone: ZoneInfo, today: date) -> str:
    outlook = outlooks.get(visit.mark)
    begins = visit.begins_at.astimezone(zone)
    return tr(
        "{name} on {day} at {time}",
        name=outlook.vehicle.name if outlook else visit.mark,
        day=weekday_words(begins.date(), today),
        time=f"{begins:%H:%M}",
    )


def _what(line: LineKey, outlook: VehicleOutlook) -> str:
    known = next((each for each in outlook.lines if each.key == line), None)
    return lower_first(service_title(outlook, known)) if known is not None else line.service


def _told(line: LineKey, why: NoDay, outlook: VehicleOutlook) -> str:
    name = outlook.vehicle.name
    what = _what(line, outlook)
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
        case NoDayKind.WINDOW:
            return tr(
                "{name}, {what}: its sheet is put off so long that no open day of the time that is planned is left.",
                name=name,
                what=what,
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
        case NoDayKind.ALONE:
            return tr(
                "{name}, {what}: with fetching, setting up and its stages it fits on no day, even with nothing else "
                "planned.",
                name=name,
                what=what,
            )
        case _:
            return tr("On no day of the time that is planned is anybody there with a bay free.")
