"""A sheet and its bay visit follow each other: in the plan, in calendars and in letters."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from fleetcare.actions.hand_in_sheet import Filling, hand_in
from fleetcare.actions.links import make_key, publish_feed
from fleetcare.actions.order_work import (
    Opening,
    abandon_order,
    begin_stage,
    defer_order,
    leave_standing,
    open_order,
    start_order,
)
from fleetcare.actions.plan_visits import Wanted, move_visit, plan_visit, set_visit
from fleetcare.actions.put_back_sheet import put_back_sheet
from fleetcare.actions.write_letters import write_due_letters
from fleetcare.digest.values import LetterKind
from fleetcare.errors import BadInput, BadStep, NotFound
from fleetcare.fleet.access import Purpose
from fleetcare.fleet.bay_visit import BayVisit, StretchKind, VisitState
from fleetcare.settings.finding_files import load_findings
from fleetcare.settings.places import SHIPPED_FINDINGS, shipped_config
from fleetcare.work.order import OrderState, WorkOrder
from tests.actions.garages import BASE_URL, DEMO_NOW, SHOP, Stage, demo
from tests.calendar_feed.raw_feed import unfolded

ZONE = ZoneInfo("America/Denver")
SATURDAY = datetime(2026, 4, 25, 15, tzinfo=UTC)
"""Nine in the morning in the demo's zone, when Anvil's cover is to be resealed."""
FINDINGS = load_findings(shipped_config() / SHIPPED_FINDINGS)


def sheet_of_visit(stage: Stage, number: int = 1) -> WorkOrder:
    """The sheet of one of Anvil's visits in the demo."""
    given = Opening("Anvil", (), visit=number)
    return open_order(stage.store, stage.rules, given, now=DEMO_NOW, who="ines", base_url=BASE_URL)


def visit(stage: Stage, number: int = 1) -> BayVisit:
    with stage.store.read() as view:
        return next(each for each in view.bay_visits(("AN",)) if each.number == number)


def order(stage: Stage, number: int) -> WorkOrder:
    with stage.store.read() as view:
        found = view.order(number)
    assert found is not None
    return found


def begun(stage: Stage, sheet: int, at: datetime = SATURDAY) -> WorkOrder:
    return start_order(stage.store, stage.rules, sheet, now=at, who="ines", shop=SHOP)


def test_a_sheet_made_from_a_visit_takes_its_services_its_day_and_its_hands() -> None:
    stage = demo()
    made = sheet_of_visit(stage)
    assert made.lines == visit(stage).lines
    assert made.planned_on == date(2026, 4, 25)
    assert made.mechanics == ("ines",)
    assert made.visit == 1
    with pytest.raises(BadStep, match="stands on sheet 0001 already"):
        sheet_of_visit(stage)
    with pytest.raises(NotFound, match="visit of Anvil"):
        sheet_of_visit(stage, 99)


def test_a_visit_without_a_length_takes_what_the_jobs_take() -> None:
    stage = demo()
    wanted = Wanted("Anvil", ("rear axle fluid",), date(2026, 8, 1), time(9), ())
    made = plan_visit(
        stage.store, stage.rules, wanted, jobs=SHOP.jobs, who="ines", now=DEMO_NOW, base_url=BASE_URL
    ).visit
    # Hand-tight for an hour, then a day by the label before it is filled (common practice, no source).
    stands = [each.lasts for each in made.stretches if each.kind is StretchKind.STANDING]
    assert timedelta(hours=1) in stands
    assert max(stands) >= timedelta(hours=24)
    with pytest.raises(BadInput, match="has no job for that"):
        plan_visit(
            stage.store,
            stage.rules,
            Wanted("Lantern", ("door runners",), date(2026, 8, 1), time(9), ()),
            jobs=replace(SHOP.jobs, jobs={}),
            who="ines",
            now=DEMO_NOW,
            base_url=BASE_URL,
        )


def test_a_sheet_begun_late_moves_its_visit_and_a_stage_begun_late_what_follows() -> None:
    stage = demo()
    made = sheet_of_visit(stage)
    late = SATURDAY + timedelta(hours=2)
    begun(stage, made.number, late)
    first = visit(stage)
    assert first.begins_at == late
    stands = next(each for each in first.stretches if each.kind is StretchKind.STANDING and each.lasts.days)
    # The sealant was put on four hours later than it could have been, so the cure ends as much later.
    four_later = stands.begins_at + timedelta(hours=4)
    job = next(key for key, each in SHOP.jobs.jobs.items() if any(stage_.key == "cure" for stage_ in each.stages))
    begin_stage(stage.store, stage.rules, made.number, job=job, stage="cure", now=four_later, who="ines", shop=SHOP)
    assert visit(stage).free_at >= first.free_at + timedelta(hours=3)
    assert visit(stage).stretches[0].begins_at == late


def test_the_calendar_says_which_sheet_and_moves_with_it() -> None:
    stage = demo()
    feed_of(stage)
    made = sheet_of_visit(stage)
    body = feed_of(stage)
    assert "Sheet 0001." in body
    assert f"{BASE_URL}/work/1" in body
    before = entry(body, "Anvil in the bay again")
    begun(stage, made.number, SATURDAY + timedelta(hours=3))
    after = entry(feed_of(stage), "Anvil in the bay again")
    assert after["UID"] == before["UID"]
    assert int(after["SEQUENCE"]) > int(before["SEQUENCE"])
    assert after["DTSTART"] > before["DTSTART"]


