"""Of more vehicles than one would tick, those wanted are typed by their marks."""

from __future__ import annotations

from dataclasses import replace

import httpx
import pytest

from fleetcare.actions.links import feed_choice
from fleetcare.actions.ports import Change
from fleetcare.errors import BadInput
from fleetcare.page.cards.ticks import TICKED_AT_MOST
from fleetcare.web.typed_marks import marks_typed
from tests.web.conftest import Served
from tests.web.pages import page_of
from tests.web.test_away import TRIP, bookings, forms, sent
from tests.web.test_edit_vehicle import sent as edited

MOST_BYTES = 100_000


def test_marks_are_read_in_any_letters_each_once() -> None:
    assert marks_typed(" be, An ,BE,, ", ("AN", "BE", "CA"), field="others") == ("BE", "AN")
    assert marks_typed("", ("AN",), field="others") == ()
    with pytest.raises(BadInput, match="XX"):
        marks_typed("AN, XX", ("AN",), field="others")


def test_in_a_large_garage_others_are_typed_and_a_wrong_mark_changes_nothing(
    served: Served, client: httpx.Client
) -> None:
    assert 'name="others"' not in client.get(f"{served.url}/vehicles/AN/away", headers=served.session("ines")).text
    with served.parts.store.write(Change("test", "a larger garage", served.clock.now())) as unit:
        (anvil,) = unit.vehicles(("AN",))
        for number in range(40 * TICKED_AT_MOST):
            unit.put_vehicle(replace(anvil, mark=f"X{number}", name=f"Wagon {number}", components=(), towed_by=()))
    headers = served.session("ines")
    shown = client.get(f"{served.url}/vehicles/AN/away", headers=headers)
    assert len(shown.content) < MOST_BYTES
    wrong = sent(served, client, "ines", "/vehicles/AN/away", **TRIP, others="x7, nothing")
    assert wrong.status_code == 422
    assert "No vehicle has the mark" in page_of(wrong).words
    assert 'value="x7, nothing"' in wrong.text
    assert TRIP["title"] not in bookings(served, "AN")
    assert sent(served, client, "ines", "/vehicles/AN/away", **TRIP, others="x7, X1").status_code == 303
    assert set(bookings(served, "AN")[str(TRIP["title"])].marks) == {"AN", "X7", "X1"}
    # The form that changes it has those three to tick, and saving it again keeps them.
    form = next(each for each in forms(served, client, headers, "AN") if each.fields["title"] == TRIP["title"])
    assert form.fields["others"] == ""
    # And the vehicle of a new bay day is named, not picked from a list of them all.
    plan = client.get(f"{served.url}/plan", headers=headers)
    assert len(plan.content) < MOST_BYTES
    assert "<option" not in plan.text.partition('id="new"')[2]
    chosen = client.get(f"{served.url}/plan?vehicle=x7", headers=headers)
    assert "What is to be done on X7" in page_of(chosen).words


def test_what_pulls_a_trailer_and_where_a_component_goes_is_typed_in_a_large_garage(
    served: Served, client: httpx.Client
) -> None:
    with served.parts.store.write(Change("test", "a larger garage", served.clock.now())) as unit:
        (anvil,) = unit.vehicles(("AN",))
        for number in range(10 * TICKED_AT_MOST):
            unit.put_vehicle(replace(anvil, mark=f"X{number}", name=f"Wagon {number}", components=(), towed_by=()))
    ines = served.session("ines")
    for path in ("/vehicles/RA/edit", "/vehicles/AN/move", "/new-vehicle?step=2&name=Zed&kind=trailer&called=trailer"):
        page = client.get(served.url + path, headers=ines)
        assert page.status_code == 200
        assert len(page.content) < MOST_BYTES / 2, path

    def towed() -> tuple[str, ...]:
        with served.parts.store.read() as view:
            return view.vehicles(("RA",))[0].towed_by

    before = towed()
    kept = {"towed-by": list(before)}
    path = "/vehicles/RA/edit"
    wrong = edited(served, client, path, ines, **kept, **{"towed-others": "x7, nothing"})
    assert wrong.status_code == 422
    assert 'value="x7, nothing"' in wrong.text
    assert towed() == before
    assert edited(served, client, path, ines, **kept, **{"towed-others": "x7"}).status_code in (200, 303)
    assert towed() == (*before, "X7")
    moved = {"component": "rear-axle", "swap": "", "key": "spare-axle"}
    path = "/vehicles/BE/move"
    for typed in ("", "nothing", "x7, x8"):
        wrong = edited(served, client, path, ines, **moved, to="typed", **{"to-mark": typed})
        assert wrong.status_code == 422, typed
    done = edited(served, client, path, ines, **moved, to="typed", **{"to-mark": "x7"})
    assert done.status_code == 200
    with served.parts.store.read() as view:
        assert view.vehicles(("X7",))[0].component("spare-axle") is not None


def test_which_vehicles_a_calendar_holds_is_typed_in_a_large_garage_and_none_chosen_is_lost(
    served: Served, client: httpx.Client
) -> None:
    with served.parts.store.write(Change("test", "a larger garage", served.clock.now())) as unit:
        (anvil,) = unit.vehicles(("AN",))
        for number in range(10 * TICKED_AT_MOST):
            unit.put_vehicle(replace(anvil, mark=f"X{number}", name=f"Wagon {number}", components=(), towed_by=()))
    ines = served.session("ines")

    def form() -> dict[str, str]:
        page = page_of(client.get(f"{served.url}/calendar", headers=ines))
        return next(each for each in page.forms if each.action.startswith("/calendar/choice")).fields

    def saved(**typed: object) -> httpx.Response:
        data = {"form": form()["form"], "kind": "due", "date": "late", **typed}
        return client.post(f"{served.url}/calendar/choice", data=data, headers=ines)

    def chosen() -> set[str]:
        return set(feed_choice(served.parts.store, "ines").marks)

    wrong = saved(vehicle="AN", others="x7, nothing")
    assert wrong.status_code == 422
    assert 'value="x7, nothing"' in wrong.text
    assert saved(vehicle="AN", others="x7, X8").status_code == 303
    assert chosen() == {"AN", "X7", "X8"}
    many = [f"X{number}" for number in range(5 * TICKED_AT_MOST + 1)]
    assert saved(others=", ".join(many)).status_code == 303
    assert chosen() == set(many)
    assert saved(others=form()["others"]).status_code == 303
    assert chosen() == set(many)
