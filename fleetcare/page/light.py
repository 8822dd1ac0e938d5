"""By day, by night or as the device asks: which of them the page being made is shown in, said by the edge."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from fleetcare.fleet.people import Light

_IN_FORCE: ContextVar[Light] = ContextVar("light", default=Light.DEVICE)


def light_in_force() -> str:
    """`day` or `night`, as the style sheet knows them; empty for as the device asks."""
    light = _IN_FORCE.get()
    return "" if light is Light.DEVICE else light.value


@contextmanager
def shining(light: Light) -> Iterator[None]:
    """Within it, pages are made for this light."""
    before = _IN_FORCE.set(light)
    try:
        yield
    finally:
        _IN_FORCE.reset(before)


def shine(light: Light) -> None:
    """From here on, until whoever set the context up is done, pages are made for this light."""
    _IN_FORCE.set(light)
