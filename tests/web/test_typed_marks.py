"""Of more vehicles than one would tick, those wanted are typed by their marks."""

from __future__ import annotations

from dataclasses import replace

import httpx
import pytest

from fleetcare.actions.ports import Change
from fleetcare.errors import BadInput
from fleetcare.page.cards.ticks import TICKED_AT_MOST
from fleetcare.web.typed_marks import marks_typed
from tests.web.conftest import Served
from tests.web.pages import page_of
from tests.web.test_away import TRIP, bookings, forms, sent

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
