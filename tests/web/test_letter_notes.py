"""What the front page and /readyz say of letters: which came back, which ran out of time, which cannot leave."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import httpx

from fleetcare.actions.ports import Change
from fleetcare.digest.values import Delivery, DeliveryState, LetterKind
from fleetcare.fleet.people import Role
from fleetcare.page.cards.letter_notes import letter_notes
from tests.web.conftest import TUESDAY, Served


def put(
    served: Served,
    person: str,
    state: DeliveryState,
    answer: str = "",
    *,
    at: datetime = TUESDAY - timedelta(hours=2),
    kind: LetterKind = LetterKind.GARAGE,
) -> None:
    """A letter in that state."""
    with served.parts.store.write(Change("test", "letters", at)) as unit:
        number = len(unit.letter_places())
        unit.add_delivery(
            Delivery(
                person=person,
                kind=kind,
                period=f"test {number}",
                message_id=f"<{number}@x>",
                subject="Garage letter, 14 April",
                to_mail=f"{person}@karstridge.example",
                raw=b"x",
                decided_at=at,
                expires_at=at + timedelta(days=7),
                state=state,
                last_answer=answer,
                sent_at=at if state is DeliveryState.SENT else None,
            )
        )


def front(served: Served, client: httpx.Client, person: str = "ines") -> str:
    """The front page as that person sees it, its text without thin spaces."""
    headers = served.session(person) if person else {}
    return client.get(f"{served.url}/", headers=headers).text


def told(served: Served, client: httpx.Client) -> dict[str, int]:
    """What /readyz says of letters."""
    letters = client.get(f"{served.url}/readyz").json()["letters"]
    assert isinstance(letters, dict)
    return letters


def test_a_letter_that_came_back_is_told_to_keepers_until_one_arrives(served: Served, client: httpx.Client) -> None:
    put(served, "piet", DeliveryState.FAILED, "550 5.1.1 <b>no such</b> mailbox")
    page = front(served, client)
    assert "The last letter to Piet came back: 550 5.1.1 &lt;b&gt;no such&lt;/b&gt; mailbox." in page
    assert told(served, client)["came_back"] == 1
    assert client.get(f"{served.url}/readyz").status_code == 200, "one bad address is no trouble of the program"
    assert "came back" not in front(served, client, ""), "other people’s addresses are nobody else’s business"
    put(served, "piet", DeliveryState.SENT, "250 ok", at=TUESDAY)
    assert "came back" not in front(served, client)
    assert told(served, client)["came_back"] == 0


def test_who_only_drives_is_not_told(served: Served, client: httpx.Client) -> None:
    put(served, "piet", DeliveryState.FAILED, "550 no")
    with served.parts.store.write(Change("test", "Wanda drives", TUESDAY)) as unit:
        wanda = next(person for person in unit.people() if person.key == "wanda")
        unit.put_person(replace(wanda, roles=(Role.DRIVER,)))
    assert "came back" not in front(served, client, "wanda")


def test_a_letter_that_ran_out_of_time_is_told_and_a_way_in_is_not(served: Served, client: httpx.Client) -> None:
    put(served, "teo", DeliveryState.EXPIRED)
    put(served, "wanda", DeliveryState.EXPIRED, kind=LetterKind.COME_IN)
    assert "The last letter to Teo could not be handed over in time." in front(served, client)
    assert told(served, client)["ran_out_of_time"] == 1


def test_letters_that_cannot_leave_are_told_with_what_the_server_said(served: Served, client: httpx.Client) -> None:
    put(served, "teo", DeliveryState.DUE, "The mail server cannot be reached.")
    put(served, "piet", DeliveryState.DUE, at=TUESDAY)
    page = front(served, client)
    assert "One letter waits to be sent since 07:00 on Tuesday 14 April." in page
    assert "The mail server last said: The mail server cannot be reached." in page
    answer = client.get(f"{served.url}/readyz")
    assert answer.status_code == 503
    assert told(served, client) == {
        "waiting": 2,
        "oldest_waits_minutes": 120,
        "came_back": 0,
        "ran_out_of_time": 0,
    }


def test_many_are_named_three_at_a_time_and_long_answers_are_cut() -> None:
    lost = [(key, True, "") for key in "abcde"] + [("f", False, ""), ("g", False, "")]
    names = {key: key.upper() for key in "abcdefg"}
    notes = letter_notes(lost=lost, late=0, late_since=None, last_said="", names=names, zone="UTC")
    assert notes == (
        "The last letters to A, B, C and 2 more came back.",
        "The last letters to F and G could not be handed over in time.",
    )
    (note,) = letter_notes(
        lost=[("a", True, "x" * 500)], late=0, late_since=None, last_said="", names=names, zone="UTC"
    )
    assert len(note) < 170
    assert letter_notes(lost=(), late=0, late_since=None, last_said="", names={}, zone="UTC") == ()
