"""Coming in: a link by mail, used up by a button and not by a look, a session that scripts cannot read."""

from __future__ import annotations

import email
import re
from datetime import timedelta
from email.message import Message
from http.cookies import SimpleCookie
from pathlib import Path

import httpx
import pytest

from fleetcare.actions.send_letters import send_due_letters
from fleetcare.digest.values import DeliveryState, LetterKind
from fleetcare.fleet.access import PRINTED_SIGN_IN_TIME, SESSION_TIME, SIGN_IN_TIME
from tests.web.conftest import Served
from tests.web.pages import page_of
from tests.web.stored import everything


def letters(served: Served) -> list[Message]:
    """What lies in the letters folder of the home, after everything due was sent there."""
    send_due_letters(served.parts.store, served.parts.mailer, served.clock)
    folder = Path(served.parts.letters_folder)
    return [email.message_from_bytes(path.read_bytes()) for path in sorted(folder.glob("*.eml"))]


def asked_for(client: httpx.Client, served: Served, mail: str) -> httpx.Response:
    """The form of the page, filled in and sent."""
    (form,) = page_of(client.get(f"{served.url}/sign-in")).forms
    return client.post(served.url + form.action, data=form.filled(mail=mail))


def link_in(letter: Message) -> str:
    """The sign-in link of a letter."""
    plain = next(part for part in letter.walk() if part.get_content_type() == "text/plain")
    payload = plain.get_payload(decode=True)
    assert isinstance(payload, bytes)
    (link,) = set(re.findall(r"http://[^\s>]*/sign-in/[^\s>]+", payload.decode()))
    return str(link)


def test_a_link_comes_by_mail_and_the_button_on_its_page_lets_in_once(served: Served, client: httpx.Client) -> None:
    assert "Type your mail address." not in client.get(f"{served.url}/sign-in").text
    assert asked_for(client, served, " Teo@KarstRidge.example ").status_code == 200
    (letter,) = letters(served)
    assert letter["To"].count("teo@karstridge.example") == 1
    link = link_in(letter)
    before = everything(served.parts.store)
    page = page_of(client.get(link))
    for _ in range(3):
        # Mail programs and scanners open links by themselves.
        client.get(link)
        client.head(link)
    assert everything(served.parts.store) == before
    assert "Teo" in page.words
    (form,) = page.forms
    entered = client.post(served.url + form.action, data=form.filled())
    assert (entered.status_code, entered.headers["location"]) == (303, "/")
    cookie = SimpleCookie(entered.headers["set-cookie"])["fleetcare"]
    client.cookies.clear()
    assert "Bellows" in client.get(f"{served.url}/readings", headers=_came(cookie.value)).text
    again = client.post(served.url + form.action)
    assert again.status_code == 404
    assert "set-cookie" not in again.headers
    assert "used already, or its time is over" in page_of(again).words
    assert page_of(client.get(link)).words == page_of(again).words


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(served: Served, client: httpx.Client) -> None:
    """RFC 6265, 4.1.2: HttpOnly, Path; SameSite from its successor draft, 5.5; Secure goes with an https address."""
    entered = client.post(served.addresses["sign_in"])
    cookie = SimpleCookie(entered.headers["set-cookie"])["fleetcare"]
    assert cookie["httponly"] is True
    assert str(cookie["samesite"]).lower() == "lax"
    assert cookie["path"] == "/"
    assert int(cookie["max-age"]) == SESSION_TIME.total_seconds()
    assert cookie["domain"] == ""
    assert not cookie["secure"]  # this garage is served over plain http
    assert len(cookie.value) >= 43
    with served.parts.store.read() as view:
        assert cookie.value not in repr(view.keys())


