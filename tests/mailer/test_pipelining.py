"""Commands in groups (RFC 2920), to servers that say they can: fewer waits, and nothing of a letter before its turn."""

from __future__ import annotations

import pytest

from fleetcare.errors import DeliveryFailed
from fleetcare.mailer.smtp import SmtpMailer
from tests.mailer.letters import FROM, TO
from tests.mailer.servers import Line, RealServer, ScriptedServer

RAW = b"Subject: Garage letter\r\n\r\nNothing begins with a dot.\r\n"
INES = "ines@garage.example"
QUIET_S = 0.3


def mailer_to(port: int, *, letters_per_connection: int = 100) -> SmtpMailer:
    return SmtpMailer(
        "127.0.0.1",
        port,
        "none",
        from_address=FROM,
        timeout_s=5.0,
        total_timeout_s=10.0,
        letters_per_connection=letters_per_connection,
    )


def greet(line: Line, extension: str = "PIPELINING") -> None:
    line.say("220 scripted")
    assert line.hear() == "EHLO"
    line.say(f"250-scripted\r\n250 {extension}")


def hear_group(line: Line) -> list[str]:
    """Three commands, none of which was answered."""
    return [line.hear() for _ in range(3)]


def grant_group(line: Line) -> None:
    line.say_raw(b"250 ok\r\n250 ok\r\n354 go on\r\n")


def take(line: Line, kept: ScriptedServer) -> None:
    """A letter after 354; it is not answered yet."""
    kept.letters.append(line.hear_letter())


def test_the_commands_before_a_letter_go_out_together(scripted: ScriptedServer) -> None:
    groups: list[list[str]] = []

    def script(line: Line) -> None:
        greet(line)
        groups.append(hear_group(line))
        grant_group(line)
        take(line, scripted)
        line.say("250 taken")
        line.hear()

    scripted.run(script)
    mailer = mailer_to(scripted.port)
    assert mailer.send(RAW, TO) == "250 taken"
    mailer.finish()
    assert groups == [["MAIL", "RCPT", "DATA"]]
    assert scripted.letters == [RAW]


def test_to_a_server_that_does_not_say_it_can_they_go_out_one_by_one(scripted: ScriptedServer) -> None:
    more: list[bool] = []

    def script(line: Line) -> None:
        greet(line, "SIZE 1000000")
        for answer in ("250 ok", "250 ok", "354 go on"):
            line.hear()
            more.append(line.has_more(QUIET_S))
            line.say(answer)
        take(line, scripted)
        more.append(line.has_more(QUIET_S))
        line.say("250 taken")
        line.hear()

    scripted.run(script)
    mailer = mailer_to(scripted.port)
    mailer.send(RAW, TO, next_to_mail=INES)
    mailer.finish()
    assert more == [False] * 4
    assert scripted.lines[0].heard[-1] == "QUIT"


def test_the_next_letter_is_asked_for_behind_the_one_before_and_none_of_it_goes_out(scripted: ScriptedServer) -> None:
    groups: list[list[str]] = []
    more: list[bool] = []

    def script(line: Line) -> None:
        greet(line)
        hear_group(line)
        grant_group(line)
        take(line, scripted)
        groups.append(hear_group(line))  # before the letter was answered
        line.say("250 the first")
        grant_group(line)
        more.append(line.has_more(QUIET_S))  # the mailer has not been given the second
        scripted.is_over.wait(0.01)
        take(line, scripted)
        line.say("250 the second")
        line.hear()

    scripted.run(script)
    mailer = mailer_to(scripted.port)
    assert mailer.send(RAW, TO, next_to_mail=INES) == "250 the first"
    while not more:
        scripted.is_over.wait(0.01)
    assert mailer.send(RAW, INES) == "250 the second"
    mailer.finish()
    assert (groups, more) == ([["MAIL", "RCPT", "DATA"]], [False])
    assert f"RCPT TO:<{INES}>" in scripted.lines[0].heard
    assert len(scripted.letters) == 2


def test_if_another_letter_follows_than_was_asked_for_the_one_asked_for_is_not_sent() -> None:
    with RealServer(extensions=("PIPELINING",)) as server:
        mailer = mailer_to(server.port)
        mailer.send(RAW, TO, next_to_mail=INES)
        mailer.send(RAW, "noor@garage.example", next_to_mail=INES)
        mailer.send(RAW, INES)
        mailer.finish()
        assert [(kept.recipients, kept.connection) for kept in server.kept] == [
            ([TO], 0),
            (["noor@garage.example"], 1),
            ([INES], 1),
        ]


