"""Letters over real connections on this machine, to servers that behave and to servers that do not."""

from __future__ import annotations

import email
import email.policy
import re
import socket
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from fleetcare.errors import BadSettings, DeliveryFailed
from fleetcare.mailer.smtp import SmtpMailer
from tests.mailer.letters import FROM, LETTER, TO, message
from tests.mailer.servers import Line, RealServer, Script, ScriptedServer, drip

RAW = message()


@contextmanager
def _mailer(port: int, security: str = "none", **changes: Any) -> Iterator[SmtpMailer]:
    given: dict[str, Any] = {
        "host": "127.0.0.1",
        "port": port,
        "security": security,
        "from_address": FROM,
        "timeout_s": 5.0,
        "total_timeout_s": 10.0,
    }
    mailer = SmtpMailer(**(given | changes))
    try:
        yield mailer
    finally:
        mailer.finish()


def _failure(mailer: SmtpMailer, raw: bytes = RAW, to: str = TO) -> DeliveryFailed:
    with pytest.raises(DeliveryFailed) as caught:
        mailer.send(raw, to)
    assert str(caught.value) == caught.value.answer
    return caught.value


# A server that behaves


def test_a_letter_arrives_as_it_was_written(server: RealServer) -> None:
    with _mailer(server.port) as mailer:
        assert mailer.send(RAW, TO) == "250 2.0.0 Ok: queued as 4T9W"
    (kept,) = server.kept
    assert (kept.sender, kept.recipients, kept.content) == (FROM, [TO], RAW)
    parsed = email.message_from_bytes(kept.content, policy=email.policy.default)
    plain = parsed.get_body(("plain",))
    html = parsed.get_body(("html",))
    assert plain is not None
    assert html is not None
    assert plain.get_content().replace("\r\n", "\n") == LETTER.plain
    assert html.get_content().replace("\r\n", "\n") == LETTER.html
    assert parsed["Subject"] == LETTER.subject


def test_a_letter_cannot_end_itself_early(server: RealServer) -> None:
    """Dots at the start of lines, and bare line ends that some servers take for an end (RFC 5321, 4.5.2 and 2.3.8)."""
    nasty = b"Subject: x\r\n\r\n.\r\n..\r\na\n.\nb\r.\rMAIL FROM:<evil@example.org>\r\n.\r\nlast"
    with _mailer(server.port) as mailer:
        mailer.send(nasty, TO)
        mailer.send(RAW, TO)
    assert [kept.content for kept in server.kept] == [re.sub(rb"\r\n|\r|\n", b"\r\n", nasty) + b"\r\n", RAW]


def test_a_batch_goes_over_one_connection(server: RealServer) -> None:
    with _mailer(server.port) as mailer:
        for number in range(5):
            mailer.send(RAW, f"teo{number}@garage.example")
        mailer.finish()
        mailer.send(RAW, TO)
    assert [kept.connection for kept in server.kept] == [0, 0, 0, 0, 0, 1]


def test_a_connection_is_renewed_after_so_many_letters(server: RealServer) -> None:
    with _mailer(server.port, letters_per_connection=2) as mailer:
        for _ in range(5):
            mailer.send(RAW, TO)
    assert [kept.connection for kept in server.kept] == [0, 0, 1, 1, 2]


@pytest.mark.parametrize(
    ("answer", "permanent"),
    [
        ("450 4.2.1 mailbox busy", False),
        ("452 4.5.3 too many", False),
        ("550 5.1.1 no such person", True),
        ("553 5.1.3 bad name", True),
    ],
)
def test_a_refused_recipient_harms_nobody_else(server: RealServer, answer: str, *, permanent: bool) -> None:
    """5xx is for good, 4xx is not (RFC 5321, 4.2.1); the letters before and after go over the same connection."""
    server.answers["gone@garage.example"] = answer
    with _mailer(server.port) as mailer:
        mailer.send(RAW, TO)
        failure = _failure(mailer, to="gone@garage.example")
        mailer.send(RAW, "ines@garage.example")
    assert failure.permanent is permanent
    assert failure.answer == answer
    assert [(kept.recipients, kept.connection) for kept in server.kept] == [([TO], 0), (["ines@garage.example"], 0)]


@pytest.mark.parametrize(("answer", "permanent"), [("451 4.3.0 later", False), ("554 5.7.1 looks like spam", True)])
@pytest.mark.parametrize("place", ["DATA", FROM])
def test_a_refused_letter_or_sender(server: RealServer, place: str, answer: str, *, permanent: bool) -> None:
    server.answers[place] = answer
    with _mailer(server.port) as mailer:
        failure = _failure(mailer)
        server.answers.clear()
        mailer.send(RAW, TO)
    assert (failure.permanent, failure.answer) == (permanent, answer)
    assert len(server.kept) == 1


