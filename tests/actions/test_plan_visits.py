"""A person puts a visit to the bay down, moves it, inks it and rubs it out, and calendars follow at once."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from fleetcare.actions.close_work import close_work
from fleetcare.actions.links import feed_addresses, make_key, publish_feed
from fleetcare.actions.plan_visits import Planned, Wanted, move_visit, plan_visit, set_visit, visits_ahead
from fleetcare.actions.ports import Change, Purpose
from fleetcare.actions.write_letters import write_due_letters, write_garage_letter
from fleetcare.digest.values import LetterKind
from fleetcare.errors import BadInput, Clash, NotFound
from fleetcare.fleet.access import BAY
from fleetcare.fleet.bay_visit import StretchKind, VisitState
from fleetcare.language import speaking
from fleetcare.settings.catalogues import tongue_of
from tests.actions.garages import BASE_URL, DEMO_NOW, SHOP, Stage, demo

HANDS, STANDS = StretchKind.HANDS_ON, StretchKind.STANDING
DENVER = ZoneInfo("America/Denver")
NEXT_DAY = date(2026, 6, 20)
OIL = Wanted("Anvil", ("engine oil",), NEXT_DAY, time(9), ((HANDS, timedelta(hours=1)),), mechanic="Ines")


@pytest.fixture
def stage() -> Stage:
    """The demo, in which nobody has planned anything."""
    made = demo()
    with made.store.write(Change("test", "an empty plan", DEMO_NOW)) as unit:
        for visit in unit.bay_visits():
            unit.put_bay_visit(replace(visit, state=VisitState.RUBBED_OUT))
    return made


def planned(stage: Stage, **changes: Any) -> Planned:
    wanted = replace(OIL, **changes)
    return plan_visit(stage.store, stage.rules, wanted, jobs=SHOP.jobs, who="ines", now=DEMO_NOW, base_url=BASE_URL)


def inked(stage: Stage, state: VisitState, number: int, vehicle: str = "AN") -> Planned:
    return set_visit(
        stage.store,
        stage.rules,
        vehicle=vehicle,
        number=number,
        state=state,
        who="ines",
        now=DEMO_NOW,
        base_url=BASE_URL,
    )


def feed(stage: Stage, person: str = "", mark: str = "") -> str:
    return publish_feed(stage.store, stage.rules, person, mark=mark, now=DEMO_NOW, base_url=BASE_URL).decode()


def test_a_visit_begins_at_the_time_of_the_garage_and_its_number_follows_those_rubbed_out(stage: Stage) -> None:
    visit = planned(stage).visit
    assert visit.begins_at == datetime(2026, 6, 20, 9, tzinfo=DENVER)
    assert visit.state is VisitState.INKED
    assert visit.mechanic == "ines"
    assert visit.number == 3  # the demo's plan had two for Anvil
    assert [str(line) for line in visit.lines] == ["AN/engine/engine-oil"]


def test_it_is_in_every_calendar_it_concerns(stage: Stage) -> None:
    planned(stage, services=("rear axle fluid",), parts=((HANDS, timedelta(hours=2)), (STANDS, timedelta(hours=24))))
    mine, taken, bay, all_of_it = feed(stage, "ines"), feed(stage, mark="AN"), feed(stage, mark=BAY), feed(stage)
    assert "SUMMARY:Anvil in the bay\\, 2 h\r\n" in mine
    assert "SUMMARY:Anvil stands until Sun 11:00" in mine
    assert "SUMMARY:Anvil taken" in taken
    assert "DTSTART:20260620T150000Z\r\nDTEND:20260621T170000Z" in taken
    assert "SUMMARY:Bay taken" in bay
    assert "Ines" not in all_of_it
    assert "Anvil in the bay" in all_of_it


def test_a_calendar_that_is_fetched_follows_in_the_same_write(stage: Stage) -> None:
    make_key(stage.store, stage.keys, now=DEMO_NOW, who="test", purpose=Purpose.FEED, mark=BAY)
    feed(stage, mark=BAY)
    planned(stage)
    with stage.store.read() as view:
        body = view.feed("", BAY)
    assert body is not None
    assert b"SUMMARY:Bay taken" in body.body
    assert len(feed_addresses(stage.store, now=DEMO_NOW, mark=BAY)) == 1


def test_pencilled_then_inked_then_rubbed_out(stage: Stage) -> None:
    number = planned(stage, inked=False).visit.number
    assert "in the bay\\, 1 h\\, pencilled" in feed(stage, "ines")
    assert inked(stage, VisitState.INKED, number).visit.state is VisitState.INKED
    assert "STATUS:TENTATIVE" not in feed(stage, "ines")
    inked(stage, VisitState.RUBBED_OUT, number)
    assert "in the bay" not in feed(stage, "ines")
    assert planned(stage).visit.number == number + 1
    with stage.store.read() as view:
        told = [(entry.before, entry.after) for entry in view.log("AN") if entry.what == "visit to the bay"]
    assert len(told) == 4
    assert told[1][1].startswith("rubbed out, 2026-06-20 09:00")


def test_moved_it_keeps_its_number_and_its_waits(stage: Stage) -> None:
    number = planned(stage, parts=((HANDS, timedelta(hours=1)), (STANDS, timedelta(hours=12)))).visit.number
    moved = move_visit(
        stage.store,
        stage.rules,
        vehicle="Anvil",
        number=number,
        on=NEXT_DAY + timedelta(days=7),
        at=time(10, 30),
        who="ines",
        now=DEMO_NOW,
        base_url=BASE_URL,
    ).visit
    assert moved.number == number
    assert moved.begins_at == datetime(2026, 6, 27, 10, 30, tzinfo=DENVER)
    assert moved.free_at - moved.begins_at == timedelta(hours=13)


def test_a_vehicle_is_not_in_the_bay_twice_and_nothing_is_changed(stage: Stage) -> None:
    planned(stage)
    with stage.store.read() as view:
        before = view.version()
    with pytest.raises(Clash, match="in the bay already"):
        planned(stage, at=time(9, 30))
    with stage.store.read() as view:
        assert view.version() == before
    planned(stage, at=time(10))  # the moment the first one is over


def test_what_is_worth_knowing_is_said_and_stops_nothing(stage: Stage) -> None:
    planned(stage)
    other = planned(stage, vehicle="Raft", services=("coupling/coupling",), at=time(9, 30))
    assert "Anvil is in the bay then as well." in other.notices
    assert "The same hands are asked for by Anvil then." in other.notices
    with speaking(tongue_of("de")):
        said = visits_ahead(stage.store, stage.rules, now=DEMO_NOW).notices[other.visit.key]
    assert "Anvil steht dann auch auf dem Werkstattplatz." in said
    assert any("late date" in notice for notice in other.notices)  # Raft's coupling is past late
    again = planned(stage, vehicle="Raft", services=("coupling/coupling",), at=time(13))
    assert any(f"visit {other.visit.number} does it as well." in notice for notice in again.notices)
    assert planned(stage, on=date(2026, 4, 13)).notices[0].startswith("That time is over.")
    spoken_for = planned(stage, on=date(2026, 5, 2))  # the hill climb
    assert any("Hollow Lake" in notice for notice in spoken_for.notices)


@pytest.mark.parametrize(
    ("changes", "error"),
    [
        ({"vehicle": "Anvyl"}, NotFound),
        ({"services": ("no such",)}, NotFound),
        ({"mechanic": "nobody"}, NotFound),
        ({"services": ()}, BadInput),
        ({"parts": ((STANDS, timedelta(hours=1)),)}, BadInput),
        # 8 March 2026, 2:30: the clock goes from 2:00 to 3:00 in Denver (tz database), a year later on 14 March.
        ({"on": date(2027, 3, 14), "at": time(2, 30)}, BadInput),
    ],
)
def test_what_cannot_be_is_refused_and_changes_nothing(
    stage: Stage, changes: dict[str, Any], error: type[Exception]
) -> None:
    with stage.store.read() as view:
        before = view.version()
    with pytest.raises(error):
        planned(stage, **changes)
    with stage.store.read() as view:
        assert view.version() == before


def test_a_visit_that_is_not_there_is_named(stage: Stage) -> None:
    with pytest.raises(NotFound):
        inked(stage, VisitState.INKED, 77)


def test_work_done_sooner_leaves_the_plan_and_the_rest_of_the_visit_stays(stage: Stage) -> None:
    both = planned(stage, services=("engine oil", "rear axle fluid")).visit
    alone = planned(stage, vehicle="Pocket", services=("engine oil",)).visit

    def done(vehicle: str) -> None:
        close_work(
            stage.store,
            stage.rules,
            now=DEMO_NOW,
            base_url=BASE_URL,
            who="ines",
            vehicle_name=vehicle,
            service="engine oil",
            on=date(2026, 4, 13),
        )

    done("Anvil")
    done("Pocket")
    with stage.store.read() as view:
        after = {visit.key: visit for visit in view.bay_visits()}
    assert [line.service for line in after[both.key].lines] == ["rear-axle-fluid"]
    assert after[alone.key].state is VisitState.RUBBED_OUT
    assert "Pocket in the bay" not in feed(stage, "noor")


def test_the_list_ahead_holds_what_is_not_over_by_begin(stage: Stage) -> None:
    later = planned(stage, on=NEXT_DAY + timedelta(days=30)).visit
    sooner = planned(stage).visit
    ahead = visits_ahead(stage.store, stage.rules, now=DEMO_NOW)
    assert [visit.key for visit in ahead.visits] == [sooner.key, later.key]
    assert visits_ahead(stage.store, stage.rules, now=later.free_at).visits == ()


def letters(stage: Stage, kind: LetterKind) -> list[tuple[str, str]]:
    """To whom letters of that kind were written, and their subjects."""
    write_due_letters(stage.store, stage.rules, stage.desk, now=DEMO_NOW)
    with stage.store.read() as view:
        return [(each.person, each.subject) for each in view.deliveries() if each.kind is kind]


def test_two_days_ahead_the_mechanic_gets_a_letter_once() -> None:
    """In the demo, Raft is in the bay on Thursday 16 April, and it is Tuesday, nine o'clock."""
    stage = demo()
    expected = [("ines", "You in the bay on Thursday: Raft")]
    assert letters(stage, LetterKind.BAY_DAY) == expected
    assert letters(stage, LetterKind.BAY_DAY) == expected
    weekly = write_garage_letter(stage.store, stage.rules, stage.desk, "ines", now=DEMO_NOW)
    assert weekly is not None
    assert "Thursday 16 April, 18:00. Hands-on 50 min." in " ".join(weekly.plain.split())
    assert "then it stands 25 h" in weekly.plain.casefold().replace("\n", " ")


