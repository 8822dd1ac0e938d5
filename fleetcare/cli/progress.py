"""A progress bar for work that takes its time, if a person looks."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING, TextIO

from fleetcare.clock import monotonic_s

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from fleetcare.actions.bring_in import Progress

SHOW_AFTER_S = 1.0
"""A bar appears for work that takes longer than this."""


@contextmanager
def progress_bar(stream: TextIO | None = None, *, tick_s: Callable[[], float] = monotonic_s) -> Iterator[Progress]:
    """A bar on standard error (or `stream`) for work that takes over a second, if that is a terminal; else nothing.

    tick_s: seconds that only run forward.
    """
    shown_on = sys.stderr if stream is None else stream
    if not shown_on.isatty():
        yield lambda what, done, of: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bar

    began_s = tick_s()
    bar = Bar(
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        console=Console(file=shown_on),
        transient=True,
    )
    tasks = {}

    def tell(what: str, done: int, of: int) -> None:
        if not bar.live.is_started and tick_s() - began_s >= SHOW_AFTER_S:
            bar.start()
        if what not in tasks:
            tasks[what] = bar.add_task(what, total=of)
        bar.update(tasks[what], completed=done, total=of)

    try:
        yield tell
    finally:
        if bar.live.is_started:
            bar.stop()