def test_the_size_is_declared(server: RealServer) -> None:
    """RFC 1870: the server may refuse a letter by its size before it is sent."""
    with _mailer(server.port) as mailer:
        mailer.send(RAW, TO)
    assert server.handler.options == [[f"SIZE={len(RAW)}"]]


def test_an_address_outside_ascii_needs_a_server_that_takes_it(server: RealServer) -> None:
    abroad = "té@garage.example"
    with _mailer(server.port) as mailer:
        assert _failure(mailer, message(replace(LETTER, to_mail=abroad)), abroad).permanent
        mailer.send(RAW, TO)
    assert [kept.recipients for kept in server.kept] == [[TO]]
    with RealServer(smtputf8=True) as modern, _mailer(modern.port) as mailer:
        mailer.send(message(replace(LETTER, to_mail=abroad)), abroad)
        assert [kept.recipients for kept in modern.kept] == [[abroad]]


@pytest.mark.parametrize(
    "to", ["", "teo", "a@b.example> NOTIFY=NEVER", "a@b.example\r\nRSET", "a@b.example, c@d.example"]
)
def test_a_recipient_that_is_no_address_never_reaches_the_server(server: RealServer, to: str) -> None:
    with _mailer(server.port) as mailer:
        assert _failure(mailer, to=to).permanent
    assert server.kept == []


# Encryption and sign-in


def test_starttls_and_sign_in(tls_server: RealServer, certificate: tuple[Path, Path]) -> None:
    with _mailer(tls_server.port, "starttls", user="teo", password="0pen secret", ca_file=certificate[0]) as mailer:
        mailer.send(RAW, TO)
        mailer.send(RAW, TO)
    assert [kept.was_encrypted for kept in tls_server.kept] == [True, True]
    assert tls_server.kept[0].content == RAW


def test_tls_from_the_first_byte(certificate: tuple[Path, Path]) -> None:
    with (
        RealServer(certificate=certificate, from_the_first_byte=True) as tls,
        _mailer(tls.port, "tls", ca_file=certificate[0]) as mailer,
    ):
        mailer.send(RAW, TO)
        assert tls.kept[0].content == RAW


@pytest.mark.parametrize("security", ["starttls", "tls"])
def test_a_certificate_nobody_vouches_for_is_not_trusted(certificate: tuple[Path, Path], security: str) -> None:
    with RealServer(certificate=certificate, from_the_first_byte=security == "tls") as tls:
        with _mailer(tls.port, security) as mailer:
            failure = _failure(mailer)
        assert not failure.permanent
        assert "certificate" in failure.answer
        assert tls.kept == []
        with _mailer(tls.port, security, verify_certificate=False) as mailer:
            mailer.send(RAW, TO)
        assert len(tls.kept) == 1


def test_a_wrong_password_waits_for_somebody_to_mend_it(tls_server: RealServer, certificate: tuple[Path, Path]) -> None:
    with _mailer(tls_server.port, "starttls", user="teo", password="wrong", ca_file=certificate[0]) as mailer:
        failure = _failure(mailer)
    assert not failure.permanent, "the letter is not at fault"
    assert "535" in failure.answer
    assert "wrong" not in failure.answer
    assert tls_server.kept == []


def test_a_missing_sign_in_is_no_fault_of_the_letter(tls_server: RealServer, certificate: tuple[Path, Path]) -> None:
    with _mailer(tls_server.port, "starttls", ca_file=certificate[0]) as mailer:
        failure = _failure(mailer)
    assert (failure.permanent, failure.answer[:3]) == (False, "530")


def test_without_starttls_nothing_is_sent(server: RealServer) -> None:
    with _mailer(server.port, "starttls") as mailer:
        failure = _failure(mailer)
    assert not failure.permanent
    assert "STARTTLS" in failure.answer
    assert server.kept == []


def test_a_refused_starttls_is_not_fallen_back_from(scripted: ScriptedServer) -> None:
    def refuse(line: Line) -> None:
        line.say("220 scripted")
        line.hear()
        line.say("250-scripted\r\n250 STARTTLS")
        line.hear()
        line.say("454 TLS not available")
        line.hear()

    scripted.run(refuse)
    with _mailer(scripted.port, "starttls") as mailer:
        failure = _failure(mailer)
    assert (failure.permanent, "454" in failure.answer) == (False, True)
    assert scripted.lines[0].heard[1:] in (["STARTTLS"], ["STARTTLS", ""])


