"""Decides which letters are due to whom, from where the garage stands and what the ledger holds already."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from fleetcare.digest.answer_letter import AnswerNews
from fleetcare.digest.bay_day import BayDayNotice
from fleetcare.digest.concerns import OpenFinding, ServiceAhead
from fleetcare.digest.moments import is_quiet
from fleetcare.digest.schedule import PATIENCE, ReadingRound, follows_by_now, reading_round, weeks_between
from fleetcare.digest.values import DeliveryState, LetterKind, LetterPlace
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr
from fleetcare.wording import count_words, counted_words, day_words
from fleetcare.work.record import WorkDone

FINDING_NEWS = timedelta(days=14)
"""A finding older than this is no news; a history that was brought in sends no letters."""
LOST_NEWS = timedelta(days=7)
LEDGER_LOOKS_BACK = timedelta(days=75)
"""Further back no asking for a reading and no gap between garage letters reaches."""

Ledger = Mapping[tuple[str, LetterKind, str], LetterPlace]
"""What was decided before, by person, kind and period."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """One letter that is due and not decided yet.

    with_it: further periods that this letter settles too; each has a row of its own in the ledger, so that none is told
    again.
    """

    person: Person
    kind: LetterKind
    period: str
    outlook: VehicleOutlook | None = None
    services: tuple[ServiceAhead, ...] = ()
    findings: tuple[OpenFinding, ...] = ()
    lost: tuple[LetterPlace, ...] = ()
    names: tuple[str, ...] = ()
    """First names: of who was asked for a reading, or who found what was found."""
    with_it: tuple[str, ...] = ()
    notice: BayDayNotice | None = None
    answer: AnswerNews | None = None


def letters_due(
    *,
    garage: Garage,
    people: Sequence[Person],
    outlooks: Sequence[VehicleOutlook],
    work: Sequence[WorkDone],
    ledger: Ledger,
    now: datetime,
) -> tuple[Wanted, ...]:
    """Letters that hang on where vehicles stand: readings, past late, findings. people: those with a mail address.

    Raises BadInput for a person's zone that is unknown.
    """
    by_key = {person.key: person for person in people}
    return (
        *(each for outlook in outlooks for each in _readings(outlook, garage, by_key, ledger, now)),
        *_past_late(outlooks, garage, by_key, ledger, now),
        *_findings(outlooks, work, garage, by_key, ledger, now),
    )


def who_reads(vehicle: Vehicle, garage: Garage, people: Mapping[str, Person]) -> tuple[Person, ...]:
    """Who is asked for a reading: the drivers who take letters, or the keeper if none does. people: by key."""
    asked = [people[key] for key in vehicle.drivers if key in people and people[key].letter_weekday is not None]
    keeper = keeper_of(vehicle, garage, people)
    return tuple(asked) if asked or keeper is None else (keeper,)


def keeper_of(vehicle: Vehicle, garage: Garage, people: Mapping[str, Person]) -> Person | None:
    """Who answers for a vehicle and has a mail address; who keeps the list, if nobody else is there."""
    return people.get(vehicle.keeper) or people.get(garage.list_keeper)


def lost_letters_due(
    *, garage: Garage, people: Sequence[Person], lost: Sequence[LetterPlace], ledger: Ledger, now: datetime
) -> tuple[Wanted, ...]:
    """The word to who keeps the list that letters came back or ran out of time; each is told once.

    lost: letters that failed or expired of late. Those to the list's keeper about letters lost are not told: they would
    take the same way.
    """
    keeper = next((person for person in people if person.key == garage.list_keeper), None)
    if keeper is None or is_quiet(keeper, now):
        return ()
    new = [
        each
        for each in lost
        if each.kind not in (LetterKind.NOT_DELIVERED, LetterKind.COME_IN)
        and each.person != keeper.key
        and now - each.decided_at < LOST_NEWS * 5
        and (keeper.key, LetterKind.NOT_DELIVERED, _lost_period(each)) not in ledger
    ]
    if not new:
        return ()
    first, *others = (_lost_period(each) for each in new)
    return (Wanted(keeper, LetterKind.NOT_DELIVERED, first, lost=tuple(new), with_it=tuple(others)),)


def missed_sentence(person: Person, period: str, letters: Sequence[LetterPlace], today: date) -> str:
    """What a garage letter says of letters before it that did not come; nothing if all did.

    letters: to this person, oldest first, without the one that is written.
    """
    reached = max((each.decided_at for each in letters if each.state is DeliveryState.SENT), default=None)
    lost = [
        each
        for each in letters
        if each.state.is_lost
        and each.kind not in (LetterKind.COME_IN, LetterKind.NOT_DELIVERED)
        and (reached is None or each.decided_at > reached)
    ]
    if lost:
        days = tr("The letter of {day}", day=day_words(lost[0].decided_at.date(), today))
        many = tr("{letters} to you", letters=counted_words(len(lost), "letter", "letters").capitalize())
        return tr(
            "{days} did not get through; what still holds of it is in this one.", days=days if len(lost) == 1 else many
        )
    weekly = [each for each in letters if each.kind is LetterKind.GARAGE]
    gap = max((weeks_between(each.period, period) for each in weekly[-1:]), default=0) - 1
    if gap == 1:
        return tr("No letter was written last week; this one has what came up since.")
    if gap > 1:
        return tr(
            "No letter was written in the {gap} weeks before; this one has what came up since.", gap=count_words(gap)
        )
    return ""


# Readings


def _readings(
    outlook: VehicleOutlook, garage: Garage, people: Mapping[str, Person], ledger: Ledger, now: datetime
) -> Iterator[Wanted]:
    if outlook.wanted is None:
        return
    asked = who_reads(outlook.vehicle, garage, people)
    asked_twice = []
    for person in asked:
        asking = reading_round(outlook, person, now)
        if asking is None:
            continue
        first = ledger.get((person.key, LetterKind.READING, asking.period))
        second = ledger.get((person.key, LetterKind.READING_AGAIN, asking.period))
        if first is None:
            yield Wanted(person, LetterKind.READING, asking.period, outlook)
        elif second is None and _is_time(asking, 1, first, person, now):
            yield Wanted(person, LetterKind.READING_AGAIN, asking.period, outlook)
        elif second is not None:
            asked_twice.append((person, second))
    keeper = keeper_of(outlook.vehicle, garage, people)
    if keeper is None or keeper in asked:
        return
    asking = reading_round(outlook, keeper, now)
    if asking is None or (keeper.key, LetterKind.READING_MISSING, asking.period) in ledger:
        return
    if any(_is_time(asking, 2, second, keeper, now) for _, second in asked_twice):
        names = tuple(person.first_name for person, _ in asked_twice)
        yield Wanted(keeper, LetterKind.READING_MISSING, asking.period, outlook, names=names)


def _is_time(asking: ReadingRound, step: int, before: LetterPlace, reader: Person, now: datetime) -> bool:
    """Whether the next step of an asking is due to `reader`. before: the letter of the step before it.

    A machine that was off for weeks asks first, and asks again only after its reader had time to answer.
    """
    return now - before.decided_at >= PATIENCE and follows_by_now(asking, step, reader, now)


# Past late


def _past_late(
    outlooks: Sequence[VehicleOutlook],
    garage: Garage,
    people: Mapping[str, Person],
    ledger: Ledger,
    now: datetime,
) -> Iterator[Wanted]:
    by_keeper: defaultdict[str, list[ServiceAhead]] = defaultdict(list)
    for outlook in outlooks:
        late = [
            ServiceAhead(outlook, line, line.window)
            for line in outlook.lines
            if line.window is not None and line.window.is_past_late(outlook.today)
        ]
        keeper = keeper_of(outlook.vehicle, garage, people) if late else None
        if keeper is None or keeper.letter_weekday is None:
            continue
        by_keeper[keeper.key] += [
            each for each in late if (keeper.key, LetterKind.PAST_LATE, _interval(each)) not in ledger
        ]
    for key, services in sorted(by_keeper.items()):
        if services and not is_quiet(people[key], now):
            ordered = tuple(sorted(services, key=lambda each: each.urgency))
            first, *others = map(_interval, ordered)
            yield Wanted(people[key], LetterKind.PAST_LATE, first, services=ordered, with_it=tuple(others))


def _interval(service: ServiceAhead) -> str:
    """Names one interval of one line: what was last done ends it, however its dates move meanwhile."""
    return f"{service.line.key} since {service.line.last_done_on or 'it is kept'}"


# Findings


def _findings(
    outlooks: Sequence[VehicleOutlook],
    work: Sequence[WorkDone],
    garage: Garage,
    people: Mapping[str, Person],
    ledger: Ledger,
    now: datetime,
) -> Iterator[Wanted]:
    by_mark = {outlook.vehicle.mark: outlook for outlook in outlooks}
    found: defaultdict[tuple[str, str], list[tuple[str, OpenFinding]]] = defaultdict(list)
    for done in work:
        outlook = by_mark.get(done.line.mark)
        if outlook is None or not timedelta(0) <= outlook.today - done.on <= FINDING_NEWS:
            continue
        for finding in done.findings:
            if finding.look_again_on is not None and finding.settled_on is None:
                news = OpenFinding(done.on, finding, finding.look_again_on)
                found[done.line.mark, done.by].append((_finding_period(done, news), news))
    for (mark, by), news_here in sorted(found.items()):
        vehicle = by_mark[mark].vehicle
        keeper = keeper_of(vehicle, garage, people)
        if keeper is None or keeper.letter_weekday is None or is_quiet(keeper, now) or _is(keeper, by):
            continue
        new = [each for each in news_here if (keeper.key, LetterKind.FINDING, each[0]) not in ledger]
        if new:
            finder = next((person.first_name for person in people.values() if _is(person, by)), by)
            yield Wanted(
                keeper,
                LetterKind.FINDING,
                new[0][0],
                by_mark[mark],
                findings=tuple(finding for _, finding in new),
                names=(finder,) if finder and finder != "command" else (),
                with_it=tuple(period for period, _ in new[1:]),
            )


def _is(person: Person, called: str) -> bool:
    return called.casefold() in (person.key.casefold(), person.name.casefold())


def _finding_period(done: WorkDone, found: OpenFinding) -> str:
    """Names one finding by what it is: one that is exported and brought in again keeps its name."""
    text = hashlib.sha256(found.finding.text.encode("utf-8", "surrogatepass")).hexdigest()[:12]
    return f"{done.line} on {done.on}: {text}"


def _lost_period(letter: LetterPlace) -> str:
    return f"{letter.kind.value} {letter.period} to {letter.person}"


def periods_known(places: Iterable[LetterPlace]) -> dict[tuple[str, LetterKind, str], LetterPlace]:
    """The ledger by person, kind and period."""
    return {(each.person, each.kind, each.period): each for each in places}
