"""One bay day weighed: why it is that day, and what each other day would cost, in money a person can compare."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby
from zoneinfo import ZoneInfo

from fleetcare.bayplan.explain import DayPrice, Explained, Forbidden, Reason, ReasonKind
from fleetcare.bayplan.held_days import BayHolder
from fleetcare.bayplan.lead_reason import why_told
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.bay_visit import BayVisit, VisitState, stand_of_visit
from fleetcare.fleet.people import Garage, Person
from fleetcare.language import later, tr
from fleetcare.page.cards.bay_days import visit_anchor
from fleetcare.page.cards.frame import BAY_URL, Frame, full_frame, vehicle_url
from fleetcare.page.cards.sentences import service_title
from fleetcare.page.drawings.ground import GroundDay, GroundDrawing, ground
from fleetcare.wording import (
    day_short,
    day_strip,
    day_words,
    days_words,
    grouped,
    joined,
    lower_first,
    sentence,
    weekday_words,
)

WIDE, PHONE = 500.0, 358.0
OFFERED = 6
"""Other days that get a sentence and a button: the cheapest ones."""
MOST_HELD = 6
"""So often it is told by whom the bay is taken."""


@dataclass(frozen=True, slots=True)
class OtherDay:
    """A day it could be moved to. told: what that costs and does. value: as its form sends it."""

    day: str
    told: str
    value: str


@dataclass(frozen=True, slots=True)
class BayWhyTold:
    """The same in words alone, for page and command."""

    why: tuple[str, ...]
    days: tuple[OtherDay, ...]
    cannot: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BayWhyCard:
    """The page about one visit. why: at most three sentences. cannot: what forbids the other days, in sentences.

    move_url: where the visit is moved at once, plan_url: where a plan around another day is worked out; empty if the
    reader may not. time: of its first hand, kept when it moves. stand: goes with the form that
    moves it.
    """

    frame: Frame
    title: str
    told: str
    mark: str
    name: str
    url: str
    services: tuple[str, ...]
    why: tuple[str, ...]
    wide: GroundDrawing | None
    phone: GroundDrawing | None
    days: tuple[OtherDay, ...]
    cannot: tuple[str, ...]
    move_url: str
    plan_url: str
    time: str
    stand: str
    back_url: str


def bay_why_card(
    *,
    garage: Garage,
    reader: Person | None,
    today: date,
    visit: BayVisit,
    outlook: VehicleOutlook,
    explained: Explained | None,
    day_0: date,
    cap_cents: int,
    closed: Mapping[date, str],
    held: Mapping[date, Sequence[BayHolder]],
    is_as_written: bool,
    may_plan: bool,
    may_plan_all: bool,
    can_enter: bool,
) -> BayWhyCard:
    """The page. explained: None if its day cannot be compared. day_0: from which its days are counted. cap_cents: as
    dear as the drawing shows. held: what holds the bay, by day. is_as_written: weighed with the visit's own times.
    """
    zone = ZoneInfo(garage.zone)
    begins = visit.begins_at.astimezone(zone)
    titles = {str(line.key): service_title(outlook, line) for line in outlook.lines}
    told = bay_why_told(visit, outlook, explained, day_0, today, closed, held, is_as_written=is_as_written)
    drawn = _ground_days(explained, day_0, cap_cents) if explained else ()
    label = tr(
        "What moving {vehicle} costs, day by day; the sentences beside it say the same.", vehicle=outlook.vehicle.name
    )
    back = f"{BAY_URL}{visit_anchor(visit.mark, visit.number)}"
    state = tr("inked") if visit.state is VisitState.INKED else tr("pencilled")
    return BayWhyCard(
        frame=full_frame(
            f"{outlook.vehicle.name}, {day_strip(begins.date(), today)}",
            garage=garage,
            reader=reader,
            today=today,
            here=BAY_URL,
            can_enter=can_enter,
        ),
        title=weekday_words(begins.date(), today),
        told=f"{begins:%H:%M}, {state}",
        mark=visit.mark,
        name=outlook.vehicle.name,
        url=vehicle_url(visit.mark),
        services=tuple(titles.get(str(line), line.service) for line in visit.lines),
        why=told.why,
        wide=ground(drawn, WIDE, label) if drawn else None,
        phone=ground(drawn, PHONE, label) if drawn else None,
        days=told.days,
        cannot=told.cannot if explained else (tr(NOT_COMPARED),),
        move_url=f"{BAY_URL}/{visit.mark}/{visit.number}/move" if may_plan else "",
        plan_url=f"{BAY_URL}/{visit.mark}/{visit.number}/with-it-moved" if may_plan_all else "",
        time=f"{begins:%H:%M}",
        stand=stand_of_visit(visit),
        back_url=back,
    )


def bay_why_told(
    visit: BayVisit,
    outlook: VehicleOutlook,
    explained: Explained | None,
    day_0: date,
    today: date,
    closed: Mapping[date, str],
    held: Mapping[date, Sequence[BayHolder]],
    *,
    is_as_written: bool = False,
) -> BayWhyTold:
    """Why a visit is on its day, and what other days cost or what forbids them. closed: days off by name. held: what
    holds the bay, by day. is_as_written: weighed with the visit's own times, which is said first of the others."""
    titles = {str(line.key): service_title(outlook, line) for line in outlook.lines}
    return BayWhyTold(
        why=why_sentences(explained, titles, outlook, day_0, today, why_told(visit)),
        days=tuple(_other(price, day_0, today) for price in cheapest(explained)) if explained else (),
        cannot=(
            *((tr(AS_WRITTEN),) if is_as_written else ()),
            *(cannot_sentences(explained, day_0, today, closed, held) if explained else ()),
        ),
    )


