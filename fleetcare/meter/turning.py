"""When a dial may have begun anew at nought: after all its nines, and not anywhere else."""

from __future__ import annotations

FEWEST_DIGITS = 3


def turned_after(before: float, shows: float) -> int | None:
    """How many digits the dial has if it turned between the two figures; None if it cannot have.

    Both in one unit of the dial. A fall of more than half the dial is a turn, a smaller one is a slip of the hand:
    the same line that the walk along a meter draws.
    """
    digits = max(FEWEST_DIGITS, len(str(int(before))))
    return digits if before - shows > 10**digits / 2 else None