def test_a_batch_that_ends_after_the_server_was_asked_sends_it_no_letter(scripted: ScriptedServer) -> None:
    """It waits for one by then: QUIT would be the first line of it."""
    rest: list[bytes] = []

    def script(line: Line) -> None:
        greet(line)
        hear_group(line)
        grant_group(line)
        take(line, scripted)
        hear_group(line)
        line.say("250 the first")
        grant_group(line)
        rest.append(line.hear_letter())

    scripted.run(script)
    mailer = mailer_to(scripted.port)
    mailer.send(RAW, TO, next_to_mail=INES)
    mailer.finish()
    while not rest:
        scripted.is_over.wait(0.01)
    assert rest == [b""]


@pytest.mark.parametrize(("answer", "permanent"), [("450 4.2.1 busy", False), ("550 5.1.1 no such person", True)])
@pytest.mark.parametrize("ahead", [True, False])
def test_a_refused_recipient_harms_nobody_else(answer: str, *, permanent: bool, ahead: bool) -> None:
    """aiosmtpd answers DATA with 503 then."""
    with RealServer(extensions=("PIPELINING",)) as server:
        server.answers["gone@garage.example"] = answer
        mailer = mailer_to(server.port)
        mailer.send(RAW, TO, next_to_mail="gone@garage.example" if ahead else None)
        with pytest.raises(DeliveryFailed) as caught:
            mailer.send(RAW, "gone@garage.example", next_to_mail=INES)
        mailer.send(RAW, INES)
        mailer.finish()
        assert (caught.value.answer, caught.value.permanent, caught.value.server_away) == (answer, permanent, False)
        assert [(kept.recipients, kept.connection) for kept in server.kept] == [([TO], 0), ([INES], 0)]


def test_a_server_that_wants_a_letter_to_nobody_is_given_an_empty_one(scripted: ScriptedServer) -> None:
    """RFC 2920, 3.1: it may say 354 to DATA although it took no recipient."""

    def script(line: Line) -> None:
        greet(line)
        hear_group(line)
        line.say_raw(b"250 ok\r\n550 no such person\r\n354 go on\r\n")
        take(line, scripted)
        line.say("554 for nobody")
        assert line.hear() == "RSET"
        line.say("250 ok")
        hear_group(line)
        grant_group(line)
        take(line, scripted)
        line.say("250 taken")
        line.hear()

    scripted.run(script)
    mailer = mailer_to(scripted.port)
    with pytest.raises(DeliveryFailed) as caught:
        mailer.send(RAW, TO)
    assert (caught.value.answer, caught.value.permanent) == ("550 no such person", True)
    assert mailer.send(RAW, INES) == "250 taken"
    mailer.finish()
    assert scripted.letters == [b"", RAW]


@pytest.mark.parametrize("last_words", ["", "421 4.4.2 closing", "250 ok\r\n421 4.4.2 closing"])
def test_a_connection_that_ends_after_it_was_asked_is_opened_anew(scripted: ScriptedServer, last_words: str) -> None:
    def one_letter(line: Line) -> None:
        greet(line)
        hear_group(line)
        grant_group(line)
        take(line, scripted)
        line.say("250 taken")
        if line.hear() == "MAIL" and last_words:
            line.say(last_words)

    scripted.run(one_letter)
    mailer = mailer_to(scripted.port)
    mailer.send(RAW, TO, next_to_mail=INES)
    mailer.send(RAW, INES)
    mailer.finish()
    assert (scripted.letters, len(scripted.lines)) == ([RAW, RAW], 2)


def test_a_server_that_cannot_bear_to_be_asked_ahead_is_soon_not_asked_any_more(scripted: ScriptedServer) -> None:
    """It says it can, takes the letter, and breaks off without an answer when more follows: each would come twice."""

    def touchy(line: Line) -> None:
        greet(line)
        while line.hear() == "MAIL":
            line.hear()
            line.hear()
            grant_group(line)
            take(line, scripted)
            if line.has_more(QUIET_S):
                return
            line.say("250 taken")

    scripted.run(touchy)
    mailer = mailer_to(scripted.port)
    for _ in range(2):
        with pytest.raises(DeliveryFailed, match="may have arrived"):
            mailer.send(RAW, TO, next_to_mail=TO)
    for _ in range(3):
        assert mailer.send(RAW, TO, next_to_mail=TO) == "250 taken"
    mailer.finish()
    assert len(scripted.letters) == 5


def test_a_connection_that_has_carried_its_letters_is_not_asked_for_another() -> None:
    with RealServer(extensions=("PIPELINING",)) as server:
        mailer = mailer_to(server.port, letters_per_connection=2)
        for number in range(5):
            mailer.send(RAW, TO, next_to_mail=TO if number < 4 else None)
        mailer.finish()
        assert [kept.connection for kept in server.kept] == [0, 0, 1, 1, 2]
        size = [f"SIZE={len(RAW)}"]
        assert server.handler.options == [size, [], size, [], size], "told where it is asked for by its own letter"
