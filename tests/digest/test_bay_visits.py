"""Who is told of a bay day, when, and in which words; each is told once for the day it is on."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from fleetcare.digest.bay_visits import bay_days_of, bay_letters_due, notice_of
from fleetcare.digest.letters_due import Ledger, Wanted
from fleetcare.digest.values import LetterKind
from fleetcare.fleet.bay_visit import BayVisit, VisitState, moved_to
from fleetcare.fleet.people import Garage, Person, Role
from fleetcare.quantities import DistanceUnit
from tests.calendar_feed.bay import SATURDAY, ZONE, visit
from tests.calendar_feed.garage import karst_ridge

GARAGE = Garage("Karst Ridge Motor Club", "America/Denver", DistanceUnit.MI, "id", "ines")
INES = Person(
    "ines", "Ines Calloway", "ines@karstridge.example", "America/Denver", DistanceUnit.MI, (Role.KEEPER,), 1, 7
)
TEO = replace(INES, key="teo", name="Teo Lindqvist", mail="teo@karstridge.example")
ANVIL = karst_ridge()[0]
BY_TEO = visit(mechanic="teo")
THURSDAY_SEVEN = datetime(2026, 4, 23, 7, tzinfo=ZONE)


def due(
    of: BayVisit, now: datetime, ledger: Ledger | None = None, people: tuple[Person, ...] = (INES, TEO)
) -> list[Wanted]:
    return list(bay_letters_due([of], garage=GARAGE, people=people, outlooks=[ANVIL], ledger=ledger or {}, now=now))


def told(found: list[Wanted]) -> list[tuple[str, LetterKind, str]]:
    return [(each.person.key, each.kind, each.period) for each in found]


def test_what_a_notice_says_of_a_reseal() -> None:
    notice = notice_of(visit(), ANVIL, ZONE)
    assert notice.starts_at == SATURDAY
    assert notice.starts_at.hour == 9
    assert notice.hands_on_minutes == 140
    assert notice.then == "Then it stands 25 h; Sunday 12:20 another 1 h 20; free Sunday 13:40."
    assert notice_of(visit(stretches=visit().stretches[:1]), ANVIL, ZONE).then == ""


def test_the_mechanic_is_told_from_two_days_before_at_the_hour_chosen_and_nobody_else() -> None:
    assert due(BY_TEO, THURSDAY_SEVEN - timedelta(minutes=1)) == []
    assert told(due(BY_TEO, THURSDAY_SEVEN)) == [("teo", LetterKind.BAY_DAY, "AN/1 on 2026-04-25")]
    assert due(BY_TEO, SATURDAY) == []


def test_nobody_is_told_twice_or_of_what_will_not_be() -> None:
    (wanted,) = due(BY_TEO, THURSDAY_SEVEN)
    there: Ledger = {(wanted.person.key, wanted.kind, wanted.period): None}  # type: ignore[dict-item]
    assert due(BY_TEO, THURSDAY_SEVEN, there) == []
    assert due(replace(BY_TEO, state=VisitState.RUBBED_OUT), THURSDAY_SEVEN) == []
    assert due(replace(BY_TEO, mechanic=""), THURSDAY_SEVEN) == []
    no_letters = replace(TEO, letter_weekday=None)
    assert due(BY_TEO, THURSDAY_SEVEN, people=(INES, no_letters)) == []


def test_a_day_that_was_inked_and_moved_is_told_to_mechanic_and_keeper_for_the_day_it_is_on_now() -> None:
    moved = replace(
        BY_TEO,
        stretches=moved_to(BY_TEO.stretches, SATURDAY + timedelta(days=14)),
        moved_from=date(2026, 4, 25),
    )
    noon = datetime(2026, 4, 14, 12, tzinfo=ZoneInfo("America/Denver"))
    kind, period = LetterKind.BAY_DAY_MOVED, "AN/1 on 2026-05-09"
    assert told(due(moved, noon)) == [("teo", kind, period), ("ines", kind, period)]
    back = replace(moved, stretches=BY_TEO.stretches)
    assert due(back, noon) == []


def test_the_weekly_letter_names_the_bay_days_of_two_weeks() -> None:
    later = visit(number=2, mechanic="teo", stretches=moved_to(visit().stretches, SATURDAY + timedelta(days=30)))
    found = bay_days_of(TEO, (later, BY_TEO), {"AN": ANVIL}, zone=ZONE, now=THURSDAY_SEVEN)
    assert [notice.key for notice in found] == ["AN/1"]
    assert bay_days_of(INES, (later, BY_TEO), {"AN": ANVIL}, zone=ZONE, now=THURSDAY_SEVEN) == ()
