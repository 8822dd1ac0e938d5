"""A command in a terminal of its own, whose keys can be pressed; and the processes it has begun."""

from __future__ import annotations

import os
import re
import select
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from tests.house.tree import ROOT

CTRL_C = b"\x03"
PATIENCE_S = 120.0
# The terminal becomes that of the command, so that Ctrl-C goes to it and to whatever it has begun. A shell that starts
# a test run in the background has it ignore the signal, and every process below it.
PROGRAM = """
import fcntl, signal, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
signal.signal(signal.SIGINT, signal.default_int_handler)
from fleetcare.cli import main
main()
"""


@dataclass
class InTerminal:
    """One command that runs: what it prints goes to a pipe, what it says beside that to the terminal."""

    words: tuple[str, ...]
    seen: bytes = b""
    process: subprocess.Popen[bytes] = field(init=False)
    _ours: int = field(init=False)

    def __post_init__(self) -> None:
        self._ours, its = os.openpty()
        self.process = subprocess.Popen(
            [sys.executable, "-c", PROGRAM, *self.words],
            cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT), "TERM": "xterm", "COLUMNS": "200"},
            stdin=its,
            stdout=subprocess.PIPE,
            stderr=its,
            start_new_session=True,
        )
        os.close(its)

    def press(self, key: bytes) -> None:
        """A key on its terminal."""
        os.write(self._ours, key)

    def wait_for(self, what: bytes) -> None:
        """Until the terminal has shown what this regular expression finds."""
        self._read_until(lambda: re.search(what, self.seen) is not None)
        assert re.search(what, self.seen), self.seen

    def ended(self) -> tuple[int, str]:
        """Its status and what it printed, once it has ended."""
        assert self.process.stdout is not None
        with self.process.stdout as pipe:
            printed = pipe.read().decode()
        status = self.process.wait(PATIENCE_S)
        self._read_until(lambda: False)
        os.close(self._ours)
        return status, printed

    def _read_until(self, is_enough: Callable[[], bool]) -> None:
        end = time.monotonic() + PATIENCE_S
        while not is_enough() and time.monotonic() < end:
            if not select.select([self._ours], [], [], 0.1)[0]:
                continue
            try:
                self.seen += os.read(self._ours, 65536)
            except OSError:  # the other end is closed
                return


def begun_by(process: int) -> list[int]:
    """Processes that it has begun and that have not ended."""
    found: list[int] = []
    for task in Path(f"/proc/{process}/task").iterdir():
        with suppress(FileNotFoundError):  # a thread that has ended meanwhile
            found += map(int, (task / "children").read_text(encoding="ascii").split())
    return found
