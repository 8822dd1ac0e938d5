"""Stopping letters: RFC 8058 (one POST without a log-in), and a page for people."""

from __future__ import annotations

import email
from datetime import timedelta

import httpx
import pytest

from fleetcare.actions.send_letters import send_due_letters
from fleetcare.actions.write_letters import send_garage_letter, write_due_letters
from fleetcare.fleet.access import STOP_TIME, Purpose
from tests.web.conftest import Served
from tests.web.pages import page_of
from tests.web.stored import everything

ONE_CLICK = {"List-Unsubscribe": "One-Click"}


def weekday(served: Served, person: str) -> int | None:
    """On which weekday that person gets the garage letter."""
    with served.parts.store.read() as view:
        return next(p.letter_weekday for p in view.people() if p.key == person)


@pytest.fixture
def address(served: Served) -> str:
    """The address that stands in a real letter to Teo, as a mail program takes it from the header."""
    send_garage_letter(served.parts.store, served.parts.rules, served.parts.desk, "teo", now=served.clock.now())
    send_due_letters(served.parts.store, served.parts.mailer, served.clock)
    (path,) = served.parts.letters_folder.glob("*.eml")
    letter = email.message_from_bytes(path.read_bytes())
    return str(letter["List-Unsubscribe"]).strip().removeprefix("<").removesuffix(">")


def test_a_look_changes_nothing_and_shows_a_form(served: Served, client: httpx.Client, address: str) -> None:
    """RFC 8058, 3.2: a GET must not unsubscribe."""
    before = everything(served.parts.store)
    page = page_of(client.get(address))
    client.head(address)
    assert everything(served.parts.store) == before
    assert page.forms[0].method == "post"
    answer = client.post(served.url + page.forms[0].action, data=page.forms[0].filled())
    assert answer.status_code == 200
    assert weekday(served, "teo") is None


def test_one_post_with_nothing_but_the_key_stops_them_and_twice_is_harmless(
    served: Served, client: httpx.Client, address: str
) -> None:
    """RFC 8058, 3.1: no cookie, no other context; the body may come as a form of either coding."""
    assert weekday(served, "teo") is not None
    first = client.post(address, data=ONE_CLICK, headers={"Origin": "https://mail.example"})
    assert (first.status_code, weekday(served, "teo")) == (200, None)
    assert "location" not in first.headers
    after = everything(served.parts.store)
    second = client.post(address, files={"List-Unsubscribe": (None, "One-Click")})
    assert second.status_code == 200
    assert second.content == first.content
    assert everything(served.parts.store) == after
    assert weekday(served, "ines") is not None


def test_after_stopping_nothing_more_is_written(served: Served, client: httpx.Client, address: str) -> None:
    """Neither the garage letter nor requests for readings, as the page says."""
    client.post(address, data=ONE_CLICK)
    for _ in range(6):
        served.clock.move(timedelta(days=7))
        write_due_letters(served.parts.store, served.parts.rules, served.parts.desk, now=served.clock.now())
    with served.parts.store.read() as view:
        later = [d.person for d in view.deliveries() if not d.period.startswith("by hand")]
    assert "ines" in later
    assert "teo" not in later


def test_a_key_that_stops_nothing_is_not_found(served: Served, client: httpx.Client, address: str) -> None:
    wrong = [
        f"{served.url}/letters/stop/{'x' * 43}",
        f"{served.url}/letters/stop/a%00b",
        f"{served.url}/letters/stop/{served.key(Purpose.SIGN_IN, person='teo')}",
        f"{served.url}/letters/stop/{served.key(Purpose.STOP_LETTERS, lasts=timedelta(0), person='teo')}",
    ]
    before = everything(served.parts.store)
    for method in ("GET", "POST"):
        answers = [client.request(method, each, data=ONE_CLICK if method == "POST" else None) for each in wrong]
        assert {(answer.status_code, answer.content) for answer in answers} == {(404, answers[0].content)}
    assert everything(served.parts.store) == before
    served.clock.move(STOP_TIME)
    assert client.post(address, data=ONE_CLICK).status_code == 404
    assert weekday(served, "teo") is not None
