"""A search in a child process, so that whoever asked for it keeps the processor for its readers.

One child answers for as many problems as it is given, one after another: it begins with the first and ends with
`close`. It may be ended at any time and leaves nothing behind: it hears at once when this process is gone.
"""

from __future__ import annotations

import contextlib
import pickle
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import IO, Self

import fleetcare
from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.port import Answer, Limits, Outcome, Progress, Solver
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.standing import NOTHING_STANDS, Standing
from fleetcare.errors import SearchTrouble
from fleetcare.solvers.apart_child import STOP, Said, Task

GRACE_S = 2.0
"""So long a search that is stopped may take to answer by itself; engines look up only between their steps."""
NICENESS = 10
_START = (
    "import sys; sys.path.append(sys.argv[1]); from fleetcare.solvers.apart_child import main; main(int(sys.argv[2]))"
)


class ApartSolver:
    """Whichever solver suits a problem, in a process of its own with a lower claim on the processor.

    niceness: how far it stands back for others. proven: the solver that proves, however large the problem is. solver:
    this one.
    """

    def __init__(
        self,
        *,
        grace_s: float = GRACE_S,
        niceness: int = NICENESS,
        proven: bool = False,
        solver: Solver | None = None,
    ) -> None:
        self._grace_s = grace_s
        self._niceness = niceness
        self._proven = proven
        self._solver = solver
        self._child: subprocess.Popen[bytes] | None = None
        self._killer: threading.Timer | None = None
        self._is_stopped = False
        self._lock = threading.Lock()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @property
    def process_id(self) -> int | None:
        """The child's, while there is one."""
        return None if self._child is None else self._child.pid

    def solve(
        self,
        problem: BayProblem,
        limits: Limits,
        *,
        tell: Callable[[Progress, BayPlan | None], None] | None = None,
        standing: Standing = NOTHING_STANDS,
    ) -> Answer:
        """As the port says; ended by `stop`, and by `limits.is_stopped` whenever the child has something to tell.

        Stopped before there is any plan, the answer is `Outcome.NOTHING` without one. Raises SearchTrouble if the child
        cannot be started or came to grief.
        """
        child = self._begun(limits)
        if child is None:
            return _so_far(None)
        assert child.stdin is not None
        assert child.stdout is not None
        last: tuple[Progress, BayPlan | None] | None = None
        try:
            _send(child.stdin, Task(problem, standing, limits.steps, limits.seed, self._proven, self._solver))
            while True:
                said = _heard(child.stdout)
                if said.answer is not None:
                    return said.answer
                if said.progress is not None:
                    last = (said.progress, said.plan or (None if last is None else last[1]))
                    if tell is not None:
                        tell(said.progress, said.plan)
                if limits.is_stopped():
                    self.stop()
        except (EOFError, OSError, pickle.UnpicklingError):
            if self._is_stopped:
                return _so_far(last)
            with contextlib.suppress(subprocess.TimeoutExpired):
                child.wait(self._grace_s)
            raise SearchTrouble(f"The search ended with {child.poll()} before it had an answer.") from None

    def stop(self) -> None:
        """Ends the search from any thread, with the best plan so far: by itself, or after a moment by force."""
        with self._lock:
            if self._is_stopped:
                return
            self._is_stopped = True
            child = self._child
            if child is None or child.stdin is None:
                return
            with contextlib.suppress(OSError, ValueError):
                _send(child.stdin, STOP)
            self._killer = threading.Timer(self._grace_s, child.kill)
            self._killer.daemon = True
            self._killer.start()

    def close(self) -> None:
        """Ends the child."""
        with self._lock:
            child, self._child, self._is_stopped = self._child, None, True
            if self._killer is not None:
                self._killer.cancel()
        if child is None:
            return
        child.kill()
        for pipe in (child.stdin, child.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()
        child.wait()

    def _begun(self, limits: Limits) -> subprocess.Popen[bytes] | None:
        """The child, begun if need be; None if the search is stopped already."""
        with self._lock:
            if self._is_stopped or limits.is_stopped():
                return None
            if self._child is None:
                package = Path(fleetcare.__file__).parent.parent
                try:
                    self._child = subprocess.Popen(  # noqa: S603 - our own program, by its full path
                        [sys.executable, "-I", "-c", _START, str(package), str(self._niceness)],
                        stdin=subprocess.PIPE,
                        stdout=subprocess.PIPE,
                        cwd="/",
                        close_fds=True,
                        # Ctrl-C is for the process that asked; it tells this one.
                        start_new_session=True,
                    )
                except OSError as error:
                    raise SearchTrouble(f"No process could be started for the search: {error.strerror}.") from None
            return self._child


def _so_far(last: tuple[Progress, BayPlan | None] | None) -> Answer:
    if last is None or last[1] is None or last[0].total is None:
        return Answer(Outcome.NOTHING, None, None, None, 0.0 if last is None else last[0].steps)
    progress, plan = last
    return Answer(Outcome.FOUND, plan, progress.total, progress.bound, progress.steps)


def _send(pipe: IO[bytes], what: object) -> None:
    pipe.write(pickle.dumps(what))
    pipe.flush()


def _heard(pipe: IO[bytes]) -> Said:
    try:
        said = pickle.load(pipe)  # noqa: S301 - what our own child says
    except ValueError as closed:
        # Whoever ended the child closes its pipe, and here somebody may be reading from it just then.
        raise EOFError("The pipe was closed.") from closed
    assert isinstance(said, Said)
    return said
