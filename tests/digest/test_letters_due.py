"""Which letters are due to whom, and that each is due once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from fleetcare.digest.letters_due import (
    Ledger,
    Wanted,
    letters_due,
    lost_letters_due,
    missed_sentence,
    periods_known,
    who_reads,
)
from fleetcare.digest.moments import is_quiet
from fleetcare.digest.values import DeliveryState, LetterKind, LetterPlace
from fleetcare.due.outlook import ReadingWanted, VehicleOutlook
from fleetcare.fleet.people import Person, Role
from fleetcare.work.record import Finding, WorkDone
from tests.digest.karst_ridge import ALL, ANVIL, BELLOWS, GARAGE, INES, RAFT, RAFT_COUPLING, TEO, TODAY, WORK

PIET = Person("piet", "Piet Maartens", "piet@garage.karstridge.example", "Europe/Berlin", letter_weekday=4)
EVERYBODY = (INES, PIET, TEO)
NOON = datetime(2026, 4, 14, 10, tzinfo=UTC)
"""Noon in Berlin on the garage's own Tuesday."""
DRIVEN = replace(BELLOWS, vehicle=replace(BELLOWS.vehicle, drivers=("piet",)))
"""Bellows, kept by Teo, driven by Piet; its reading is wanted since 9 April."""
DAY = timedelta(days=1)


def place(wanted: Wanted, at: datetime, state: DeliveryState = DeliveryState.SENT, **changes: object) -> LetterPlace:
    """The row of a letter that was decided then."""
    row = LetterPlace(
        id=1,
        person=wanted.person.key,
        kind=wanted.kind,
        period=wanted.period,
        message_id="<x@y>",
        subject="Garage letter, 7 April",
        to_mail=wanted.person.mail,
        decided_at=at,
        expires_at=at + 7 * DAY,
        state=state,
        tries=1,
        next_try_at=None,
        leased_until=None,
        last_answer="550 5.1.1 no such mailbox" if state is DeliveryState.FAILED else "250 ok",
        sent_at=at,
    )
    return replace(row, **changes)  # type: ignore[arg-type]


def due(
    outlooks: Sequence[VehicleOutlook],
    now: datetime = NOON,
    ledger: Ledger | None = None,
    *,
    people: Sequence[Person] = EVERYBODY,
    work: Sequence[WorkDone] = (),
) -> tuple[Wanted, ...]:
    """What is due."""
    return letters_due(garage=GARAGE, people=people, outlooks=outlooks, work=work, ledger=ledger or {}, now=now)


def kinds(wanted: Sequence[Wanted]) -> list[tuple[str, LetterKind]]:
    return [(each.person.key, each.kind) for each in wanted]


# Readings


def test_a_month_of_asking_for_one_reading_day_by_day() -> None:
    """First on the day it is wanted from, again ten days later, after ten more the keeper; then anew next month."""
    told: list[tuple[str, str, date]] = []
    places: list[LetterPlace] = []
    now = datetime(2026, 4, 8, 5, 30, tzinfo=UTC)  # half past seven in Berlin
    while now.date() < date(2026, 5, 12):
        for each in due([DRIVEN], now, periods_known(places)):
            places.append(place(each, now))
            told.append((each.person.key, each.kind.value, now.date()))
        now += DAY
    assert told == [
        ("piet", "reading request", date(2026, 4, 9)),
        ("piet", "second reading request", date(2026, 4, 19)),
        ("teo", "reading still wanted", date(2026, 4, 29)),
        ("piet", "reading request", date(2026, 5, 9)),
    ]


def test_a_machine_that_was_off_asks_first_and_again_only_after_some_days() -> None:
    started = datetime(2026, 4, 27, 10, tzinfo=UTC)  # 18 days after the first request should have gone
    first = due([DRIVEN], started)
    assert kinds(first) == [("piet", LetterKind.READING)]
    ledger = periods_known([place(first[0], started)])
    assert due([DRIVEN], started + 5 * DAY, ledger) == ()
    again = due([DRIVEN], started + 6 * DAY, ledger)
    assert kinds(again) == [("piet", LetterKind.READING_AGAIN)]
    ledger = periods_known([*ledger.values(), place(again[0], started + 6 * DAY)])
    assert due([DRIVEN], started + 11 * DAY, ledger) == (), "the keeper hears of it when Piet has had his days"


def test_a_keeper_who_drives_is_asked_twice_and_not_told_that_nobody_answered() -> None:
    now = NOON + 25 * DAY
    ledger = periods_known(
        place(Wanted(TEO, kind, "2026-04/BE", BELLOWS), NOON) for kind in (LetterKind.READING, LetterKind.READING_AGAIN)
    )
    assert [each for each in due([BELLOWS], now, ledger) if each.period == "2026-04/BE"] == []