AS_WRITTEN = later("Weighed with the times written for this visit; by the Handbook’s it would not fit on its day.")
NOT_COMPARED = later(
    "By the workshop’s open hours it could not be on its own day, or nothing of it comes due in the time "
    "that is planned, so other days are not compared with it."
)


def why_sentences(
    explained: Explained | None,
    titles: Mapping[str, str],
    outlook: VehicleOutlook,
    day_0: date,
    today: date,
    given: str,
) -> tuple[str, ...]:
    """Why this day, at most three sentences: what a person wrote first, then what the prices say."""
    said = [given] if given else []
    for reason in explained.reasons if explained else ():
        if len(said) < 3:
            said.append(_reason(reason, titles, outlook, day_0, today))
    return tuple(said)


def cheapest(explained: Explained) -> tuple[DayPrice, ...]:
    """The cheapest other days, by day."""
    open_days = [price for price in explained.other_days if price.extra_cents is not None]
    return tuple(sorted(sorted(open_days, key=lambda p: (p.extra_cents or 0, p.day))[:OFFERED], key=lambda p: p.day))


def cannot_sentences(
    explained: Explained,
    day_0: date,
    today: date,
    closed: Mapping[date, str],
    held: Mapping[date, Sequence[BayHolder]],
) -> tuple[str, ...]:
    """What forbids days within four weeks either side, the rule that forbids most first; days of a run in one."""
    found = []
    shown = {day_0 + timedelta(days=price.day) for price in explained.other_days if price.forbidden is not None}
    off = [f"{day_words(day, today)} ({name})" for day, name in sorted(closed.items()) if day in shown]
    if off:
        found.append(tr("Closed: {off}.", off=joined(off)))
    forbidden = [price for price in explained.other_days if price.forbidden is not None]
    by_rule: dict[Forbidden, list[int]] = {}
    for price in forbidden:
        assert price.forbidden is not None  # chosen so
        by_rule.setdefault(price.forbidden, []).append(price.day)
    for rule, days in sorted(by_rule.items(), key=lambda pair: (-len(pair[1]), pair[0].value)):
        if rule is Forbidden.NOBODY:
            found.append(tr("On {days} nobody is there.", days=days_words(len(days))))
            continue
        if rule is Forbidden.TAKEN:
            found.append(_taken_sentence(days, day_0, today, held))
            continue
        found.append(f"{sentence(tr(rule.value))}: {_some(days, day_0, today)}.")
    return tuple(found)


def _taken_sentence(days: Sequence[int], day_0: date, today: date, held: Mapping[date, Sequence[BayHolder]]) -> str:
    """By what the bay is taken and when, all in one: days with the same holders together, in the order of the first."""
    by_holders: dict[tuple[BayHolder, ...], list[int]] = {}
    for day in sorted(days):
        holders = tuple(held.get(day_0 + timedelta(days=day), (BayHolder(),)))
        by_holders.setdefault(holders, []).append(day)
    told = [_held(holders, _some(taken, day_0, today)) for holders, taken in by_holders.items()]
    more = tr(" and more days") if len(told) > MOST_HELD else ""
    return tr("The bay is taken: {when}{more}.", when="; ".join(told[:MOST_HELD]), more=more)


