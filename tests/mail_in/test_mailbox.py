"""A mailbox of a real server gives what is for us and not looked at yet, and touches nothing else."""

from __future__ import annotations

import socket
import threading
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fleetcare.errors import BadSettings, MailboxTrouble
from fleetcare.mail_in.mailbox import MOST_OCTETS, ImapMailbox
from tests.mail_in.imap_server import PASSWORD, USER, ImapServer
from tests.mail_in.test_said import ADDRESSES, mail


def mailbox(
    port: int, *, host: str = "127.0.0.1", password: str = PASSWORD, security: str = "none", **more: object
) -> ImapMailbox:
    given = {"folder": "INBOX", "addresses": ADDRESSES, "timeout_s": 5.0, "total_timeout_s": 20.0, **more}
    return ImapMailbox(host, port, security, USER, password, **given)  # type: ignore[arg-type]


def test_what_is_for_us_waits_until_it_is_marked(server: ImapServer) -> None:
    server.deliver(mail("84210\n"))
    server.deliver(mail("hello\n", to="ines@garage.karstridge.example"))
    server.deliver(mail("84300\n"))
    box = mailbox(server.port)
    began = datetime.now(UTC)
    with box.opened() as inside:
        first, second = inside.waiting()
        assert b"84210" in first.raw
        assert b"84300" in second.raw
        assert first.arrived_at is not None
        assert abs((began - first.arrived_at).total_seconds()) < 3600
        inside.mark_seen(first)
    assert server.seen() == [True, False, False], "the letter to somebody else is not ours to mark"
    with box.opened() as inside:
        assert [each.raw for each in inside.waiting()] == [second.raw]


def test_of_a_large_mail_the_beginning_is_fetched(server: ImapServer) -> None:
    server.deliver(mail("84210\n" + "x" * 70 * 1000 + "\n") + b"\r\n".join([b"y" * 70] * 20_000))
    with mailbox(server.port).opened() as inside:
        (only,) = inside.waiting()
    assert len(only.raw) == MOST_OCTETS
    assert b"84210" in only.raw


def test_a_wrong_password_is_said_in_one_line(server: ImapServer) -> None:
    # The server's own account takes one password alone.
    with (
        pytest.raises(MailboxTrouble, match="could not be read") as caught,
        mailbox(server.port, password="x").opened(),
    ):
        pass
    assert "\n" not in str(caught.value)
    assert '"x"' not in str(caught.value)


def test_a_folder_that_is_not_there_is_said(server: ImapServer) -> None:
    with pytest.raises(MailboxTrouble), mailbox(server.port, folder='no "such" folder').opened():
        pass


def test_starttls_is_never_left_out(server: ImapServer, certificate: tuple[Path, Path]) -> None:
    with pytest.raises(MailboxTrouble), mailbox(server.port, security="starttls").opened():
        pass
    with ImapServer(certificate) as encrypted:
        encrypted.deliver(mail())
        with pytest.raises(MailboxTrouble, match="certificate"), mailbox(encrypted.port, security="starttls").opened():
            pass
        box = mailbox(encrypted.port, security="starttls", ca_file=certificate[0])
        with box.opened() as inside:
            assert len(list(inside.waiting())) == 1


def test_tls_from_the_first_byte(certificate: tuple[Path, Path]) -> None:
    with ImapServer(certificate) as encrypted:
        encrypted.deliver(mail("84210\n"))
        box = mailbox(encrypted.tls_port, security="tls", ca_file=certificate[0])
        with box.opened() as inside:
            (only,) = inside.waiting()
            inside.mark_seen(only)
        assert b"84210" in only.raw
        assert encrypted.seen() == [True]
        with pytest.raises(MailboxTrouble), mailbox(encrypted.port, security="tls", timeout_s=2.0).opened():
            pass  # that port does not begin with TLS, and nothing is said to it in the open


@pytest.mark.parametrize("security", ["tls", "starttls"])
def test_a_certificate_that_is_not_trusted_is_said_with_what_to_do_and_nobody_signs_in(
    certificate: tuple[Path, Path], other_certificate: tuple[Path, Path], security: str
) -> None:
    """One that nobody vouches for, one that is vouched for by another than is named, and one for another name."""
    with ImapServer(certificate) as encrypted:
        port = encrypted.tls_port if security == "tls" else encrypted.port
        before = encrypted.log().count("Login:")
        wrong = [
            ({}, "self.signed certificate"),
            ({"ca_file": other_certificate[0]}, "certificate"),
            ({"ca_file": certificate[0], "host": "127.0.0.2"}, "127.0.0.2"),
        ]
        for given, why in wrong:
            with (
                pytest.raises(MailboxTrouble, match=f"is not trusted .*{why}.* ca_file under \\[replies\\]"),
                mailbox(port, security=security, **given).opened(),  # type: ignore[arg-type]
            ):
                pass
        assert encrypted.log().count("Login:") == before


def test_a_server_that_is_not_there_or_says_nothing_is_trouble() -> None:
    with socket.socket() as sock:
        sock.bind(("127.0.0.1", 0))
        with pytest.raises(MailboxTrouble), mailbox(sock.getsockname()[1]).opened():
            pass
        sock.listen()
        with pytest.raises(MailboxTrouble), mailbox(sock.getsockname()[1], timeout_s=0.2).opened():
            pass


@pytest.mark.parametrize(
    "said", [b"* OK {2000000000}\r\n", b"x", b"* OK hello\r\n* "], ids=["literal", "drip", "greets"]
)
def test_a_server_that_never_comes_to_an_end_is_left(said: bytes) -> None:
    """It sends an octet now and then, so that no wait of its own ever ends; the round in all does."""
    over = threading.Event()
    with socket.create_server(("127.0.0.1", 0)) as listener:

        def drip() -> None:
            line, _ = listener.accept()
            with line:
                try:
                    line.sendall(said)
                    while not over.wait(0.05):
                        line.sendall(b"x")
                except OSError:
                    return

        thread = threading.Thread(target=drip)
        thread.start()
        box = mailbox(listener.getsockname()[1], total_timeout_s=1.0)
        with pytest.raises(MailboxTrouble), box.opened():
            pass
        over.set()
        thread.join()


def test_a_password_outside_ascii_is_refused_before_anything_is_called() -> None:
    with pytest.raises(BadSettings):
        mailbox(1, password="gehe\u00efm")
