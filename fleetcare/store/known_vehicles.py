"""Vehicles as a process has read them, so that a look at the whole garage puts together only those that are new."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from threading import Lock
from typing import NamedTuple

from fleetcare.fleet.vehicle import Vehicle

MOST_KNOWN = 10_000
"""A larger garage is read anew each time. A vehicle with its lines takes some twenty kilobytes."""


class Stand(NamedTuple):
    """A moment of the store: after how many writes, and in which era.

    After a restore from a backup the same number of writes may stand for other facts; the era rises with it.
    """

    era: int
    version: int


class KnownVehicles:
    """Any thread may ask. A vehicle is what it was until something is written about it, which its stamp tells.

    All of it is of what is committed: within a write unit the same stamp may yet be undone.
    """

    def __init__(self, most: int = MOST_KNOWN) -> None:
        self._most = most
        self._lock = Lock()
        self._stand = Stand(-1, -1)
        self._stamps: Mapping[str, int] = {}
        self._all: tuple[Vehicle, ...] | None = None
        self._era = -1
        self._known: dict[str, tuple[int, Vehicle]] = {}

    def stamps(self, stand: Stand, read: Callable[[], Mapping[str, int]]) -> Mapping[str, int]:
        """By mark, the version in which something was last written about each vehicle; read: the same from the store.

        Between two writes it is one and the same mapping, which nobody changes.
        """
        with self._lock:
            if stand == self._stand:
                return self._stamps
        stamps = read()
        with self._lock:
            if stand > self._stand:
                self._stand, self._stamps, self._all = stand, stamps, None
        return stamps

    def vehicles(
        self, stamps: Mapping[str, int], era: int, read: Callable[[Iterable[str] | None], Iterable[Vehicle]]
    ) -> tuple[Vehicle, ...]:
        """These, in the order of their stamps, all of one view. read: those not known, all if asked for None."""
        if len(stamps) > self._most:
            return tuple(read(None))
        with self._lock:
            if stamps is self._stamps and self._all is not None:
                return self._all
            if era != self._era:
                self._era, self._known = era, {}
            known = {mark: self._known[mark] for mark in stamps if mark in self._known}
        found = {mark: vehicle for mark, (stamp, vehicle) in known.items() if stamp == stamps[mark]}
        missing = [mark for mark in stamps if mark not in found]
        if missing:
            new = {each.mark: each for each in read(missing if found else None)}
            found |= new
        every = tuple(found[mark] for mark in stamps)
        with self._lock:
            if missing and era == self._era:
                self._known |= {mark: (stamps[mark], found[mark]) for mark in missing}
            if stamps is self._stamps:
                self._all = every
        return every
