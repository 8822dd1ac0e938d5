"""A real IMAP server (Dovecot) on loopback, with a mailbox in a folder of its own."""

from __future__ import annotations

import contextlib
import getpass
import grp
import imaplib
import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from pathlib import Path
from types import TracebackType

import pytest

USER, PASSWORD = "readings", "0pen-secret"

_CONFIG = """\
protocols = imap
listen = 127.0.0.1, 127.0.0.2
base_dir = {folder}/run
state_dir = {folder}/state
log_path = {folder}/log
default_internal_user = {account}
default_internal_group = {group}
default_login_user = {account}
disable_plaintext_auth = no
auth_failure_delay = 0
first_valid_uid = 1
mail_location = maildir:{folder}/mail
mail_fsync = never
ssl = {ssl}
passdb {{
  driver = static
  args = password={password}
}}
userdb {{
  driver = static
  args = uid={uid} gid={gid} home={folder}/home
}}
service imap-login {{
  chroot =
  inet_listener imap {{
    port = {port}
  }}
  inet_listener imaps {{
    port = {tls_port}
    ssl = yes
  }}
}}
service anvil {{
  chroot =
}}
service stats {{
  chroot =
}}
"""


class ImapServer:
    """Dovecot with one account. It runs as whoever runs the tests; under root as nobody, whose mail it may read."""

    def __init__(self, certificate: tuple[Path, Path] | None = None) -> None:
        """certificate: with it STARTTLS is offered, and `tls_port` speaks TLS from the first byte.

        Skips the test where Dovecot is not there.
        """
        self.program = shutil.which("dovecot") or shutil.which("dovecot", path="/usr/sbin:/usr/local/sbin")
        if self.program is None:
            pytest.skip("the dovecot command is not there (apt-get install dovecot-imapd)")
        # Its sockets want a short path.
        self.folder = Path(tempfile.mkdtemp(prefix="imap-"))
        self.port = _free_port()
        self.tls_port = 0 if certificate is None else _free_port()
        account = pwd.getpwnam("nobody" if os.geteuid() == 0 else getpass.getuser())
        ssl = "no"
        if certificate is not None:
            ssl = f"yes\nssl_cert = <{certificate[0]}\nssl_key = <{certificate[1]}"
        for name in ("mail", "mail/new", "mail/cur", "mail/tmp", "home"):
            (self.folder / name).mkdir()
        self.config = self.folder / "dovecot.conf"
        self.config.write_text(
            _CONFIG.format(
                folder=self.folder,
                account=account.pw_name,
                group=grp.getgrgid(account.pw_gid).gr_name,
                uid=account.pw_uid,
                gid=account.pw_gid,
                password=PASSWORD,
                port=self.port,
                tls_port=self.tls_port,
                ssl=ssl,
            ),
            encoding="utf-8",
        )
        if os.geteuid() == 0:
            self.folder.chmod(0o755)
            for path in [self.folder, *self.folder.rglob("*")]:
                os.chown(path, account.pw_uid, account.pw_gid)
        self._account = account
        self._count = 0

    def __enter__(self) -> ImapServer:
        assert self.program is not None
        self._process = subprocess.Popen(
            [self.program, "-F", "-c", str(self.config)], stdout=subprocess.PIPE, stderr=subprocess.STDOUT
        )
        ends = time.monotonic() + 20
        while True:
            with contextlib.suppress(OSError, imaplib.IMAP4.error):
                self.line().logout()
                return self
            if self._process.poll() is not None or time.monotonic() > ends:
                self._process.kill()
                said = self._process.communicate()[0].decode() + self.log()
                raise RuntimeError(f"the mailbox server does not start: {said}")
            time.sleep(0.05)

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._process.send_signal(signal.SIGTERM)
        self._process.communicate(timeout=20)
        shutil.rmtree(self.folder, ignore_errors=True)

    def line(self) -> imaplib.IMAP4:
        """A connection of the test's own, signed in, with the mailbox selected."""
        line = imaplib.IMAP4("127.0.0.1", self.port, timeout=10)
        line.login(USER, PASSWORD)
        line.select()
        return line

    def deliver(self, raw: bytes) -> None:
        """Puts a mail into the mailbox, as a mail server would."""
        line = self.line()
        status, said = line.append("INBOX", "", "", raw)
        assert status == "OK", said
        line.logout()

    def seen(self) -> list[bool]:
        """For each mail in the mailbox, in order, whether it is marked as read."""
        line = self.line()
        found = line.fetch("1:*", "(FLAGS)")[1]
        line.logout()
        return [b"\\Seen" in each for each in found if isinstance(each, bytes)]

    def log(self) -> str:
        """What the server wrote down."""
        path = self.folder / "log"
        return path.read_text(encoding="utf-8", errors="replace") if path.exists() else ""


def _free_port() -> int:
    with socket.socket() as sock:
        sock.bind(("127.0.0.1", 0))
        return int(sock.getsockname()[1])
