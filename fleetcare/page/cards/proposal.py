"""A plan that was worked out and is not written down yet: what is new, what moves, what goes, and what it costs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from fleetcare.bayplan.impossible import NoDay
from fleetcare.bayplan.lead_reason import reason_told
from fleetcare.bayplan.port import Answer, Outcome
from fleetcare.bayplan.workshop_doubts import NO_DOUBTS, WorkshopDoubts
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.people import Garage, Person
from fleetcare.language import tr, tr_book, tr_count
from fleetcare.page.cards.bay_why import money
from fleetcare.page.cards.frame import BAY_URL, Frame, full_frame, vehicle_url
from fleetcare.page.cards.no_day import clash_sentences, doubt_sentences, no_day_sentences, not_due_sentences
from fleetcare.page.cards.sentences import service_title
from fleetcare.wording import counted, counted_words, day_strip, joined, lower_first, percent, sentence, weekday_words

PROPOSE_URL = f"{BAY_URL}/propose"
PROPOSAL_URL = f"{BAY_URL}/proposal"
STAND_FIELD = "stand"
"""Stands for the proposal that was looked at, so that no other one is taken in its place."""


@dataclass(frozen=True, slots=True)
class ProposedRow:
    """One visit of the proposal. change: `new`, `moves, was Sat 25 Apr`, `as it is`, `goes`."""

    day: str
    time: str
    mark: str
    name: str
    services: str
    change: str
    is_change: bool
    why: str

    @property
    def url(self) -> str:
        """The vehicle's page."""
        return vehicle_url(self.mark)


@dataclass(frozen=True, slots=True)
class ProposalCard:
    """The page. is_working: a plan is being worked out; it comes again by itself. problem: why there is none.

    wish: what the wish that it was made around costs, and what taking it does; leave_url: the page it was wished on.
    """

    frame: Frame
    lead: str
    is_working: bool
    rows: tuple[ProposedRow, ...] = ()
    left: str = ""
    cost: str = ""
    problem: str = ""
    stand: str = ""
    can_take: bool = False
    wish: str = ""
    leave_url: str = ""
    troubles: tuple[str, ...] = ()
    """Services that have no day by themselves, and inked visits that cannot all be."""


def working_card(
    *, garage: Garage, reader: Person, today: date, can_enter: bool, seconds: int, best_cents: int | None
) -> ProposalCard:
    """While it is being worked out. best_cents: of the best plan so far."""
    so_far = tr(" The best plan so far costs {money}.", money=money(best_cents)) if best_cents is not None else ""
    return ProposalCard(
        frame=_frame(garage, reader, today, can_enter),
        lead=tr(
            "A plan is being worked out, {seconds} so far.{so_far}",
            seconds=counted(seconds, "second", "seconds"),
            so_far=so_far,
        ),
        is_working=True,
    )


def no_proposal_card(
    *, garage: Garage, reader: Person, today: date, can_enter: bool, problem: str = ""
) -> ProposalCard:
    """Nothing was worked out, or it came to nothing. problem: why."""
    lead = tr("No plan has been worked out since the server began.") if not problem else tr("There is no plan to take.")
    return ProposalCard(frame=_frame(garage, reader, today, can_enter), lead=lead, is_working=False, problem=problem)


def proposal_card(
    *,
    garage: Garage,
    reader: Person,
    today: date,
    can_enter: bool,
    visits: Sequence[BayVisit],
    gone: Sequence[BayVisit],
    before: Sequence[BayVisit],
    left: Sequence[LineKey],
    answer: Answer | None,
    outlooks: Mapping[str, VehicleOutlook],
    stand: str,
    wished: BayVisit | None = None,
    wished_on: date | None = None,
    extra_cents: int = 0,
    untouched: int | None = None,
    barred: Mapping[LineKey, NoDay] | None = None,
    clashes: Sequence[Sequence[BayVisit]] = (),
    bays: int = 1,
    not_due: Sequence[LineKey] = (),
    doubts: WorkshopDoubts = NO_DOUBTS,
) -> ProposalCard:
    """The proposal. before: every visit as it stood when it was made.

    wished, wished_on: the visit, as it stands, and the day that the plan was made around; extra_cents: what that costs
    more than the best plan without it. untouched: so many other visits stand, as only what a change hit was planned
    anew; None for a whole plan. barred: of what is left, what has no day by itself. clashes: inked visits that
    cannot all be in so many bays. not_due: services that their visits lose because they do not come due.
    doubts: what in the workshop's figures leads nowhere.
    """
    zone = ZoneInfo(garage.zone)
    old = {each.key: each for each in before}
    rows = [_row(each, old.get(each.key), outlooks, zone, today) for each in visits]
    rows += [_gone(each, outlooks, zone, today) for each in gone]
    changes = sum(row.is_change for row in rows)
    return ProposalCard(
        frame=_frame(garage, reader, today, can_enter),
        lead=_lead(len(visits), changes, answer, untouched),
        is_working=False,
        rows=tuple(rows),
        # Without a plan nothing is left for a later one: what is pencilled stays.
        left=left_sentence(left, outlooks) if answer is None or answer.plan is not None else "",
        cost=cost_sentence(answer),
        stand=stand,
        can_take=bool(changes),
        wish=_wish(wished, wished_on, extra_cents, outlooks, today) if wished and wished_on else "",
        leave_url=visit_url(wished.mark, wished.number) if wished else "",
        troubles=(
            *clash_sentences(clashes, outlooks, bays=bays, zone=zone, today=today),
            *no_day_sentences(barred or {}, outlooks),
            *not_due_sentences(not_due, outlooks),
            *doubt_sentences(doubts),
        ),
    )