def test_an_inked_day_that_moves_is_told_and_a_pencilled_one_is_not(stage: Stage) -> None:
    inked_one = planned(stage, mechanic="Teo").visit
    pencilled = planned(stage, vehicle="Pocket", inked=False, mechanic="Teo").visit
    for visit in (inked_one, pencilled):
        move_visit(
            stage.store,
            stage.rules,
            vehicle=visit.mark,
            number=visit.number,
            on=date(2026, 6, 27),
            at=time(9),
            who="ines",
            now=DEMO_NOW,
            base_url=BASE_URL,
        )
    moved = "Anvil’s bay day moved: 27 June, was 20 June"
    assert sorted(letters(stage, LetterKind.BAY_DAY_MOVED)) == [("ines", moved), ("teo", moved)]


def test_a_day_that_a_visit_was_on_for_a_moment_is_nobodys_news(stage: Stage) -> None:
    """Moved and back before word went out, nobody hears of it; moved twice, it was on the day they had heard of."""
    made = planned(stage, mechanic="Teo").visit
    heard: list[tuple[str, str]] = []

    def moved(*days: int) -> list[tuple[str, str]]:
        for day in days:
            move_visit(
                stage.store,
                stage.rules,
                vehicle="Anvil",
                number=made.number,
                on=date(2026, 6, day),
                at=time(9),
                who="ines",
                now=DEMO_NOW,
                base_url=BASE_URL,
            )
        told = sorted(letters(stage, LetterKind.BAY_DAY_MOVED))
        new = [each for each in told if each not in heard]
        heard.extend(new)
        return new

    assert moved(27, 20) == []
    twice = "Anvil’s bay day moved: 21 June, was 20 June"
    assert moved(27, 21) == [("ines", twice), ("teo", twice)]
    on = "Anvil’s bay day moved: 28 June, was 21 June"
    assert moved(28) == [("ines", on), ("teo", on)]
    assert moved(29, 28) == []