def test_a_session_ends_by_going_out_or_by_its_time(served: Served, client: httpx.Client) -> None:
    mine, other = served.session("teo"), served.session("teo")
    assert client.get(f"{served.url}/readings", headers=mine).status_code == 200
    # Without the seal of a page of this session nothing ends: no other site can send somebody out.
    assert client.post(f"{served.url}/go-out", headers=mine).status_code == 403
    out = client.post(f"{served.url}/go-out", headers=mine, data=served.sealed(mine))
    assert (out.status_code, out.headers["location"]) == (303, "/")
    assert 'fleetcare=""' in out.headers["set-cookie"]
    assert client.get(f"{served.url}/readings", headers=mine).headers["location"] == "/sign-in"
    assert client.get(f"{served.url}/readings", headers=other).status_code == 200
    # The key above was made without an end; one that came in by a link has one.
    client.post(served.addresses["sign_in"])
    assert client.get(f"{served.url}/readings").status_code == 200
    served.clock.move(SESSION_TIME)
    assert client.get(f"{served.url}/readings").headers["location"] == "/sign-in"


def test_going_out_without_having_come_in_changes_nothing(shared: Served, client: httpx.Client) -> None:
    before = everything(shared.parts.store)
    assert client.post(f"{shared.url}/go-out").status_code == 303
    assert everything(shared.parts.store) == before


def test_a_link_ends_with_its_time(served: Served, client: httpx.Client) -> None:
    asked_for(client, served, "teo@karstridge.example")
    (letter,) = letters(served)
    served.clock.move(SIGN_IN_TIME)
    assert client.get(link_in(letter)).status_code == 404
    assert client.post(link_in(letter)).status_code == 404
    served.clock.move(PRINTED_SIGN_IN_TIME)
    assert client.post(served.addresses["sign_in"]).status_code == 404


def test_an_unknown_address_is_answered_alike_and_gets_nothing(served: Served, client: httpx.Client) -> None:
    before = everything(served.parts.store)
    unknown = asked_for(client, served, "stranger@elsewhere.example")
    assert everything(served.parts.store) == before
    known = asked_for(client, served, "teo@karstridge.example")
    assert (unknown.status_code, unknown.content) == (known.status_code, known.content)
    assert [letter["To"] for letter in letters(served)] == [letters(served)[0]["To"]]


def test_nobody_can_be_flooded(served: Served, client: httpx.Client) -> None:
    """One letter a minute for each person, however often it is asked for."""
    for _ in range(5):
        asked_for(client, served, "teo@karstridge.example")
    asked_for(client, served, "ines@karstridge.example")
    assert len(letters(served)) == 2
    served.clock.move(timedelta(minutes=1))
    asked_for(client, served, "teo@karstridge.example")
    assert len(letters(served)) == 3
    with served.parts.store.read() as view:
        sent = [d for d in view.deliveries(DeliveryState.SENT) if d.kind is LetterKind.COME_IN]
    assert len(sent) == 3


@pytest.mark.parametrize("mail", ["", "teo", " ", "\0", "٣"])
def test_what_is_no_address_is_said_at_the_field(shared: Served, client: httpx.Client, mail: str) -> None:
    before = everything(shared.parts.store)
    answer = asked_for(client, shared, mail)
    assert answer.status_code == 422
    assert "Type your mail address." in page_of(answer).words
    assert everything(shared.parts.store) == before


@pytest.mark.parametrize(
    "mail", ["teo@karstridge.example\r\nBcc: x@y.example", "@" * 5000, "a@b\0c", "=?utf-8?q?a?=@b.c"]
)
def test_hostile_addresses_change_nothing(shared: Served, client: httpx.Client, mail: str) -> None:
    before = everything(shared.parts.store)
    assert asked_for(client, shared, mail).status_code == 200
    assert everything(shared.parts.store) == before


def test_a_file_in_place_of_an_address_is_refused(shared: Served, client: httpx.Client) -> None:
    answer = client.post(f"{shared.url}/sign-in", files={"mail": ("a.txt", b"teo@karstridge.example")})
    assert answer.status_code == 422


def _came(session: str) -> dict[str, str]:
    return {"Cookie": f"fleetcare={session}"}