def visit_url(mark: str, number: int) -> str:
    """The page of one visit."""
    return f"{BAY_URL}/{mark}/{number}"


def _wish(visit: BayVisit, on: date, extra_cents: int, outlooks: Mapping[str, VehicleOutlook], today: date) -> str:
    name, day = outlooks[visit.mark].vehicle.name, weekday_words(on, today)
    if round(extra_cents / 100) > 0:
        return tr(
            "With {name} on {day} it costs {money} more than the best plan without that wish. "
            "Taken, that day is inked and the others are pencilled.",
            name=name,
            day=day,
            money=money(extra_cents),
        )
    return tr(
        "With {name} on {day} it costs no more than the best plan without that wish. "
        "Taken, that day is inked and the others are pencilled.",
        name=name,
        day=day,
    )


def _frame(garage: Garage, reader: Person, today: date, can_enter: bool) -> Frame:
    return full_frame(tr("A plan"), garage=garage, reader=reader, today=today, here=BAY_URL, can_enter=can_enter)


def _lead(visits: int, changes: int, answer: Answer | None, untouched: int | None) -> str:
    if untouched is not None:
        return f"{_lead_anew(changes)} {_untouched(untouched)}"
    if answer is None:
        return tr("Nothing comes due in that time that is not inked already.")
    if answer.plan is None:
        return tr("No plan was found in the time it was given; what is pencilled stays.")
    many = sentence(counted_words(visits, "visit", "visits"))
    if not changes:
        return tr("{many}, all as they are pencilled already. Nothing is to be changed.", many=many)
    return tr(
        "{many}; {changes} against what is pencilled. Nothing is written yet.",
        many=many,
        changes=counted_words(changes, "change", "changes"),
    )


def _lead_anew(changes: int) -> str:
    if not changes:
        return tr("What a change had hit was planned anew, and nothing is to be changed.")
    return tr(
        "What a change had hit was planned anew: {changes} against what is pencilled. Nothing is written yet.",
        changes=counted_words(changes, "change", "changes"),
    )


def _untouched(untouched: int) -> str:
    if not untouched:
        return tr("No other visit is pencilled.")
    return tr_count(
        "One other visit stands as it is.", "{many} other visits stand as they are.", untouched, many=untouched
    )


def cost_sentence(answer: Answer | None) -> str:
    """What a plan costs, and how good that is; empty without one. For page and command."""
    if answer is None or answer.total is None:
        return ""
    if answer.outcome is Outcome.PROVEN:
        proven = tr("no plan costs less")
    elif answer.gap is None:
        proven = tr("how much less another could cost is not known")
    else:
        proven = tr("at most {percent} % above the best there is", percent=percent(answer.gap))
    return tr("By the workshop’s prices it costs {money}; {proven}.", money=money(answer.total), proven=proven)


def left_sentence(left: Sequence[LineKey], outlooks: Mapping[str, VehicleOutlook]) -> str:
    """What is left for a later plan, by name; empty if nothing is. For page and command."""
    if not left:
        return ""
    named = []
    for key in left:
        outlook = outlooks[key.mark]
        short = next((tr_book(line.row.short) for line in outlook.lines if line.key == key), key.service)
        named.append(f"{outlook.vehicle.name}, {short}")
    return tr("Left for a later plan: {services}.", services="; ".join(named))


def _row(
    visit: BayVisit, was: BayVisit | None, outlooks: Mapping[str, VehicleOutlook], zone: ZoneInfo, today: date
) -> ProposedRow:
    moves = was is not None and was.begins_at != visit.begins_at
    if was is None or not was.takes_place:
        change = tr("new")
    elif moves:
        then = was.begins_at.astimezone(zone)
        change = tr("moves, was {day} at {then}", day=day_strip(then.date(), today), then=f"{then:%H:%M}")
    else:
        change = tr("as it is") if set(was.lines) == set(visit.lines) else tr("other services")
    return _shown(visit, outlooks, zone, today, change, change != tr("as it is"), why=reason_told(visit.reason))


def _gone(visit: BayVisit, outlooks: Mapping[str, VehicleOutlook], zone: ZoneInfo, today: date) -> ProposedRow:
    return _shown(visit, outlooks, zone, today, tr("goes"), True, why="")


def _shown(
    visit: BayVisit,
    outlooks: Mapping[str, VehicleOutlook],
    zone: ZoneInfo,
    today: date,
    change: str,
    is_change: bool,
    *,
    why: str,
) -> ProposedRow:
    begins = visit.begins_at.astimezone(zone)
    outlook = outlooks.get(visit.mark)
    titles = {line.key: lower_first(service_title(outlook, line)) for line in outlook.lines} if outlook else {}
    return ProposedRow(
        day=weekday_words(begins.date(), today),
        time=f"{begins:%H:%M}",
        mark=visit.mark,
        name=outlook.vehicle.name if outlook else visit.mark,
        services=joined([titles.get(line, line.service) for line in visit.lines]),
        change=change,
        is_change=is_change,
        why=why,
    )
