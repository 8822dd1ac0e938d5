"""Letters through a program: called as sendmail is, never by a shell, and ended when its time is over."""

from __future__ import annotations

import contextlib
import sys
import time
from pathlib import Path

import pytest

from fleetcare.errors import BadSettings, DeliveryFailed
from fleetcare.mailer.pipe import PipeMailer
from tests.mailer.letters import FROM, TO, message
from tests.mailer.programs import keeping_program, write_program

RAW = message()


def _failure(mailer: PipeMailer, to: str = TO) -> DeliveryFailed:
    with pytest.raises(DeliveryFailed) as caught:
        mailer.send(RAW, to)
    assert str(caught.value) == caught.value.answer
    return caught.value


def test_the_program_is_told_sender_and_recipient_and_gets_the_message_with_plain_line_ends(tmp_path: Path) -> None:
    program = keeping_program(tmp_path / "p")
    mailer = PipeMailer(f"{program.command} --more 'of it'", from_address=FROM)
    assert mailer.send(RAW, TO) == "taken by take a letter"
    assert program.words == [["--more", "of it", "-i", "-f", FROM, "--", TO]]
    assert program.messages == [RAW.replace(b"\r\n", b"\n")]


@pytest.mark.parametrize(
    "to", ["-oX/etc/passwd@x.example", "a b@x.example", "$(touch x)@x.example", "`x`@y.example", "|cat@x.example"]
)
def test_an_address_is_never_an_option_nor_read_by_a_shell(tmp_path: Path, to: str) -> None:
    program = keeping_program(tmp_path / "p")
    mailer = PipeMailer(program.command, from_address=FROM)
    with contextlib.suppress(DeliveryFailed):
        mailer.send(RAW, to)
    assert [words[-2:] for words in program.words] in ([], [["--", to]])
    assert mailer.send(RAW, TO)
    assert not (tmp_path / "x").exists()


@pytest.mark.parametrize(
    ("status", "permanent", "server_away"),
    [(65, True, False), (67, True, False), (68, True, False), (75, False, False), (69, False, True), (1, False, True)],
)
def test_how_it_ends_says_whether_trying_again_is_of_use(
    tmp_path: Path, status: int, permanent: bool, server_away: bool
) -> None:
    """sysexits.h: 65 EX_DATAERR, 67 EX_NOUSER, 68 EX_NOHOST, 69 EX_UNAVAILABLE, 75 EX_TEMPFAIL."""
    program = keeping_program(tmp_path / "p")
    mailer = PipeMailer(program.command, from_address=FROM)
    program.end_next_with(status, "no\x1b[31m luck\n" + "z" * 3000)
    failure = _failure(mailer)
    assert (failure.permanent, failure.server_away) == (permanent, server_away)
    assert "no [31m luck z" in failure.answer
    assert failure.answer.isprintable()
    assert len(failure.answer) < 500
    assert mailer.send(RAW, TO), "the next one goes"


def test_a_program_that_is_not_there_is_the_servers_trouble(tmp_path: Path) -> None:
    failure = _failure(PipeMailer(str(tmp_path / "nowhere"), from_address=FROM))
    assert (failure.permanent, failure.server_away) == (False, True)
    assert "nowhere" in failure.answer


@pytest.mark.parametrize("reads", [True, False])
def test_a_program_that_hangs_is_ended_with_all_it_started(tmp_path: Path, reads: bool) -> None:
    text = f"#!/bin/sh\n{'cat >/dev/null' if reads else ''}\nsleep 60 &\necho $! >{tmp_path}/child\nwait\n"
    program = write_program(tmp_path / "p", text)
    began_s = time.monotonic()
    big = RAW + b"x" * 1_000_000
    mailer = PipeMailer(program.command, from_address=FROM, timeout_s=1.0)
    with pytest.raises(DeliveryFailed, match="took too long") as caught:
        mailer.send(big, TO)
    assert not caught.value.permanent
    assert time.monotonic() - began_s < 20
    child = Path(f"/proc/{(tmp_path / 'child').read_text().strip()}/stat")
    ends_at = time.monotonic() + 20
    while child.exists() and child.read_text().rpartition(")")[2].split()[0] != "Z" and time.monotonic() < ends_at:
        time.sleep(0.02)
    assert not child.exists() or child.read_text().rpartition(")")[2].split()[0] == "Z"


def test_a_program_that_reads_nothing_and_is_content_took_it(tmp_path: Path) -> None:
    program = write_program(tmp_path / "p", f"#!{sys.executable} -I\n")
    assert PipeMailer(program.command, from_address=FROM).send(RAW + b"x" * 1_000_000, TO)


@pytest.mark.parametrize("command", ["", "sendmail", "'/usr/sbin/sendmail", "bin/sendmail -x"])
def test_a_command_without_a_whole_path_is_refused(command: str) -> None:
    with pytest.raises(BadSettings):
        PipeMailer(command, from_address=FROM)
