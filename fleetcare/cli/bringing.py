"""Files are read, checked and brought in: what `import` and `demo` have in common."""

from __future__ import annotations

import os
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from fleetcare.cli.frame import is_terminal

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fleetcare.actions.bring_in import BroughtIn, Progress
    from fleetcare.assemble import Parts

SHOW_AFTER_S = 1.0
"""A progress bar appears for work that takes longer than this."""


@dataclass(frozen=True, slots=True)
class Brought:
    """What was brought in, what was noticed on the way, and the parts that go by the rules as they are now."""

    came: BroughtIn
    warnings: tuple[str, ...]
    parts: Parts


def bring_in_files(parts: Parts, path: Path, *, shift_days: int = 0) -> Brought:
    """Reads a file or folder and brings it in: all of it, or nothing.

    shift_days: moves every date, for the demo that is always this week. Raises BadFile with every fault, and what
    `bring_in` raises.
    """
    from fleetcare.actions.bring_in import Arrivals, Place, bring_in
    from fleetcare.assemble import own_book_path
    from fleetcare.fleet.vin import vin_doubts
    from fleetcare.intake.garage_files import read_path
    from fleetcare.intake.known import KnownNames
    from fleetcare.intake.shifting import shifted
    from fleetcare.settings.book_files import book_with
    from fleetcare.settings.toml_text import TomlText

    now = parts.clock.now()
    rules = parts.rules
    with parts.store.read() as view:
        known = KnownNames(
            garage=view.garage(),
            people=view.people(),
            vehicles=view.vehicles(),
            duties=frozenset(rules.duties),
            book=rules.book,
        )
    incoming = read_path(
        path,
        known=known,
        entered_at=now,
        read_toml=TomlText,
        parse_book=lambda text, file: book_with(rules.book, text, file, duties=rules.duties),
        vin_doubts=vin_doubts,
    )
    if shift_days:
        incoming = shifted(incoming, shift_days)
    arrivals = Arrivals(
        garage=incoming.garage,
        people=incoming.people,
        vehicles=incoming.vehicles,
        readings=incoming.readings,
        reading_places=tuple(Place(place.file, place.line) for place in incoming.reading_places),
        work=incoming.work,
        bookings=incoming.bookings,
        events=incoming.events,
        has_book=incoming.book is not None,
    )
    if incoming.book is not None:
        rules = replace(rules, book=incoming.book)
    with progress_bar() as tell:
        came = bring_in(
            parts.store,
            rules,
            parts.keys,
            arrivals,
            now=now,
            base_url=parts.base_url,
            who="command",
            why=f"brought in from {path.name}",
            progress=tell,
        )
    if incoming.book_text is not None:
        _take_over_book(own_book_path(parts.home), incoming.book_text, incoming.book_file)
    warnings = tuple(str(warning) for warning in incoming.warnings)
    return Brought(came, warnings, replace(parts, rules=rules))


def _take_over_book(own: Path, text: str, file: str) -> None:
    """Lays the rows that came in over the home's own; a row with the same key is replaced. Whole, or not at all."""
    from fleetcare.settings.book_files import merged_rows, parse_rows, write_own_rows

    there = parse_rows(own.read_text(encoding="utf-8"), own.name) if own.is_file() else ()
    merged = write_own_rows(merged_rows(there, parse_rows(text, file)))
    own.parent.mkdir(parents=True, exist_ok=True)
    beside = own.with_suffix(".new")
    beside.write_text(merged, encoding="utf-8")
    os.replace(beside, own)


@contextmanager
def progress_bar() -> Iterator[Progress]:
    """A bar on standard error for work that takes over a second, if a person looks; else nothing."""
    from fleetcare.clock import monotonic_s

    if not is_terminal():
        yield lambda what, done, of: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bar

    started_s = monotonic_s()
    bar = Bar(
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
    )
    tasks: dict[str, int] = {}

    def tell(what: str, done: int, of: int) -> None:
        if not bar.live.is_started and monotonic_s() - started_s >= SHOW_AFTER_S:
            bar.start()
        if what not in tasks:
            tasks[what] = bar.add_task(what, total=of)
        bar.update(tasks[what], completed=done, total=of)  # type: ignore[arg-type]

    try:
        yield tell
    finally:
        if bar.live.is_started:
            bar.stop()
