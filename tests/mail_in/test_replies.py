"""A plain figure in an answer to a reading request counts, once; what is doubtful is held, and told by one letter."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from email import message_from_bytes
from email.message import EmailMessage
from pathlib import Path

import pytest

from fleetcare.actions.ports import Change
from fleetcare.actions.write_letters import write_due_letters
from fleetcare.assemble import Parts
from fleetcare.clock import MachineClock
from fleetcare.digest.values import Delivery, LetterKind
from fleetcare.errors import MailboxTrouble
from fleetcare.fleet.access import Purpose
from fleetcare.meter.reading import Door, Reading, ReadingState
from fleetcare.replies import take_replies
from fleetcare.settings.garage_rules import RulesKept
from fleetcare.settings.settings import load_settings
from fleetcare.timetable import Round
from tests.actions.garages import small
from tests.mail_in.imap_server import PASSWORD, USER, ImapServer
from tests.stand_ins import FixedClock

ASKED = datetime(2021, 3, 15, 12, 0, tzinfo=UTC)
"""Six weeks after the only vehicle was last read, at 11 000 km; it made 1000 km in four weeks before."""


@pytest.fixture
def parts(server: ImapServer, tmp_path: Path) -> Parts:
    """A small garage that reads its mailbox, and has asked Noor for a reading."""
    return parts_at(server, tmp_path)


def parts_at(server: ImapServer, home: Path) -> Parts:
    stage = small()
    environment = {
        "FLEETCARE_REPLIES_HOST": "127.0.0.1",
        "FLEETCARE_REPLIES_PORT": str(server.port),
        "FLEETCARE_REPLIES_SECURITY": "none",
        "FLEETCARE_REPLIES_USER": USER,
        "FLEETCARE_REPLIES_PASSWORD": PASSWORD,
        "FLEETCARE_REPLIES_ADDRESS": "readings+{key}@garage.example",
        "FLEETCARE_MAIL_FROM_ADDRESS": "garage@garage.example",
    }
    clock = FixedClock(ASKED)
    parts = Parts(load_settings(home, environment), home, RulesKept(stage.rules), stage.store, clock, stage.keys)
    write_due_letters(parts.store, parts.rules, parts.desk, now=ASKED)
    return parts


def letters(parts: Parts, kind: LetterKind) -> list[Delivery]:
    with parts.store.read() as view:
        return [each for each in view.deliveries() if each.kind is kind]


def readings(parts: Parts) -> list[Reading]:
    with parts.store.read() as view:
        return [each for each in view.readings() if each.door is Door.MAIL]


def answer(parts: Parts, text: str, *, name: str = "<a@phone.example>", html: str = "", **headers: str) -> bytes:
    """An answer to the reading request, as a program would write it."""
    request = message_from_bytes(letters(parts, LetterKind.READING)[0].raw)
    message = EmailMessage()
    message["From"] = "Noor Haddad <noor@small.example>"
    message["To"] = str(request["Reply-To"])
    message["Message-ID"] = name
    message["In-Reply-To"] = str(request["Message-ID"])
    for header, value in headers.items():
        message[header.replace("_", "-")] = value
    if html:
        message.set_content(html, subtype="html")
    else:
        message.set_content(text)
    return message.as_bytes()


def clock_of(parts: Parts) -> FixedClock:
    assert isinstance(parts.clock, FixedClock)
    return parts.clock


def plain(letter: Delivery) -> str:
    part = message_from_bytes(letter.raw).get_payload(0)
    return re.sub(r"\s+", " ", part.get_payload(decode=True).decode())  # type: ignore[union-attr]


def test_the_request_says_how_to_answer_and_where_to(parts: Parts) -> None:
    (request,) = letters(parts, LetterKind.READING)
    assert re.fullmatch(r"readings\+[a-z2-7]{32}@garage\.example", str(message_from_bytes(request.raw)["Reply-To"]))
    assert "Or answer this letter with the figure alone in the first line." in plain(request)


def test_without_a_mailbox_no_letter_asks_for_answers(tmp_path: Path) -> None:
    stage = small()
    write_due_letters(stage.store, stage.rules, stage.desk, now=ASKED)
    with stage.store.read() as view:
        requests = [each for each in view.deliveries() if each.kind is LetterKind.READING]
        assert view.keys(Purpose.REPLY) == ()
    assert len(requests) == 1
    assert message_from_bytes(requests[0].raw)["Reply-To"] is None
    assert "answer" not in plain(requests[0])


def test_a_plain_figure_counts(server: ImapServer, parts: Parts) -> None:
    server.deliver(answer(parts, "12 400\n\nOn Monday the garage wrote:\n> 99999\n-- \nNoor\n"))
    assert take_replies(parts).stored == 1
    (reading,) = readings(parts)
    assert (reading.mark, reading.meter, reading.value, reading.state) == (
        "PO",
        "odometer",
        Decimal(12400),
        ReadingState.USED,
    )
    assert (reading.by, reading.on) == ("noor", ASKED.date())
    assert server.seen() == [True]
    assert letters(parts, LetterKind.ABOUT_AN_ANSWER) == []


def test_a_mail_without_plain_text_counts_too(server: ImapServer, parts: Parts) -> None:
    server.deliver(answer(parts, "", html="<div>12400 km</div><blockquote>Last time 11 000 km</blockquote>"))
    take_replies(parts)
    assert [each.value for each in readings(parts)] == [Decimal(12400)]


def test_one_mail_counts_once_even_if_it_was_not_marked(server: ImapServer, parts: Parts) -> None:
    """The process died after the commit: the mail waits as before, and so does a second copy of it."""
    raw = answer(parts, "12400")
    server.deliver(raw)
    take_replies(parts)
    line = server.line()
    line.store("1", "-FLAGS", "(\\Seen)")
    line.logout()
    server.deliver(raw)
    clock_of(parts).move(timedelta(days=2))
    take_replies(parts)
    assert [each.value for each in readings(parts)] == [Decimal(12400)]
    assert server.seen() == [True, True]


def test_two_mails_count_both(server: ImapServer, parts: Parts) -> None:
    server.deliver(answer(parts, "12400", name="<a@phone.example>"))
    take_replies(parts)
    clock_of(parts).set(MachineClock().now())  # the mailbox says when a mail came in
    server.deliver(answer(parts, "12400.5", name="<a@phone.example>"))
    with parts.store.write(Change("test", "key", ASKED)) as unit:
        for key in unit.keys(Purpose.REPLY):
            unit.put_key(replace(key, expires_at=None))
    take_replies(parts)
    assert len(readings(parts)) == 2


def test_a_doubtful_one_is_held_and_told_once(server: ImapServer, parts: Parts) -> None:
    raw = answer(parts, "99999")
    server.deliver(raw)
    take_replies(parts)
    (reading,) = readings(parts)
    assert reading.state is ReadingState.HELD
    server.deliver(raw)
    take_replies(parts)
    (letter,) = letters(parts, LetterKind.ABOUT_AN_ANSWER)
    assert (letter.person, letter.to_mail) == ("noor", "noor@small.example")
    assert "“99999” about Pocket is kept aside and not used yet" in plain(letter).replace('"99999"', "“99999”")
    assert "/o/" in plain(letter)
    assert message_from_bytes(letter.raw)["Auto-Submitted"] == "auto-generated"
    assert message_from_bytes(letter.raw)["Reply-To"] is None, "or two programs might go on answering each other"


def test_it_is_told_also_if_the_process_died_before_it_was_told(server: ImapServer, parts: Parts) -> None:
    """The reading is stored and its letter is not: the next round finds the receipt, and tells the same."""
    raw = answer(parts, "99999")
    server.deliver(raw)
    (noor,) = [p for p in _people(parts) if p.key == "noor"]
    with parts.store.write(Change("test", "no mail", ASKED)) as unit:
        unit.put_person(replace(noor, mail=""))
    take_replies(parts)
    assert letters(parts, LetterKind.ABOUT_AN_ANSWER) == []
    with parts.store.write(Change("test", "mail", ASKED)) as unit:
        unit.put_person(noor)
    line = server.line()
    line.store("1", "-FLAGS", "(\\Seen)")
    line.logout()
    take_replies(parts)
    assert len(readings(parts)) == 1
    assert len(letters(parts, LetterKind.ABOUT_AN_ANSWER)) == 1


def _people(parts: Parts) -> tuple:  # type: ignore[type-arg]
    with parts.store.read() as view:
        return view.people()


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("I will look tomorrow.\n", "no figure was found in your answer about Pocket"),
        ("12,4001\n", "no figure was found"),
        ("hello\n12400\n12500\n", "no figure was found"),
        ("12400 h\n", "could not be taken"),
        ("1234567890123\n", "no figure was found"),
    ],
)
def test_what_cannot_be_taken_is_told(server: ImapServer, parts: Parts, text: str, told: str) -> None:
    server.deliver(answer(parts, text))
    take_replies(parts)
    assert readings(parts) == []
    (letter,) = letters(parts, LetterKind.ABOUT_AN_ANSWER)
    assert told in plain(letter)
    assert server.seen() == [True]


def test_an_answer_after_its_time_is_told_and_one_to_an_ended_key_is_not(server: ImapServer, parts: Parts) -> None:
    server.deliver(answer(parts, "12400"))
    clock_of(parts).move(timedelta(days=36))
    take_replies(parts)
    assert readings(parts) == []
    (letter,) = letters(parts, LetterKind.ABOUT_AN_ANSWER)
    assert "came after the time of its letter was over" in plain(letter)
    assert "/o/" not in plain(letter)
    with parts.store.write(Change("test", "ended", ASKED)) as unit:
        unit.revoke_keys(ASKED, purpose=Purpose.REPLY, person="noor", mark="PO")
    server.deliver(answer(parts, "12400", name="<b@phone.example>"))
    assert take_replies(parts).passed_over == 1
    assert len(letters(parts, LetterKind.ABOUT_AN_ANSWER)) == 1


def test_what_a_program_answers_is_passed_over(server: ImapServer, parts: Parts) -> None:
    server.deliver(answer(parts, "12400", Auto_Submitted="auto-replied"))
    assert take_replies(parts).passed_over == 1
    assert readings(parts) == []
    assert letters(parts, LetterKind.ABOUT_AN_ANSWER) == []
    assert server.seen() == [True]


def test_a_program_that_answers_every_letter_is_told_a_few_times(server: ImapServer, parts: Parts) -> None:
    for number in range(8):
        server.deliver(answer(parts, "away", name=f"<{number}@robot.example>"))
    take_replies(parts)
    assert len(letters(parts, LetterKind.ABOUT_AN_ANSWER)) == 5
    assert all(server.seen())


def test_a_mailbox_that_cannot_be_read_is_shown_and_then_no_more(server: ImapServer, parts: Parts) -> None:
    round_ = Round(parts)
    round_.last_run_at = ASKED
    line = server.line()
    line.create("Elsewhere")
    line.logout()
    wrong = parts_at(server, parts.home / "other")
    wrong = replace(wrong, settings=replace(wrong.settings, replies=replace(wrong.settings.replies, password="x")))
    with pytest.raises(MailboxTrouble):
        take_replies(wrong)
    troubled = Round(wrong)
    troubled.last_run_at = ASKED
    troubled.take_replies()
    assert "answers by mail could not be taken" in " ".join(troubled.troubles())
    round_.take_replies()
    assert round_.troubles() == ()
