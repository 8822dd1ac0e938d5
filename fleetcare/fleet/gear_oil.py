"""Grades of gear oil: whether what a tag says is one, and what an old manual may have meant by it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from fleetcare.errors import BadInput
from fleetcare.wording import joined

FILLED_WITH_IT = ("front axle", "rear axle", "transfer case")
"""Kinds of component whose fluid is gear oil, if it has a grade of that form at all."""

_GRADE = re.compile(r"(?:SAE )?(\d{2,3}W)?(?:-)?(\d{2,3})?(?![\dW])")


@dataclass(frozen=True, slots=True)
class OilGrade:
    """From `at_least` to below `below` mm²/s at 100 °C; below: None for no upper end.

    coldest_c: of a winter grade. once_below: its upper end before January 2005, if that was another.
    """

    at_least: Decimal
    below: Decimal | None = None
    coldest_c: int | None = None
    once_below: Decimal | None = None

    def __post_init__(self) -> None:
        if self.below is not None and self.below <= self.at_least:
            raise BadInput(
                f"A grade from {self.at_least} to {self.below} is upside down.",
                remedy="Put the smaller figure first.",
                field="below",
            )


@dataclass(frozen=True, slots=True)
class GearOils:
    """Winter grades (`75W`) and summer grades (`140`) by name, the thinnest first."""

    winter: Mapping[str, OilGrade]
    summer: Mapping[str, OilGrade]

    def doubt(self, fluid: str) -> str:
        """What is odd about a fluid that begins with a grade of gear oil; empty if nothing is, or if it has no grade.

        A multigrade can be only if some viscosity is thick enough for its winter grade and thin enough for its summer
        grade.
        """
        found = _GRADE.match(fluid.strip())
        winter, summer = (found[1], found[2]) if found else (None, None)
        if winter is None and summer is None:
            return ""
        if winter is not None and winter not in self.winter:
            return f"{winter} is no winter grade of gear oil; there are {joined(list(self.winter))}."
        if summer is not None and summer not in self.summer:
            return f"{summer} is no grade of gear oil; there are {joined(list(self.summer))}."
        if winter is not None and summer is not None:
            thick, thin = self.winter[winter], self.summer[summer]
            if thin.below is not None and thin.below <= thick.at_least:
                return (
                    f"{winter}-{summer} cannot be: {winter} has at least {thick.at_least} mm²/s at 100 °C, "
                    f"{summer} less than {thin.below}."
                )
        if summer is not None and winter is None and (old := self.summer[summer]).once_below is not None:
            return (
                f"In a manual from before 2005 {summer} ran up to {old.once_below} mm²/s, "
                f"so it may be today’s {self._next(summer)}."
            )
        return ""

    def _next(self, summer: str) -> str:
        names = list(self.summer)
        return names[min(len(names) - 1, names.index(summer) + 1)]
