"""What a plan says of days whose bay is taken, keeps of what a person pencilled, and leaves alone beyond its time."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from fleetcare.actions.order_work import Opening, defer_order, open_order
from fleetcare.actions.plan_bays import Wish, propose
from fleetcare.actions.ports import Change
from fleetcare.actions.proposal import Proposal
from fleetcare.actions.weigh_days import weigh
from fleetcare.bayplan.explain import Forbidden
from fleetcare.bayplan.held_days import BayHolder
from fleetcare.bayplan.impossible import NoDayKind
from fleetcare.bayplan.plan_changes import Cause
from fleetcare.errors import BadInput
from fleetcare.fleet.bay_visit import BayVisit, Stretch, StretchKind, VisitState
from fleetcare.fleet.component import LineKey
from fleetcare.page.cards.bay_why import bay_why_told
from fleetcare.page.cards.no_day import trouble_sentences
from fleetcare.page.plan_data import days_data
from fleetcare.solvers.days import ExactDays, place_on_day
from tests.actions.garages import BASE_URL, DEMO_NOW, SHOP, Stage, demo
from tests.actions.test_plan_bays import DENVER, WORKPLACE, local_day, solve

SATURDAY = date(2026, 5, 30)
"""Two visits are pencilled for it in the demo."""


def write(stage: Stage, *visits: BayVisit) -> None:
    with stage.store.write(Change("ines", "by hand", DEMO_NOW)) as unit:
        for visit in visits:
            unit.put_bay_visit(visit)


def stored(stage: Stage) -> dict[tuple[str, int], BayVisit]:
    with stage.store.read() as view:
        return {each.key: each for each in view.bay_visits()}


def proposed(stage: Stage, horizon: int = 75, wish: Wish | None = None) -> Proposal:
    return propose(stage.store, stage.rules, WORKPLACE, solve, now=DEMO_NOW, horizon_days=horizon, wish=wish)


def pocket_stands_all_saturday(stage: Stage) -> BayVisit:
    """Inked: from Friday evening to Sunday night, most of it standing."""
    begins = datetime(2026, 5, 29, 23, 0, tzinfo=UTC)
    hands, stands = begins + timedelta(hours=1), begins + timedelta(hours=55)
    visit = BayVisit(
        "PO",
        9,
        (LineKey("PO", "belt", "drive-belt-look"),),
        (Stretch(StretchKind.HANDS_ON, begins, hands), Stretch(StretchKind.STANDING, hands, stands)),
        VisitState.INKED,
    )
    write(stage, visit)
    return visit


def test_a_day_on_which_an_inked_visit_holds_the_only_bay_names_that_visit() -> None:
    stage = demo()
    before = stored(stage)
    holder = pocket_stands_all_saturday(stage)
    told = weigh(stage.store, stage.rules, WORKPLACE, place_on_day, ExactDays(), vehicle="LA", number=1, now=DEMO_NOW)
    assert told.explained is not None
    day = (SATURDAY - told.day_0).days
    rules = {price.day: price.forbidden for price in told.explained.other_days}
    assert rules[day] is Forbidden.TAKEN
    assert told.held[SATURDAY] == (BayHolder("PO", 9, "Pocket"),)
    # A day with no open hours is still one on which nobody is there.
    assert rules[day - 1] is Forbidden.NOBODY
    said = bay_why_told(told.visit, told.outlook, told.explained, told.day_0, told.today, told.closed, told.held).cannot
    (taken_by,) = [each for each in said if each.startswith("The bay is taken: ")]
    assert "30 May to 31 May by Pocket (visit 9)" in taken_by
    (data,) = [
        each
        for each in days_data(told.explained.other_days, told.day_0, told.held)
        if each["day"] == SATURDAY.isoformat()
    ]
    assert (data["forbidden"], data["taken_by"]) == ("the bay is taken", ["PO/9"])
    with pytest.raises(BadInput, match=r"cannot come in on 30 May: the bay is taken by Pocket \(visit 9\)\."):
        proposed(stage, wish=Wish("LA", 1, SATURDAY))
    # And what was pencilled for that day moves for that reason, or goes.
    found = proposed(stage)
    assert local_day(before["AN", 2]) == local_day(before["BE", 1]) == SATURDAY
    causes = {(each.mark, each.number): each.cause for each in found.changes if each.was is not None and each.now}
    assert causes["AN", 2] is Cause.TAKEN
    assert holder in found.kept


def test_what_a_person_pencilled_and_has_no_dates_stays_in_the_plan_with_its_time() -> None:
    """Alone and beside what comes due; where it can have no day, it is left by name."""
    stage = demo()
    pencilled = stored(stage)["AN", 2]
    nuts, shaft = LineKey("AN", "wheels", "wheel-nuts-first"), LineKey("BE", "rear-axle", "axle-after-immersion")
    trailer = LineKey("RA", "wheels", "trailer-nuts-50")
    by_hand = [replace(pencilled, mark=line.mark, number=8, lines=(line,)) for line in (shaft, trailer)]
    write(stage, replace(pencilled, lines=(*pencilled.lines, nuts)), *by_hand)
    found = proposed(stage)
    undated = {line.key for each in found.outlooks.values() for line in each.lines if line.window is None}
    assert {nuts, shaft, trailer} <= undated
    placed = {line: visit for visit in found.visits for line in visit.lines}
    assert nuts in placed
    assert placed[trailer].hands_on >= timedelta(minutes=15)
    assert shaft in found.left
    assert found.barred[shaft].kind is NoDayKind.ALONE
    assert any("it fits on no day, even with nothing else planned" in each for each in trouble_sentences(found))
    closed = propose(stage.store, stage.rules, replace(WORKPLACE, hours=()), solve, now=DEMO_NOW, horizon_days=75)
    assert {nuts, shaft, trailer} <= set(closed.barred)


def test_what_does_not_come_due_and_leaves_its_visit_is_named() -> None:
    stage = demo()
    pencilled = stored(stage)["AN", 2]
    today = DEMO_NOW.astimezone(DENVER).date()
    first = proposed(stage)
    far = next(
        line.key
        for line in first.outlooks["AN"].lines
        if line.window is not None and line.window.early > today + timedelta(days=200)
    )
    early = replace(pencilled, stretches=next(v for v in first.visits if v.key == pencilled.key).stretches)
    write(stage, replace(early, lines=(*pencilled.lines, far)))
    found = proposed(stage)
    assert found.not_due == (far,)
    (said,) = [each for each in trouble_sentences(found) if "does not come due" in each]
    assert said.startswith("Anvil, ")
    assert first.not_due == ()


def test_a_visit_beyond_the_time_that_is_planned_stays_as_it_is() -> None:
    """Planned for a fortnight, nothing that is pencilled for next month goes because of it."""
    stage = demo()
    ahead = {key: each for key, each in stored(stage).items() if each.state is VisitState.PENCILLED}
    today = DEMO_NOW.astimezone(DENVER).date()
    beyond = {key for key, each in ahead.items() if local_day(each) > today + timedelta(days=14)}
    found = proposed(stage, 14)
    assert beyond
    placed = {line for each in found.visits for line in each.lines}
    for visit in found.gone:
        assert visit.key not in beyond or placed & set(visit.lines)
    assert ("LA", 2) in beyond
    assert ("LA", 2) not in {each.key for each in found.gone}


def test_what_a_sheet_was_put_off_to_is_not_planned_before_that_day() -> None:
    """The oil of Lantern waits for a filter by its sheet; put off beyond the time that is planned it is left alone."""
    oil = LineKey("LA", "engine", "engine-oil-shuttle")

    def days_of(stage: Stage) -> list[date]:
        return [local_day(visit) for visit in proposed(stage).visits if oil in visit.lines]

    def put_off(stage: Stage, until: date) -> None:
        given = Opening("LA", ("engine-oil-shuttle",))
        sheet = open_order(stage.store, stage.rules, given, now=DEMO_NOW, who="ines", base_url=BASE_URL).number
        defer_order(
            stage.store, stage.rules, sheet, until=until, reason="no filter", now=DEMO_NOW, who="ines", shop=SHOP
        )

    stage, june = demo(), date(2026, 6, 6)
    (first,) = days_of(stage)
    assert first < june
    put_off(stage, june)
    (later,) = days_of(stage)
    assert later >= june
    stage = demo()
    put_off(stage, date(2027, 1, 1))
    assert days_of(stage) == []
