"""Nobody is told that a reading was saved before it is on the disk: the order of the system calls, read by strace.

`python -m tests.faults.reading_syncs [READINGS]` runs the full number, two hundred, and prints what came of it.
"""

from __future__ import annotations

import re
import shutil
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

from tests.faults.reading_kills import _next, _send
from tests.faults.reading_server import ReadingServer, demo_server

FULL = 200
CALLS = "fsync,fdatasync,pwrite64,write,writev,sendto,sendmsg"
_WRITTEN = re.compile(r"pwrite64\(\d+<[^>]*-wal>")
_SYNCED = re.compile(r"f(?:data)?sync\(\d+<[^>]*-wal>\)\s*=\s*0")
_SYNC_ENDED = re.compile(r"<\.\.\. f(?:data)?sync resumed>.*=\s*0")
_ANSWERED = re.compile(r"(?:sendto|write|writev|sendmsg)\(.*HTTP/1\.1 201")


@dataclass(frozen=True)
class Order:
    """answers: acknowledgements seen. early: those before which nothing was synced since it was written."""

    answers: int
    early: int


def can_trace() -> bool:
    """Whether strace is here."""
    return shutil.which("strace") is not None


def order_of(trace: str) -> Order:
    """Reads a trace: before each answer that acknowledges, what was written last to the log is on the disk."""
    answers = early = 0
    is_synced = False
    for line in trace.splitlines():
        if _WRITTEN.search(line):
            is_synced = False
        elif _SYNCED.search(line) or _SYNC_ENDED.search(line):
            is_synced = True
        elif _ANSWERED.search(line):
            answers += 1
            early += not is_synced
            is_synced = False
    return Order(answers, early)


def run(server: ReadingServer, readings: int, trace: Path) -> Order:
    """So many readings over HTTP, one after the other, with every write and sync of the server written down."""
    server.start("strace", "-f", "-y", "-s", "32", "-e", f"trace={CALLS}", "-o", str(trace))
    try:
        for number in range(readings):
            assert _send(server, _next(number))
    finally:
        server.kill()
    return order_of(trace.read_text(errors="replace"))


def main() -> None:
    """The full number."""
    readings = int(sys.argv[1]) if len(sys.argv) > 1 else FULL
    with tempfile.TemporaryDirectory() as folder:
        found = run(demo_server(Path(folder) / "home"), readings, Path(folder) / "trace")
    print(f"{found.answers} readings acknowledged, {found.early} of them before the sync")
    sys.exit(1 if found.early or found.answers < readings else 0)


if __name__ == "__main__":
    main()
