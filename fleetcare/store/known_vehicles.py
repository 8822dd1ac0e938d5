"""Vehicles as a process has read them, so that a look at the whole garage puts together only those that are new."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from threading import Lock

from fleetcare.fleet.vehicle import Vehicle

MOST_KNOWN = 10_000
"""A larger garage is read anew each time. A vehicle with its lines takes some twenty kilobytes."""


class KnownVehicles:
    """Any thread may ask. A vehicle is what it was until something is written about it, which its stamp tells."""

    def __init__(self, most: int = MOST_KNOWN) -> None:
        self._most = most
        self._lock = Lock()
        self._era = -1
        self._known: dict[str, tuple[int, Vehicle]] = {}

    def vehicles(
        self, stamps: Mapping[str, int], era: int, read: Callable[[Iterable[str] | None], Iterable[Vehicle]]
    ) -> tuple[Vehicle, ...]:
        """These, in the order of their stamps, all of one view.

        stamps: of what is committed; within a write unit the same stamp may yet be undone. era: after a restore from a
        backup the same stamp may stand for other facts, and this rises with it. read: those that are not known, all if
        asked for None.
        """
        if len(stamps) > self._most:
            return tuple(read(None))
        with self._lock:
            if era != self._era:
                self._era, self._known = era, {}
            known = {mark: self._known[mark] for mark in stamps if mark in self._known}
        found = {mark: vehicle for mark, (stamp, vehicle) in known.items() if stamp == stamps[mark]}
        missing = [mark for mark in stamps if mark not in found]
        if missing:
            new = {each.mark: each for each in read(missing if found else None)}
            found |= new
            with self._lock:
                if era == self._era:
                    self._known |= {mark: (stamps[mark], vehicle) for mark, vehicle in new.items()}
        return tuple(found[mark] for mark in stamps)