def test_who_takes_no_letters_is_not_asked_but_the_keeper_is() -> None:
    silent = replace(PIET, letter_weekday=None)
    by_key = {person.key: person for person in (INES, silent, TEO)}
    assert who_reads(DRIVEN.vehicle, GARAGE, by_key) == (TEO,)
    assert kinds(due([DRIVEN], people=(INES, silent, TEO))) == [("teo", LetterKind.READING)]
    orphan = replace(DRIVEN.vehicle, keeper="gone", drivers=("gone too",))
    assert who_reads(orphan, GARAGE, by_key) == (INES,), "who keeps the list answers for what nobody keeps"
    assert who_reads(orphan, replace(GARAGE, list_keeper=""), by_key) == ()


def test_a_vehicle_that_was_read_asks_nobody() -> None:
    assert due([replace(DRIVEN, wanted=None)]) == ()


def test_each_driver_is_asked_at_their_own_hour() -> None:
    late = replace(PIET, letter_hour=18)
    both = replace(DRIVEN, vehicle=replace(DRIVEN.vehicle, drivers=("piet", "ines")))
    both = replace(both, wanted=ReadingWanted("odometer", TODAY, None, None))
    people = (INES, late, TEO)
    assert kinds(due([both], NOON, people=people)) == [("ines", LetterKind.READING)]
    assert kinds(due([both], NOON + timedelta(hours=7), people=people))[:1] == [("piet", LetterKind.READING)]


# Past late


def test_past_late_is_told_to_the_keeper_once_for_each_interval() -> None:
    (told,) = due([RAFT])
    assert (told.person, told.kind, len(told.services)) == (INES, LetterKind.PAST_LATE, 1)
    ledger = periods_known([place(told, NOON)])
    for days in range(0, 400, 50):
        assert due([RAFT], NOON + days * DAY, ledger) == ()
    # Its dates move with every reading, and it is the same interval; work ends it.
    done = replace(RAFT, lines=(replace(RAFT_COUPLING, last_done_on=date(2026, 5, 1)),))
    assert kinds(due([done], NOON + 400 * DAY, ledger)) == [("ines", LetterKind.PAST_LATE)]


def test_what_is_past_late_on_one_day_is_told_in_one_letter_and_each_is_remembered() -> None:
    second = replace(RAFT_COUPLING, key=RAFT_COUPLING.key._replace(service="wheel-bearings"))
    raft = replace(RAFT, lines=(*RAFT.lines, second))
    (told,) = due([raft])
    assert len(told.services) == 2
    assert len({told.period, *told.with_it}) == 2
    ledger = periods_known([place(told, NOON), place(replace(told, period=told.with_it[0]), NOON)])
    assert due([raft], NOON, ledger) == ()


def test_nothing_is_told_in_quiet_hours_nor_to_who_takes_no_letters() -> None:
    night = datetime(2026, 4, 14, 2, tzinfo=UTC)  # four in the morning in Berlin
    assert due([RAFT], night) == ()
    awake = replace(INES, quiet_from=0, quiet_until=0)
    assert kinds(due([RAFT], night, people=(awake, TEO))) == [("ines", LetterKind.PAST_LATE)]
    assert due([RAFT], people=(replace(INES, letter_weekday=None), TEO)) == ()


@pytest.mark.parametrize(
    ("quiet", "hours"),
    [((21, 7), {21, 22, 23, 0, 1, 2, 3, 4, 5, 6}), ((1, 3), {1, 2}), ((0, 0), set()), ((9, 9), set())],
)
def test_quiet_hours_are_of_the_persons_own_day_first_in_last_out(quiet: tuple[int, int], hours: set[int]) -> None:
    person = replace(TEO, zone="Asia/Kathmandu", quiet_from=quiet[0], quiet_until=quiet[1])
    zone = ZoneInfo("Asia/Kathmandu")
    found = {h for h in range(24) if is_quiet(person, datetime.combine(TODAY, time(h, 59), zone))}
    assert found == hours


# Findings


def found(text: str, on: date, by: str, look: date | None = date(2026, 5, 1)) -> WorkDone:
    return WorkDone(ANVIL.lines[0].key, on, by=by, findings=(Finding(text, look),))


def test_a_finding_is_told_to_the_keeper_unless_it_is_their_own() -> None:
    news = found("weep at the rear seal", TODAY, "teo")
    (told,) = due([ANVIL], work=[news])
    assert (told.person, told.kind, told.names) == (INES, LetterKind.FINDING, ("Teo",))
    assert due([ANVIL], work=[news], ledger=periods_known([place(told, NOON)])) == ()
    assert due([ANVIL], work=[found("weep", TODAY, "ines")]) == ()
    assert due([ANVIL], work=[found("weep", TODAY, "Ines Calloway")]) == ()


