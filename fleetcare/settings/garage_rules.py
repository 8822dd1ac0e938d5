"""The rules a garage goes by: the shipped files, overlaid by its home's own, and read again when they change."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from threading import Lock

from fleetcare.actions.gather import Rules
from fleetcare.errors import BadFile
from fleetcare.language import Tongues
from fleetcare.settings.book_files import load_book
from fleetcare.settings.catalogues import tongue_of
from fleetcare.settings.duty_files import load_duties
from fleetcare.settings.feed_file import load_feed_rules
from fleetcare.settings.forecast_file import load_priors, numbers_set_in
from fleetcare.settings.places import SHIPPED_BOOK, SHIPPED_DUTIES, SHIPPED_FEEDS, SHIPPED_FORECAST, shipped_config
from fleetcare.settings.sections import Settings

OWN_CONFIG = "config"
"""The folder of a home whose files lie over the shipped ones."""


class RulesKept:
    """The rules a process goes by; read again as soon as the home's own interval book is another one on the disk.

    A book with a fault is passed over until it is mended: the rules stay as they were. `load` and `watched` are left
    out where nothing is to be read again.
    """

    def __init__(self, rules: Rules, watched: Path | None = None, load: Callable[[], Rules] | None = None) -> None:
        self._rules = rules
        self._watched = watched
        self._load = load
        self._seen = _stamp_of(watched)
        self._one_at_a_time = Lock()

    def now(self) -> Rules:
        """The rules in force."""
        if self._load is None or _stamp_of(self._watched) == self._seen:
            return self._rules
        with self._one_at_a_time:
            seen = _stamp_of(self._watched)
            if seen != self._seen:
                with suppress(BadFile):
                    self._rules = self._load()
                self._seen = seen
        return self._rules


def _stamp_of(path: Path | None) -> tuple[int, int] | None:
    """What tells one state of a file from another; None if it is not there."""
    try:
        found = path.stat() if path is not None else None
    except OSError:
        return None
    return None if found is None else (found.st_mtime_ns, found.st_size)


def tongues_of(settings: Settings) -> Tongues:
    """The languages that a home offers, each read when it is first asked for."""
    return Tongues(settings.language.garage, settings.language.offered, tongue_of)


def load_rules(home: Path, settings: Settings | None = None) -> Rules:
    """The shipped interval book, duties and forecast numbers, overlaid by the home's own."""
    shipped = shipped_config()
    own = home / OWN_CONFIG
    duties = load_duties(shipped / SHIPPED_DUTIES, own / SHIPPED_DUTIES)
    return Rules(
        book=load_book(shipped / SHIPPED_BOOK, own_book_path(home), duties=duties),
        duties=duties,
        priors=load_priors(shipped / SHIPPED_FORECAST, own / SHIPPED_FORECAST),
        own_numbers=numbers_set_in(own / SHIPPED_FORECAST),
        feeds=load_feed_rules(shipped / SHIPPED_FEEDS, own / SHIPPED_FEEDS),
        tongues=tongues_of(settings) if settings else Tongues(),
    )


def own_book_path(home: Path) -> Path:
    """Where a garage keeps the rows of the interval book that it changed or added."""
    return home / OWN_CONFIG / SHIPPED_BOOK
