"""A search that a command waits for: apart from it, told of as it comes on, and ended by Ctrl-C with what it has."""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, TextIO

import typer

from fleetcare.cli.progress import SHOW_AFTER_S
from fleetcare.clock import monotonic_s
from fleetcare.wording import counted

if TYPE_CHECKING:
    from types import FrameType

    from fleetcare.bayplan.plan import BayPlan
    from fleetcare.bayplan.port import Progress
    from fleetcare.solvers.apart import ApartSolver

    Tell = Callable[[Progress, BayPlan | None], None]

STOPPING = "Stopping; the best plan so far follows."


@contextmanager
def ended_by_ctrl_c(solver: ApartSolver, say_so: Callable[[], None]) -> Iterator[threading.Event]:
    """Within it, Ctrl-C ends the search with the best plan so far, and a second one the command. The event is set then.

    The signal sets a word going and nothing else: raised as an exception it would break off what the child is saying.
    Whoever started the command so that it hears no Ctrl-C, as shells do in the background, is left to that.
    """
    stopped = threading.Event()
    before = signal.getsignal(signal.SIGINT)
    if before is not signal.default_int_handler or threading.current_thread() is not threading.main_thread():
        yield stopped
        return

    def end() -> None:
        say_so()
        solver.stop()

    def heard(_signal: int, _frame: FrameType | None) -> None:
        if stopped.is_set():
            raise KeyboardInterrupt
        stopped.set()
        # Not here: whatever was interrupted may hold the locks that these want.
        threading.Thread(target=end, daemon=True).start()

    signal.signal(signal.SIGINT, heard)
    try:
        yield stopped
    finally:
        signal.signal(signal.SIGINT, before)


def line_teller() -> tuple[Tell, Callable[[], None]]:
    """Says on standard error, a line each, whenever the best price or what is proven has changed; and that it stops."""
    began_s = monotonic_s()
    last: list[tuple[int | None, int | None]] = []

    def tell(progress: Progress, plan: BayPlan | None) -> None:
        now = (progress.total, progress.bound)
        if last and last[-1] == now:
            return
        last[:] = [now]
        typer.echo(f"{monotonic_s() - began_s:7.1f} s  {progress.phase}: {_prices(progress)}", err=True)

    return tell, lambda: typer.echo(STOPPING, err=True)


@contextmanager
def shown_search(
    stream: TextIO | None = None, *, tick_s: Callable[[], float] = monotonic_s
) -> Iterator[tuple[Tell, Callable[[], None]]]:
    """One line on standard error (or `stream`) that says how the search stands, after a second and only on a terminal.

    What it yields is told of the search, and that it is stopping. tick_s: seconds that only run forward.
    """
    shown_on = sys.stderr if stream is None else stream
    if not shown_on.isatty():
        yield (lambda progress, plan: None), (lambda: typer.echo(STOPPING, err=True))
        return
    from rich.console import Console
    from rich.progress import Progress as Bar
    from rich.progress import SpinnerColumn, TextColumn, TimeElapsedColumn

    bar = Bar(
        SpinnerColumn("line"),
        TimeElapsedColumn(),
        TextColumn("{task.description}", markup=False),
        console=Console(file=shown_on),
        transient=True,
    )
    task = bar.add_task("Searching for a plan. Ctrl-C ends the search.")
    best: list[BayPlan] = []
    is_over, is_stopping = threading.Event(), threading.Event()
    began_s = tick_s()

    def begin_late() -> None:
        if not is_over.wait(max(0.0, SHOW_AFTER_S - (tick_s() - began_s))):
            bar.start()

    def tell(progress: Progress, plan: BayPlan | None) -> None:
        if plan is not None:
            best[:] = [plan]
        if is_stopping.is_set():  # what the child had already said still comes in; the key pressed is answered last
            return
        visits = f", {counted(len(best[0].visits), 'visit', 'visits')}" if best and progress.total is not None else ""
        bar.update(task, description=f"{_prices(progress)}{visits}. Ctrl-C takes the best so far.")

    def stopping() -> None:
        is_stopping.set()
        bar.update(task, description=STOPPING)

    starter = threading.Thread(target=begin_late, daemon=True)
    starter.start()
    try:
        yield tell, stopping
    finally:
        is_over.set()
        starter.join()
        if bar.live.is_started:
            bar.stop()


def _prices(progress: Progress) -> str:
    best = "no plan yet" if progress.total is None else f"plan {progress.total / 100:.2f}"
    return best if progress.bound is None else f"{best}, no plan under {progress.bound / 100:.2f}"
