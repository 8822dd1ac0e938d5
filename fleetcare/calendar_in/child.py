"""A calendar is taken apart in a child process that may use so much processor time, memory and time, and no more."""

from __future__ import annotations

import logging
import os
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

import fleetcare
from fleetcare.calendar_in.expanding import Task
from fleetcare.errors import CalendarTrouble

_START = (
    "import sys; sys.path.append(sys.argv[1]); from fleetcare.calendar_in.expanding import main; main(sys.argv[2:])"
)
log = logging.getLogger(__name__)
_TOO_LONG = "It takes too long to work out."
_LESS = "Offer a calendar with fewer or simpler repeats."


def answer_of_child(raw: bytes, task: Task) -> bytes:
    """What the child says of a calendar: JSON as `expanding` describes it.

    Raises CalendarTrouble if it went over a limit or came to grief. The child ends by itself if this process is killed.
    """
    package = Path(fleetcare.__file__).parent.parent
    # Files, not pipes: the kernel then limits what the child writes, and neither side can wait for the other.
    with tempfile.TemporaryFile() as given, tempfile.TemporaryFile() as said:
        given.write(raw)
        given.seek(0)
        with subprocess.Popen(  # noqa: S603 - our own program, by its full path
            [sys.executable, "-I", "-c", _START, str(package), task.as_text(), str(os.getpid())],
            stdin=given,
            stdout=said,
            stderr=subprocess.DEVNULL,
            env={},
            cwd="/",
            close_fds=True,
            start_new_session=True,
        ) as child:
            try:
                code = child.wait(task.limits.child_s)
            except subprocess.TimeoutExpired:
                child.kill()
                raise CalendarTrouble(_TOO_LONG, remedy=_LESS) from None
            except BaseException:
                child.kill()
                raise
        said.seek(0)
        answer = said.read(task.limits.result_octets + 1)
    if code == -signal.SIGXCPU:
        raise CalendarTrouble(_TOO_LONG, remedy=_LESS)
    if code != 0 or len(answer) > task.limits.result_octets:
        # Of what it said itself nothing is written down: it may quote the calendar.
        log.warning("the process that read a calendar ended with %s after %s octets", code, len(answer))
        raise CalendarTrouble("It could not be read: the process that read it ended.", remedy="It is tried again.")
    return answer
