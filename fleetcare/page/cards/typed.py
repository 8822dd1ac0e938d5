"""What stands in the fields of a form so far, and what is wrong with one of them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Typed:
    """What stands in the fields so far: the last value by name, and all of them. problem: at which field, and what."""

    pairs: tuple[tuple[str, str], ...] = ()
    problem: str = ""
    problem_field: str = ""

    def of(self, name: str, default: str = "") -> str:
        """The value of a field, or what stands there before anybody typed."""
        return dict(self.pairs).get(name, default)

    def all_of(self, name: str) -> tuple[str, ...]:
        """Every value of a field that may have several."""
        return tuple(value for key, value in self.pairs if key == name)

    def has(self, name: str) -> bool:
        """Whether the field was shown before."""
        return any(key == name for key, _ in self.pairs)
