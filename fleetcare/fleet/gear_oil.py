"""Grades of gear oil: whether what a tag says is one, and what an old manual may have meant by it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import partial

from fleetcare.errors import BadInput
from fleetcare.language import saying
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
                saying("A grade from {at_least} to {below} is upside down.", at_least=self.at_least, below=self.below),
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
            return saying(
                "{winter} is no winter grade of gear oil; there are {list}.",
                winter=winter,
                list=partial(joined, list(self.winter)),
            )
        if summer is not None and summer not in self.summer:
            return saying(
                "{summer} is no grade of gear oil; there are {list}.",
                summer=summer,
                list=partial(joined, list(self.summer)),
            )
        if winter is not None and summer is not None:
            thick, thin = self.winter[winter], self.summer[summer]
            if thin.below is not None and thin.below <= thick.at_least:
                return saying(
                    "{winter}-{summer} cannot be: {winter} has at least {at_least} mm²/s at 100 °C, "
                    "{summer} less than {below}.",
                    winter=winter,
                    summer=summer,
                    at_least=thick.at_least,
                    below=thin.below,
                )
        if summer is not None and winter is None and (old := self.summer[summer]).once_below is not None:
            return saying(
                "In a manual from before 2005 {summer} ran up to {once_below} mm²/s, so it may be today’s {next}.",
                summer=summer,
                once_below=old.once_below,
                next=self._next(summer),
            )
        return ""

    def _next(self, summer: str) -> str:
        names = list(self.summer)
        return names[min(len(names) - 1, names.index(summer) + 1)]
