"""A vehicle is laid up or let out: what is stored, logged and worked out, and what is refused."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from fleetcare.actions.check_promises import check_promises
from fleetcare.actions.lay_up import Given, LaidUp, lay_up, let_out, may_lay_up
from fleetcare.actions.look_ahead import look_ahead
from fleetcare.actions.ports import Change
from fleetcare.due.outlook import Cause, NoDate
from fleetcare.due.vehicle_state import UNTIL_FURTHER_NOTICE
from fleetcare.errors import BadInput, NotFound
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.meter.reading import Reading
from fleetcare.quantities import DateSpan, MeterUnit
from tests.actions.garages import BASE_URL, DEMO_NOW, Stage, demo, log_of
from tests.web.stored import everything

APRIL = date(2026, 4, 14)
SINCE, LAST = date(2026, 4, 1), date(2026, 5, 31)
"""Days in which no reading of Anvil moved: its last one is of 31 March."""


def lays_up(stage: Stage, first: date = SINCE, last: date | None = LAST, vehicle: str = "Anvil") -> LaidUp:
    given = Given(vehicle, first, last)
    return lay_up(stage.store, stage.rules, given, who="ines", now=DEMO_NOW, base_url=BASE_URL)


def lets_out(stage: Stage, on: date, vehicle: str = "AN") -> LaidUp:
    return let_out(stage.store, stage.rules, vehicle=vehicle, on=on, who="ines", now=DEMO_NOW, base_url=BASE_URL)


def anvil(stage: Stage) -> Vehicle:
    with stage.store.read() as view:
        return view.vehicles(("AN",))[0]


def test_a_spell_is_stored_logged_and_worked_out_in_one_write() -> None:
    stage = demo()
    with stage.store.read() as view:
        before = view.windows(("AN",))
    came = lays_up(stage)
    assert anvil(stage).laid_up == (DateSpan.of_days(SINCE, LAST),)
    assert came.spell == DateSpan.of_days(SINCE, LAST)
    (entry,) = log_of(stage.store, "laid up")
    assert (entry.subject, entry.before, entry.after) == ("AN", "", "2026-04-01 to 2026-05-31")
    assert entry.change.why == "laid up from 1 April 2026 to 31 May 2026"
    with stage.store.read() as view:
        after = view.windows(("AN",))
    moved = {key for key in after if after[key] != before[key]}
    assert moved == {each.line.key for each in came.settled.moved} != set()
    for key in moved:
        was, now = before[key], after[key]
        assert not isinstance(was, NoDate)
        assert not isinstance(now, NoDate)
        # A limit by date does not wait. One by distance waits for 61 days, or a fifth more if they are made up for in
        # winter, where the season has fewer running days.
        assert timedelta(0) <= now.likely - was.likely <= timedelta(days=74)
    assert any(
        (after[key].likely - before[key].likely).days > 50  # type: ignore[union-attr]
        for key in moved
    )
    assert check_promises(stage.store, stage.rules, now=DEMO_NOW).broken == ()


def test_the_same_spell_given_twice_counts_once() -> None:
    stage = demo()
    assert not lays_up(stage).known
    before = everything(stage.store)
    again = lays_up(stage, vehicle="an")
    assert again.known
    assert again.settled.moved == ()
    assert everything(stage.store) == before


def test_until_further_notice_its_dates_by_use_wait_and_letting_it_out_ends_the_spell() -> None:
    stage = demo()
    came = lays_up(stage, last=None)
    assert came.spell == DateSpan(SINCE, UNTIL_FURTHER_NOTICE)
    # Every line of Anvil has a limit by date as well, which does not wait.
    assert {each.line.window.cause for each in came.settled.moved if each.line.window} == {Cause.DATE}
    assert log_of(stage.store, "laid up")[0].after == "2026-04-01 until further notice"
    out = lets_out(stage, date(2026, 4, 10))
    assert out.spell == DateSpan(SINCE, date(2026, 4, 10))
    assert anvil(stage).laid_up == (DateSpan(SINCE, date(2026, 4, 10)),)
    assert not any(isinstance(each.after, NoDate) for each in out.settled.moved)
    assert lets_out(stage, date(2026, 4, 10)).known


def test_letting_it_out_on_its_first_day_takes_the_spell_back_with_every_date() -> None:
    stage = demo()
    with stage.store.read() as view:
        before = view.windows()
    lays_up(stage)
    back = lets_out(stage, SINCE)
    assert back.spell is None
    assert anvil(stage).laid_up == ()
    with stage.store.read() as view:
        assert view.windows() == before
    assert log_of(stage.store, "laid up")[-1].after == ""


@pytest.mark.parametrize(
    ("first", "last", "field", "part"),
    [
        (date(2026, 5, 1), date(2026, 4, 30), "until", "if it is from 1 May 2026 on"),
        (date(2013, 1, 1), date(2013, 2, 1), "from", "was put into service on"),
        (date(2, 1, 1), None, "from", "outside of the calendar"),
        (date(9999, 1, 1), None, "from", "outside of the calendar"),
        (date(2026, 4, 1), date(9999, 12, 31), "until", "Leave the last day out"),
        # The readings of Anvil on 28 February and 31 March.
        (date(2026, 2, 1), date(2026, 4, 10), "from", "112\u2009640 mi on 31 March 2026"),
    ],
)
def test_a_spell_that_cannot_be_is_refused_and_changes_nothing(
    first: date, last: date | None, field: str, part: str
) -> None:
    stage = demo()
    before = everything(stage.store)
    with pytest.raises(BadInput) as refused:
        lays_up(stage, first, last)
    assert refused.value.field == field
    assert part in str(refused.value)
    assert refused.value.remedy
    assert everything(stage.store) == before


@pytest.mark.parametrize(
    ("first", "last"), [(date(2026, 5, 31), date(2026, 6, 3)), (date(2026, 3, 31), None), (SINCE, date(2026, 4, 2))]
)
def test_a_spell_over_another_one_is_refused_with_the_way_to_take_that_back(first: date, last: date | None) -> None:
    stage = demo()
    lays_up(stage)
    with pytest.raises(BadInput, match=r"laid up from 1 April to 31 May already.*let it out on 1 April first"):
        lays_up(stage, first, last)
    # The day after its last one is free.
    assert not lays_up(stage, date(2026, 6, 1), None).known


def test_a_reading_on_the_day_it_is_let_out_does_not_speak_against_the_spell() -> None:
    stage = demo()
    with stage.store.write(Change("test", "a reading", DEMO_NOW)) as unit:
        ran = Reading(
            "AN", "odometer", date(2026, 4, 12), Decimal(112_700), MeterUnit.MI, datetime(2026, 4, 12, tzinfo=UTC)
        )
        unit.add_readings((ran,))
    with pytest.raises(BadInput, match="moved in that time"):
        lays_up(stage, date(2026, 3, 31), date(2026, 4, 12))
    assert not lays_up(stage, date(2026, 3, 31), date(2026, 4, 11)).known


@pytest.mark.parametrize("name", ["Anvyl", "", "\x00", "A" * 5000])
def test_a_vehicle_that_is_not_there_is_named(name: str) -> None:
    stage = demo()
    with pytest.raises(NotFound):
        lays_up(stage, vehicle=name)
    with pytest.raises(NotFound):
        lets_out(stage, APRIL, vehicle=name)


def test_what_is_not_laid_up_cannot_be_let_out() -> None:
    stage = demo()
    with pytest.raises(BadInput, match=r"Anvil is not laid up on 14 April 2026. Say first from when it is laid up."):
        lets_out(stage, APRIL)
    lays_up(stage, date(2026, 6, 1), date(2026, 6, 30))
    with pytest.raises(BadInput, match=r"It is laid up from 1 June 2026 to 30 June 2026."):
        lets_out(stage, APRIL)


def test_its_keeper_and_who_keeps_the_list_may_say_it() -> None:
    stage = demo()
    with stage.store.read() as view:
        garage, people = view.garage(), {person.key: person for person in view.people()}
    assert garage is not None
    bellows = replace(anvil(stage), keeper="teo", drivers=("rufus",))
    allowed = {key for key, person in people.items() if may_lay_up(person, bellows, garage)}
    assert allowed == {"teo", garage.list_keeper}


def test_a_spell_of_the_past_answers_the_question_and_mends_the_forecast() -> None:
    """Anvil shows 112 640 mi on 31 March, 20 April and 11 May: asked about on the 11th, and no more once it is told."""
    stage = demo()
    may = datetime(2026, 5, 11, 15, tzinfo=UTC)
    with stage.store.write(Change("test", "readings", may)) as unit:
        unit.add_readings(
            tuple(
                Reading("AN", "odometer", day, Decimal(112_640), MeterUnit.MI, may)
                for day in (date(2026, 4, 20), date(2026, 5, 11))
            )
        )

    def now() -> tuple[bool, dict[str, date]]:
        outlook = look_ahead(stage.store, stage.rules, now=may, marks=("AN",)).outlooks[0]
        dates = {line.key.service: line.window.likely for line in outlook.lines if line.window is not None}
        return outlook.standing is not None, dates

    asked, slow = now()
    assert asked
    given = Given("AN", date(2026, 3, 31), date(2026, 5, 10))
    lay_up(stage.store, stage.rules, given, who="ines", now=may, base_url=BASE_URL)
    asked_again, told = now()
    assert not asked_again
    # Engine oil was likely on about 6 June before; 41 days it stood, and a slower pace is no longer believed.
    assert told["engine-oil"] < slow["engine-oil"]
