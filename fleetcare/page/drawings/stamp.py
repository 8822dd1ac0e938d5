"""A stamped name: how each letter sits a little high or low and a little askew, the same every time."""

from __future__ import annotations

import zlib
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class StampedLetter:
    """One letter. `rise` and `turn` are steps from -3 to 3, of 0.22 px downwards and of 0.3 degrees clockwise."""

    letter: str
    rise: int
    turn: int

    @property
    def classes(self) -> str:
        """Classes of the style sheet that move and turn it; steps of nought need none."""
        names = [f"{kind}{step + 3}" for kind, step in (("dy", self.rise), ("tw", self.turn)) if step]
        return " ".join(names)


StampedWord = tuple[StampedLetter, ...]


def stamped(name: str) -> tuple[StampedWord, ...]:
    """The name word by word, letter by letter. Letters are counted through the whole name, spaces included.

    With h = crc32(name + index): rise = (h mod 7) - 3, turn = ((h >> 5) mod 7) - 3.
    """
    words: list[list[StampedLetter]] = [[]]
    for index, letter in enumerate(name):
        if letter.isspace():
            words.append([])
            continue
        mixed = zlib.crc32(f"{name}{index}".encode())
        words[-1].append(StampedLetter(letter, mixed % 7 - 3, (mixed >> 5) % 7 - 3))
    return tuple(tuple(word) for word in words if word)