def test_what_was_said_before_encryption_is_forgotten(scripted: ScriptedServer) -> None:
    """RFC 3207, 6. Here what follows the 220 is no handshake, so the connection must fail rather than go on."""

    def inject(line: Line) -> None:
        line.say("220 scripted")
        line.hear()
        line.say("250-scripted\r\n250 STARTTLS")
        line.hear()
        line.say("220 go\r\n250-injected\r\n250 AUTH PLAIN")
        line.hear()

    scripted.run(inject)
    with _mailer(scripted.port, "starttls", user="teo", password="secret", timeout_s=0.5) as mailer:
        assert not _failure(mailer).permanent
    assert not any("AUTH" in heard for heard in scripted.lines[0].heard)


# A server that is away, slow or breaks off


def test_a_server_that_is_away() -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
    with _mailer(port) as mailer:
        failure = _failure(mailer)
    assert not failure.permanent
    assert "127.0.0.1" in failure.answer


def test_a_name_that_cannot_be_looked_up() -> None:
    with _mailer(25, host="a" * 300) as mailer:
        assert not _failure(mailer).permanent


@pytest.mark.parametrize("greeting", ["421 too busy", "554 go away", "hello?", "\0\0\0"])
def test_a_server_that_does_not_greet(scripted: ScriptedServer, greeting: str) -> None:
    scripted.run(lambda line: line.say(greeting))
    with _mailer(scripted.port) as mailer:
        assert not _failure(mailer).permanent


def test_a_kept_connection_that_is_gone_is_opened_anew(scripted: ScriptedServer) -> None:
    def one_letter(line: Line) -> None:
        line.greet_and_grant()
        scripted.letters.append(line.hear_letter())
        line.say("250 taken")

    scripted.run(one_letter)
    with _mailer(scripted.port) as mailer:
        for _ in range(3):
            assert mailer.send(RAW, TO) == "250 taken"
    assert len(scripted.letters) == len(scripted.lines) == 3


def test_a_kept_connection_that_says_421_is_opened_anew(scripted: ScriptedServer) -> None:
    def one_letter_then_421(line: Line) -> None:
        line.greet_and_grant()
        scripted.letters.append(line.hear_letter())
        line.say("250 taken")
        if line.hear() == "MAIL":
            line.say("421 idle for too long")

    scripted.run(one_letter_then_421)
    with _mailer(scripted.port) as mailer:
        mailer.send(RAW, TO)
        mailer.send(RAW, TO)
    assert len(scripted.letters) == 2


def test_a_connection_is_opened_anew_once_and_not_again(scripted: ScriptedServer) -> None:
    def one_letter(line: Line) -> None:
        line.greet_and_grant()
        line.hear_letter()
        line.say("250 taken")

    scripted.run(one_letter, lambda line: line.say("220 hello"))
    with _mailer(scripted.port) as mailer:
        mailer.send(RAW, TO)
        assert not _failure(mailer).permanent
    assert len(scripted.lines) == 2


def test_a_first_connection_that_breaks_off_is_not_tried_again_at_once(scripted: ScriptedServer) -> None:
    def break_off(line: Line) -> None:
        line.say("220 hello")
        line.grant(until="RCPT")

    scripted.run(break_off)
    with _mailer(scripted.port) as mailer:
        assert not _failure(mailer).permanent
    assert len(scripted.lines) == 1


def test_a_letter_whose_answer_was_lost_is_not_sent_again_here(scripted: ScriptedServer) -> None:
    """The gap of RFC 1047: it may have arrived, so only the ledger may decide to send it again."""

    def take_and_vanish(line: Line) -> None:
        line.greet_and_grant()
        scripted.letters.append(line.hear_letter())

    scripted.run(take_and_vanish)
    with _mailer(scripted.port) as mailer:
        failure = _failure(mailer)
    assert not failure.permanent
    assert "may have arrived" in failure.answer
    assert (len(scripted.letters), len(scripted.lines)) == (1, 1)


def test_after_a_lost_answer_the_next_letter_has_a_fresh_connection(scripted: ScriptedServer) -> None:
    def take_and_vanish(line: Line) -> None:
        line.greet_and_grant()
        line.hear_letter()

    def take(line: Line) -> None:
        line.greet_and_grant()
        line.hear_letter()
        line.say("250 taken")

    scripted.run(take_and_vanish, take)
    with _mailer(scripted.port) as mailer:
        _failure(mailer)
        assert mailer.send(RAW, TO) == "250 taken"


def _took_s(started_s: float) -> float:
    return time.monotonic() - started_s


def _hang_after_greeting(line: Line) -> None:
    line.say("220 hello")
    line.hear()
    line.hear()