def test_a_finding_keeps_its_name_when_it_is_brought_in_again() -> None:
    news = found("weep at the rear seal", TODAY, "teo")
    (told,) = due([ANVIL], work=[news])
    (again,) = due([ANVIL], work=[replace(news, id=77)])
    assert again.period == told.period


@pytest.mark.parametrize(
    "work",
    [
        found("weep", TODAY - timedelta(days=15), "teo"),
        found("weep", TODAY + DAY, "teo"),
        found("grey paste, fine", TODAY, "teo", look=None),
        replace(found("x", TODAY, "teo"), findings=(Finding("x", TODAY, settled_on=TODAY),)),
        *WORK,
    ],
)
def test_what_is_old_or_settled_or_wants_no_second_look_is_no_news(work: WorkDone) -> None:
    assert [each for each in due(ALL, work=[work]) if each.kind is LetterKind.FINDING] == []


# Letters that did not arrive


def lost(person: Person, state: DeliveryState = DeliveryState.FAILED, at: datetime = NOON - DAY) -> LetterPlace:
    return place(Wanted(person, LetterKind.GARAGE, "2026-W15"), at, state)


def lost_due(*letters: LetterPlace, ledger: Ledger | None = None, now: datetime = NOON) -> tuple[Wanted, ...]:
    return lost_letters_due(garage=GARAGE, people=EVERYBODY, lost=letters, ledger=ledger or {}, now=now)


def test_lost_letters_are_told_to_who_keeps_the_list_in_one_letter_and_each_once() -> None:
    first = lost(TEO)
    (told,) = lost_due(first, lost(PIET, DeliveryState.EXPIRED))
    assert (told.person, told.kind, len(told.lost), len(told.with_it)) == (INES, LetterKind.NOT_DELIVERED, 2, 1)
    ledger = periods_known([place(told, NOON), place(replace(told, period=told.with_it[0]), NOON)])
    assert lost_due(first, lost(PIET, DeliveryState.EXPIRED), ledger=ledger) == ()
    later = replace(first, period="2026-W16")
    (more,) = lost_due(first, later, ledger=ledger)
    assert more.lost == (later,)


def test_the_list_keepers_own_lost_letters_start_no_circle() -> None:
    assert lost_due(lost(INES)) == ()
    assert lost_due(replace(lost(TEO), kind=LetterKind.NOT_DELIVERED)) == ()
    assert lost_due(replace(lost(TEO), kind=LetterKind.COME_IN)) == (), "who asked for it asks again"
    assert lost_due(lost(TEO), now=datetime(2026, 4, 14, 2, tzinfo=UTC)) == (), "not at night"


# What the next letter says of those before


def missed(*letters: LetterPlace) -> str:
    return missed_sentence(TEO, "2026-W16", letters, TODAY)


def garage_row(period: str, at: datetime, state: DeliveryState = DeliveryState.SENT) -> LetterPlace:
    return place(Wanted(TEO, LetterKind.GARAGE, period), at, state)


def test_a_letter_says_that_the_one_before_did_not_get_through() -> None:
    week = garage_row("2026-W14", NOON - 14 * DAY)
    expired = garage_row("2026-W15", NOON - 7 * DAY, DeliveryState.EXPIRED)
    asked = replace(expired, kind=LetterKind.READING, period="2026-04/BE", decided_at=NOON - 5 * DAY)
    assert missed(week) == "No letter was written last week; this one has what came up since."
    assert missed(week, expired) == (
        "The letter of 7 April did not get through; what still holds of it is in this one."
    )
    assert missed(week, expired, asked).startswith("Two letters to you did not get through")
    arrived = replace(asked, state=DeliveryState.SENT, decided_at=NOON - DAY)
    assert missed(week, expired, arrived) == "", "one that arrived since said it already"
    assert missed(week, replace(expired, kind=LetterKind.COME_IN)).startswith("No letter was written last week")


def test_weeks_without_a_letter_are_counted_across_the_new_year() -> None:
    assert missed() == "", "the first letter there is has nothing to make good"
    assert missed(garage_row("2026-W15", NOON - 7 * DAY, DeliveryState.NOTHING)) == ""
    assert "in the three weeks before" in missed(garage_row("2026-W12", NOON - 28 * DAY))
    assert "in the 15 weeks before" in missed(garage_row("2025-W52", NOON - 112 * DAY))
    assert missed(replace(garage_row("2026-W15", NOON - 7 * DAY), period="by hand 2026-04-07T00:00:00Z")) == ""


def test_roles_play_no_part_in_who_answers_for_a_vehicle() -> None:
    onlooker = replace(TEO, roles=(Role.DRIVER,))
    assert kinds(due([BELLOWS], people=(INES, onlooker))) == [("teo", LetterKind.READING)]
