"""A vehicle is sold: its dates, bay days and links go, its history stays; and a sale that was none is undone."""

from __future__ import annotations

from datetime import date, timedelta
from email import message_from_bytes
from email.policy import default

import pytest

from fleetcare.actions.check_promises import check_promises
from fleetcare.actions.order_work import Opening, open_order
from fleetcare.actions.ports import Purpose
from fleetcare.actions.sell_vehicle import Left, sell_vehicle, take_back_sale
from fleetcare.actions.write_letters import write_due_letters
from fleetcare.due.outlook import DueWindow, NoDate
from fleetcare.errors import BadInput, BadStep, FleetcareError, NotFound
from tests.actions.garages import BASE_URL, DEMO_NOW, Stage, demo, log_of
from tests.web.stored import everything

TODAY = date(2026, 4, 14)


def sells(stage: Stage, vehicle: str = "RA", on: date | None = TODAY) -> Left:
    return sell_vehicle(stage.store, stage.rules, vehicle=vehicle, on=on, now=DEMO_NOW, who="ines", base_url=BASE_URL)


def takes_back(stage: Stage, vehicle: str = "RA") -> Left:
    return take_back_sale(stage.store, stage.rules, vehicle=vehicle, now=DEMO_NOW, who="ines", base_url=BASE_URL)


def test_nothing_is_due_any_more_and_nothing_of_its_past_is_lost() -> None:
    stage = demo()
    with stage.store.read() as view:
        before = (view.readings(("RA",)), view.work(("RA",)), view.events(("RA",)))
        visits = [each for each in view.bay_visits(("RA",)) if each.takes_place]
    left = sells(stage)
    assert not left.known
    assert left.visits == len(visits) > 0
    with stage.store.read() as view:
        assert (view.readings(("RA",)), view.work(("RA",)), view.events(("RA",))) == before
        assert set(view.windows(("RA",)).values()) == {NoDate.OUT_OF_FLEET}
        assert [each for each in view.bay_visits(("RA",)) if each.takes_place] == []
    assert log_of(stage.store, "out of the fleet")[-1].after == "2026-04-14"
    assert check_promises(stage.store, stage.rules, now=DEMO_NOW).broken == ()


def letters_of_two_months(stage: Stage) -> str:
    """What is read in every letter of the next eight weeks."""
    for weeks in range(1, 9):
        write_due_letters(stage.store, stage.rules, stage.desk, now=DEMO_NOW + timedelta(weeks=weeks))
    with stage.store.read() as view:
        letters = [message_from_bytes(each.raw, policy=default) for each in view.deliveries()]
    bodies = [letter.get_body(("plain",)) for letter in letters]
    return "\n".join(body.get_content() for body in bodies if body is not None)


def test_no_letter_names_it_any_more() -> None:
    stage = demo()
    assert "Raft" in letters_of_two_months(stage)
    stage = demo()
    sells(stage)
    told = letters_of_two_months(stage)
    assert "Anvil" in told
    assert "Raft" not in told


def test_its_links_end_and_those_of_others_stay() -> None:
    stage = demo()
    with stage.store.read() as view:
        before = [key for key in view.keys(Purpose.ODOMETER) if key.revoked_at is None]
    left = sells(stage)
    with stage.store.read() as view:
        after = [key for key in view.keys(Purpose.ODOMETER) if key.revoked_at is None]
    assert after == [key for key in before if key.mark != "RA"]
    assert left.links == len(before) - len(after)


def test_said_twice_it_counts_once() -> None:
    stage = demo()
    sells(stage)
    before = everything(stage.store)
    assert sells(stage, on=None).known
    assert everything(stage.store) == before


def test_a_sale_that_was_none_is_undone_and_its_dates_are_as_before() -> None:
    stage = demo()
    with stage.store.read() as view:
        windows, vehicle = view.windows(("RA",)), view.vehicles(("RA",))
    sells(stage)
    left = takes_back(stage)
    with stage.store.read() as view:
        assert view.windows(("RA",)) == windows
        assert view.vehicles(("RA",)) == vehicle
    assert any(isinstance(each.after, DueWindow) for each in left.settled.moved)
    with pytest.raises(BadInput):
        takes_back(stage)


def with_open_sheet(stage: Stage) -> None:
    open_order(stage.store, stage.rules, Opening("RA", ("coupling",)), now=DEMO_NOW, who="ines", base_url=BASE_URL)


@pytest.mark.parametrize(
    ("vehicle", "on", "error"),
    [
        ("RA", date(2026, 4, 15), BadInput),
        ("RA", date(2026, 3, 30), BadInput),
        ("PL", date(1999, 1, 1), BadInput),
        ("XX", TODAY, NotFound),
    ],
)
def test_what_cannot_be_changes_nothing(vehicle: str, on: date, error: type[FleetcareError]) -> None:
    stage = demo()
    before = everything(stage.store)
    with pytest.raises(error):
        sells(stage, vehicle, on)
    assert everything(stage.store) == before


def test_what_stands_on_an_open_sheet_is_not_sold() -> None:
    stage = demo()
    with_open_sheet(stage)
    with pytest.raises(BadStep, match="Hand that one in first"):
        sells(stage)
