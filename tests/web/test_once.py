"""A form counts once, however often it is sent: double tap, reload, back, a retry after an answer that was lost."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import httpx

from fleetcare.actions.receipts import RECEIPT_TIME
from tests.web.conftest import Served
from tests.web.pages import PageForm, page_of
from tests.web.stored import everything, used
from tests.web.test_odometer import TODAY

REPLAYS = int(os.environ.get("FLEETCARE_FORM_REPLAYS", "200"))
"""How often one form is sent again. The full number, ten thousand, is asked for by the variable (DEVELOPERS.md)."""


def form_of(client: httpx.Client, address: str) -> PageForm:
    (form,) = page_of(client.get(address)).forms
    return form


def test_two_forms_never_carry_the_same_key(shared: Served, client: httpx.Client) -> None:
    keys = {form_of(client, shared.odometer("BE")).fields["once"] for _ in range(20)}
    assert len(keys) == 20


def test_sent_again_it_is_answered_with_the_same_bytes(served: Served, client: httpx.Client) -> None:
    body = form_of(client, served.odometer("BE")).filled(odo="84210")

    def send(_: int) -> tuple[int, bytes]:
        with httpx.Client(timeout=30, trust_env=False) as own:
            answer = own.post(served.odometer("BE"), data=body)
            return answer.status_code, answer.content

    with ThreadPoolExecutor(8) as eight:
        answers = list(eight.map(send, range(REPLAYS)))
    before = everything(served.parts.store)
    served.clock.move(timedelta(days=3))
    answers.append(send(0))
    assert len(set(answers)) == 1
    assert answers[0][0] == 200
    assert b"likely was" in answers[0][1].lower()
    assert [r.value for r in used(served.parts.store, "BE") if r.on >= TODAY] == [84210]
    assert everything(served.parts.store) == before


def test_another_figure_under_a_key_that_was_used_is_refused_and_a_new_form_is_given(
    served: Served, client: httpx.Client
) -> None:
    """Back, another figure, send: what was saved stands, and the page says so instead of saving both."""
    form = form_of(client, served.odometer("BE"))
    client.post(served.odometer("BE"), data=form.filled(odo="84210"))
    before = everything(served.parts.store)
    answer = client.post(served.odometer("BE"), data=form.filled(odo="84219"))
    page = page_of(answer)
    assert answer.status_code == 409
    assert "sent before" in page.words
    assert everything(served.parts.store) == before
    (again,) = page.forms
    assert again.fields["odo"] == "84219"
    assert again.fields["once"] != form.fields["once"]
    assert client.post(served.odometer("BE"), data=again.filled()).status_code == 200


def test_a_key_of_one_vehicle_says_nothing_of_another(served: Served, client: httpx.Client) -> None:
    form = form_of(client, served.odometer("BE"))
    client.post(served.odometer("BE"), data=form.filled(odo="84210"))
    other = form_of(client, served.odometer("AN")).filled(odo="113100", once=form.fields["once"])
    answer = client.post(served.odometer("AN"), data=other)
    assert answer.status_code == 200
    assert "113" in page_of(answer).words


def test_a_key_that_no_page_gave_out_is_refused(shared: Served, client: httpx.Client) -> None:
    before = everything(shared.parts.store)
    form = form_of(client, shared.odometer("BE"))
    for odd in ("x", "a b c d e f g h i j k", "k" * 65, "key\0key-key-key-key", "schlüssel-schlüssel"):
        answer = client.post(shared.odometer("BE"), data=form.filled(odo="84210", once=odd))
        assert answer.status_code == 422, odd
    assert everything(shared.parts.store) == before


def test_an_answer_is_forgotten_after_a_while_and_the_reading_is_still_one(
    served: Served, client: httpx.Client
) -> None:
    body = form_of(client, served.odometer("BE")).filled(odo="84210", on=TODAY.isoformat())
    client.post(served.odometer("BE"), data=body)
    served.clock.move(RECEIPT_TIME + timedelta(days=1))
    assert client.post(served.odometer("BE"), data=body).status_code == 200
    assert len([r for r in used(served.parts.store, "BE") if r.value == 84210]) == 1


def test_what_a_phone_kept_and_sends_later_counts_for_the_day_it_was_kept_and_once(
    served: Served, client: httpx.Client
) -> None:
    """The first try may have got through without an answer: then what is sent later is the same, and answered alike."""
    body = form_of(client, served.odometer("BE")).filled(odo="84210")
    first = client.post(served.odometer("BE"), data=body)
    later = client.post(served.odometer("BE"), data={**body, "kept": TODAY.isoformat()})
    assert (later.status_code, later.content) == (first.status_code, first.content)
    other = form_of(client, served.odometer("AN")).filled(odo="113100", kept=TODAY.isoformat())
    served.clock.move(timedelta(days=3))
    assert client.post(served.odometer("AN"), data=other).status_code == 200
    assert [r.on for r in used(served.parts.store, "AN") if r.value == 113100] == [TODAY]
    # In the phone's zone it may be tomorrow already.
    ahead = (TODAY + timedelta(days=4)).isoformat()
    third = form_of(client, served.odometer("NE")).filled(odo="31500", kept=ahead)
    assert client.post(served.odometer("NE"), data=third).status_code == 200
    assert [r.on for r in used(served.parts.store, "NE") if r.value == 31500] == [TODAY + timedelta(days=3)]
    odd = form_of(client, served.odometer("PO")).filled(odo="62000", kept="soon")
    assert client.post(served.odometer("PO"), data=odd).status_code == 422