def _drip_at_rcpt(line: Line) -> None:
    line.say("220 hello")
    line.grant(until="MAIL")
    line.hear()
    drip(line, "250-slow\r\n")


def _never_greet(line: Line) -> None:
    line.hear()


HANGS: dict[str, Script] = {
    "never greets": _never_greet,
    "greets one octet at a time": lambda line: drip(line, "220-slow\r\n"),
    "hangs after the greeting": _hang_after_greeting,
    "answers RCPT one octet at a time": _drip_at_rcpt,
    "talks without end": lambda line: drip(line, "220-" + "x" * 500 + "\r\n", every_s=0.0),
    "never ends a line": lambda line: drip(line, "x" * 1000, every_s=0.0),
}


@pytest.mark.parametrize("how", HANGS)
def test_a_server_that_hangs_or_drips_is_given_up_after_the_time_for_a_command(
    scripted: ScriptedServer, how: str
) -> None:
    scripted.run(HANGS[how])
    with _mailer(scripted.port, timeout_s=0.4, total_timeout_s=20.0) as mailer:
        started_s = time.monotonic()
        failure = _failure(mailer)
        assert _took_s(started_s) < 6.0
    assert not failure.permanent


def test_after_the_final_dot_the_server_may_take_longer_but_not_for_ever(scripted: ScriptedServer) -> None:
    """RFC 5321, 4.5.3.2.6: the last answer may take long, and giving up early makes double letters."""

    def late(line: Line) -> None:
        line.greet_and_grant()
        line.hear_letter()
        time.sleep(0.8)
        line.say("250 late, but taken")

    def never(line: Line) -> None:
        line.greet_and_grant()
        line.hear_letter()
        line.hear()

    scripted.run(late, never)
    with _mailer(scripted.port, timeout_s=0.3, total_timeout_s=8.0) as mailer:
        assert mailer.send(RAW, TO) == "250 late, but taken"
    with _mailer(scripted.port, timeout_s=0.3, total_timeout_s=1.0) as mailer:
        started_s = time.monotonic()
        failure = _failure(mailer)
        assert _took_s(started_s) < 5.0
    assert not failure.permanent


def test_the_time_for_a_letter_holds_over_all_its_commands(scripted: ScriptedServer) -> None:
    """Each command is answered in its time, all of them together take too long."""

    def slow(line: Line) -> None:
        time.sleep(0.3)
        line.say("220 hello")
        while line.hear():
            time.sleep(0.3)
            line.say("250 ok")

    scripted.run(slow)
    with _mailer(scripted.port, timeout_s=5.0, total_timeout_s=0.7) as mailer:
        started_s = time.monotonic()
        assert not _failure(mailer).permanent
        assert _took_s(started_s) < 4.0


def test_a_server_that_reads_slowly_is_given_up(scripted: ScriptedServer) -> None:
    def read_nothing(line: Line) -> None:
        line.greet_and_grant()
        scripted.is_over.wait(30.0)

    scripted.run(read_nothing)
    big = RAW + b"x" * 70 + b"\r\n" + (b"y" * 900 + b"\r\n") * 20_000
    with _mailer(scripted.port, timeout_s=0.4, total_timeout_s=1.5) as mailer:
        started_s = time.monotonic()
        assert not _failure(mailer, big).permanent
        assert _took_s(started_s) < 8.0


def test_the_servers_words_are_passed_on_in_one_printable_line(scripted: ScriptedServer) -> None:
    def odd(line: Line) -> None:
        line.say("220 hello")
        line.grant(until="MAIL")
        line.hear()
        line.say_raw(b"550-no \x1b[31m such\r\n550 p\xc3\xa9rson " + b"z" * 900 + b"\r\n")
        line.hear()

    scripted.run(odd)
    with _mailer(scripted.port) as mailer:
        answer = _failure(mailer).answer
    assert answer.startswith("550 no [31m such pérson z")
    assert answer.isprintable()
    assert len(answer) < 410


# Settings


@pytest.mark.parametrize(
    "changes",
    [
        {"security": "ssl"},
        {"host": ""},
        {"port": 0},
        {"timeout_s": 0.0},
        {"from_address": "nobody"},
        {"host": "mail.example", "user": "teo", "password": "x"},
        {"user": "téo", "password": "x"},
    ],
)
def test_settings_that_cannot_work_are_refused_before_anything_is_sent(changes: dict[str, Any]) -> None:
    with pytest.raises(BadSettings), _mailer(**({"port": 25} | changes)):
        pass


def test_a_mailer_that_sent_nothing_can_be_finished() -> None:
    with _mailer(25) as mailer:
        mailer.finish()