def feed_of(stage: Stage) -> str:
    """Ines's calendar as it is stored, as text; made when it is first asked for."""
    with stage.store.read() as view:
        known = view.feed("ines")
    if known is not None:
        return "\n".join(unfolded(known.body))
    make_key(stage.store, stage.keys, now=DEMO_NOW, who="test", purpose=Purpose.FEED, person="ines")
    return "\n".join(unfolded(publish_feed(stage.store, stage.rules, "ines", now=DEMO_NOW, base_url=BASE_URL)))


def entry(body: str, title: str) -> dict[str, str]:
    """Properties of the event with that title, parameters left off."""
    event = next(each for each in body.split("BEGIN:VEVENT") if f"SUMMARY:{title}" in each)
    pairs = (line.partition(":") for line in event.splitlines() if ":" in line)
    return {name.partition(";")[0]: value for name, _, value in pairs}


def test_a_next_hand_that_comes_to_lie_on_another_day_is_told_once() -> None:
    stage = demo()
    made = sheet_of_visit(stage)
    begun(stage, made.number)
    # Nobody knows before the evening that it has to stand a day longer.
    evening = SATURDAY + timedelta(hours=4)
    leave_standing(
        stage.store, stage.rules, made.number, until=SATURDAY + timedelta(days=2), now=evening, who="ines", shop=SHOP
    )
    assert visit(stage).hands_moved_from == date(2026, 4, 26)
    told: list[LetterKind] = []
    for minutes in (1, 2):
        write_due_letters(
            stage.store, stage.rules, stage.desk, now=evening + timedelta(minutes=minutes), with_requests=True
        )
        with stage.store.read() as view:
            told = [each.kind for each in view.deliveries() if each.kind is LetterKind.BAY_DAY_MOVED]
    assert told == [LetterKind.BAY_DAY_MOVED]


def test_closing_a_sheet_ends_its_visit_and_putting_it_back_takes_it_up_again() -> None:
    stage = demo()
    made = sheet_of_visit(stage)
    begun(stage, made.number)
    done_at = SATURDAY + timedelta(hours=1)
    hand_in(stage.store, stage.rules, FINDINGS, made.number, Filling(), now=done_at, who="ines", base_url=BASE_URL)
    assert visit(stage).free_at == done_at
    assert visit(stage).takes_place
    put_back_sheet(stage.store, stage.rules, made.number, now=done_at, who="ines", shop=SHOP)
    assert visit(stage).free_at > done_at + timedelta(hours=24)


@pytest.mark.parametrize("has_begun", [False, True])
@pytest.mark.parametrize("how", ["deferred", "given up"])
def test_a_sheet_put_off_or_given_up_frees_the_bay(has_begun: bool, how: str) -> None:
    stage = demo()
    made = sheet_of_visit(stage)
    now = DEMO_NOW
    if has_begun:
        begun(stage, made.number)
        now = SATURDAY + timedelta(hours=1)
    if how == "deferred":
        defer_order(
            stage.store, stage.rules, made.number, until=date(2026, 6, 1), reason="no sealant", now=now, who="ines",
            shop=SHOP,
        )  # fmt: skip
    else:
        abandon_order(stage.store, stage.rules, made.number, reason="sold", now=now, who="ines", shop=SHOP)
    if has_begun:
        assert visit(stage).free_at == now
    else:
        assert visit(stage).state is VisitState.RUBBED_OUT


def test_a_planned_sheet_goes_where_its_visit_goes() -> None:
    stage = demo()
    made = sheet_of_visit(stage)
    move_visit(
        stage.store, stage.rules, vehicle="Anvil", number=1, on=date(2026, 5, 9), at=time(9), who="ines", now=DEMO_NOW,
        base_url=BASE_URL,
    )  # fmt: skip
    assert order(stage, made.number).planned_on == date(2026, 5, 9)
    set_visit(
        stage.store, stage.rules, vehicle="Anvil", number=1, state=VisitState.RUBBED_OUT, who="ines", now=DEMO_NOW,
        base_url=BASE_URL,
    )  # fmt: skip
    left = order(stage, made.number)
    assert (left.planned_on, left.visit, left.state) == (None, 0, OrderState.PLANNED)
    # Put back, it is the sheet of that visit again.
    set_visit(
        stage.store, stage.rules, vehicle="Anvil", number=1, state=VisitState.INKED, who="ines", now=DEMO_NOW,
        base_url=BASE_URL,
    )  # fmt: skip
    again = order(stage, made.number)
    assert (again.planned_on, again.visit) == (date(2026, 5, 9), 1)


def test_a_sheet_planned_without_a_visit_stands_in_calendars_for_the_day() -> None:
    stage = demo()
    feed_of(stage)
    given = Opening("Lantern", ("engine oil",), planned_on=date(2026, 5, 20))
    made = open_order(stage.store, stage.rules, given, now=DEMO_NOW, who="ines", base_url=BASE_URL)
    found = entry(feed_of(stage), f"Lantern in the bay\\, sheet {made.sheet}")
    assert found["DTSTART"] == "20260520"
    abandon_order(stage.store, stage.rules, made.number, reason="sold", now=DEMO_NOW, who="ines", shop=SHOP)
    assert f"sheet {made.sheet}" not in feed_of(stage)
