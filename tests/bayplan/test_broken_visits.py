"""Pencilled visits that cannot be as they stand are found, and no others."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from fleetcare.bayplan.broken_visits import broken_visits
from fleetcare.bayplan.open_shifts import BAY, Taken
from fleetcare.bayplan.workshop import OpenHours
from fleetcare.fleet.bay_visit import BayVisit, Stretch, StretchKind, VisitState
from fleetcare.fleet.component import LineKey

TODAY = date(2026, 4, 14)
SATURDAY = datetime(2026, 4, 18, 9, tzinfo=UTC)
HOURS = (OpenHours((5, 6), 9 * 60, 13 * 60), OpenHours((5,), 13 * 60, 17 * 60))


def visit(mark: str, begins: datetime = SATURDAY, *hours: int, who: str = "ines", number: int = 1) -> BayVisit:
    """Hands-on and standing in turn, in hours; two of hands if none is said."""
    stretches = []
    for at, lasts in enumerate(hours or (2,)):
        ends = begins + timedelta(hours=lasts)
        stretches.append(Stretch(StretchKind.STANDING if at % 2 else StretchKind.HANDS_ON, begins, ends))
        begins = ends
    return BayVisit(mark, number, (LineKey(mark, "engine", f"oil-{number}"),), tuple(stretches), mechanic=who)


def broken(
    *visits: BayVisit,
    taken: tuple[Taken, ...] = (),
    settled: tuple[BayVisit, ...] = (),
    closed: tuple[date, ...] = (),
    mechanics: tuple[str, ...] = ("ines", "otto"),
    bays: int = 1,
) -> set[str]:
    found = broken_visits(
        visits,
        taken=taken,
        settled=settled,
        hours=HOURS,
        mechanics=mechanics,
        closed=closed,
        bays=bays,
        today=TODAY,
        zone=ZoneInfo("UTC"),
        days=60,
    )
    return {each.mark for each in found}


def test_a_visit_in_open_hours_with_a_free_bay_is_whole() -> None:
    assert broken(visit("AN"), visit("BE", SATURDAY + timedelta(hours=2))) == set()
    # From the morning into the afternoon, and standing from Saturday to Sunday.
    assert broken(visit("AN", SATURDAY, 8)) == set()
    assert broken(visit("AN", SATURDAY, 2, 23, 1)) == set()


def test_nobody_there_breaks_it() -> None:
    assert broken(visit("AN"), closed=(date(2026, 4, 18),)) == {"AN"}
    assert broken(visit("AN"), mechanics=("otto",)) == {"AN"}
    assert broken(visit("AN", SATURDAY, 9)) == {"AN"}, "an hour past closing"
    assert broken(visit("AN", SATURDAY + timedelta(days=2))) == {"AN"}, "a Monday"
    # Ends of a standing time may lie anywhere; the hand after it may not.
    assert broken(visit("AN", SATURDAY, 2, 30, 1)) == {"AN"}
    ill = Taken("ines", SATURDAY, SATURDAY + timedelta(hours=8))
    assert broken(visit("AN"), visit("BE", SATURDAY + timedelta(hours=4), who="otto"), taken=(ill,)) == {"AN"}


def test_what_begins_today_or_after_the_time_that_is_planned_is_left_to_people() -> None:
    assert broken(visit("AN", datetime(2026, 4, 14, 20, tzinfo=UTC))) == set()
    assert broken(visit("AN", SATURDAY + timedelta(days=400))) == set()


def test_a_vehicle_that_is_away_breaks_its_own_visit_alone() -> None:
    away = Taken("AN", SATURDAY + timedelta(hours=1), SATURDAY + timedelta(days=1))
    both = visit("AN"), visit("BE", SATURDAY + timedelta(hours=2))
    assert broken(*both, taken=(away,)) == {"AN"}
    back = Taken("AN", SATURDAY - timedelta(days=1), SATURDAY)
    assert broken(*both, taken=(back,)) == set()


def test_more_than_there_are_bays_breaks_what_is_pencilled() -> None:
    stands = visit("AN", SATURDAY, 1, 3, 1)
    meets = visit("BE", SATURDAY + timedelta(hours=2), 1, who="otto")
    assert broken(stands, meets) == {"AN", "BE"}
    assert broken(stands, meets, bays=2) == set()
    full = Taken(BAY, SATURDAY, SATURDAY + timedelta(hours=3), ("LA", 1))
    assert broken(meets, taken=(full,)) == {"BE"}
    assert broken(meets, taken=(full,), bays=2) == set()
    assert broken(stands, meets, taken=(full,), bays=2) == {"AN", "BE"}


def test_in_twice_on_a_day_or_for_what_is_inked_elsewhere_breaks_it() -> None:
    twice = visit("AN"), visit("AN", SATURDAY + timedelta(hours=4), number=2)
    assert broken(*twice) == {"AN"}
    inked = BayVisit("AN", 3, twice[0].lines, visit("AN", SATURDAY + timedelta(days=7)).stretches, VisitState.INKED)
    assert broken(twice[0], settled=(inked,)) == {"AN"}
    own = Taken("AN", inked.begins_at, inked.free_at, inked.key)
    assert broken(twice[0], taken=(own,)) == set()
    assert broken(visit("AN", SATURDAY + timedelta(days=7, hours=5)), taken=(own,)) == {"AN"}, "the same Saturday"