def _held(holders: Sequence[BayHolder], days: str) -> str:
    named = [tr("{name} (visit {number})", name=each.name, number=each.number) for each in holders if each.mark]
    if not named:
        return tr("{days}, as its calendar says", days=days)
    return tr("{days} by {holders}", days=days, holders=joined(named))


def _some(days: Sequence[int], day_0: date, today: date) -> str:
    """The first three runs of these days."""
    runs = _runs(days)
    more = tr(" and more days") if len(runs) > 3 else ""
    return f"{joined([_span(run, day_0, today) for run in runs[:3]])}{more}"


def money(cents: int) -> str:
    """An amount in the garage's own money, whole: `133`."""
    return grouped(round(abs(cents) / 100))


def _reason(reason: Reason, titles: Mapping[str, str], outlook: VehicleOutlook, day_0: date, today: date) -> str:
    names = [lower_first(titles.get(name, name)) for name in reason.names]
    on = day_words(day_0 + timedelta(days=reason.day), today) if reason.day is not None else ""
    match reason.kind:
        case ReasonKind.LEADS:
            line = next((each for each in outlook.lines if str(each.key) in reason.names), None)
            late = (
                tr(" Its late date is {day}.", day=day_words(line.window.late, today)) if line and line.window else ""
            )
            if round(reason.kept_cents / 100):
                return tr(
                    "{names} leads: by {on} waiting would cost {money} more: {lateness} for being late "
                    "({chance} in 100 that it is overdue by then), less {kept} of its life.{late}",
                    names=sentence(names[0]),
                    on=on,
                    money=money(reason.cents),
                    lateness=money(reason.late_cents),
                    chance=round(reason.chance / 10_000),
                    kept=money(reason.kept_cents),
                    late=late,
                )
            return tr(
                "{names} leads: by {on} waiting would cost {money} more.{late}",
                names=sentence(names[0]),
                on=on,
                money=money(reason.cents),
                late=late,
            )
        case ReasonKind.TOGETHER:
            return tr(
                "{names} share one visit, which saves {money}.",
                names=sentence(joined(names)),
                money=money(reason.cents),
            )
        case ReasonKind.NEXT_BEST if reason.cents < 0:
            return tr("By the prices alone {on} would be better, by {money}.", on=on, money=money(reason.cents))
        case ReasonKind.NEXT_BEST:
            return tr("The next best day, {on}, costs {money} more.", on=on, money=money(reason.cents))
        case ReasonKind.ONLY_DAY:
            return tr("No other day within four weeks is possible.")
    return tr("People have been told this day; moving it counts as {money}.", money=money(reason.cents))


def _other(price: DayPrice, day_0: date, today: date) -> OtherDay:
    day = day_0 + timedelta(days=price.day)
    extra = price.extra_cents or 0
    if not round(extra / 100):
        told = tr("costs the same")
    elif extra < 0:
        told = tr("saves {money}", money=money(extra))
    else:
        told = tr("costs {money}", money=money(extra))
    more = "" if extra < 0 or not round(extra / 100) else tr(" more")
    return OtherDay(day_strip(day, today), f"{told}{more}", day.isoformat())


def _ground_days(explained: Explained, day_0: date, cap_cents: int) -> tuple[GroundDay, ...]:
    prices = {price.day: price.extra_cents for price in explained.other_days} | {explained.day: 0}
    lowest = min(cents for cents in prices.values() if cents is not None)
    cap = max(cap_cents, 1)
    return tuple(
        GroundDay(
            None if cents is None else (cents - lowest) / cap,
            _short(day_0 + timedelta(days=day)),
            day == explained.day,
        )
        for day, cents in sorted(prices.items())
    )


def _short(day: date) -> str:
    """Without its year: it is within four weeks of the day the page is about."""
    return day_short(day, day)


def _runs(days: Sequence[int]) -> list[list[int]]:
    """Days that follow each other, together."""
    keyed = groupby(enumerate(sorted(days)), key=lambda pair: pair[1] - pair[0])
    return [[day for _, day in run] for _, run in keyed]


def _span(run: Sequence[int], day_0: date, today: date) -> str:
    first, last = (day_words(day_0 + timedelta(days=day), today) for day in (run[0], run[-1]))
    return first if len(run) == 1 else tr("{first} to {last}", first=first, last=last)
