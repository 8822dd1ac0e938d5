"""Numbers of the forecast that a garage learned from its own readings: what is kept of them, and when they count."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, fields, replace
from datetime import date, datetime

from fleetcare.language import tr
from fleetcare.usage.priors import Priors
from fleetcare.wording import counted, day_words

LEARNED = ("m0", "s0", "psi", "sig", "tau", "q")
"""Numbers of the pace that are learned, in the order in which they are shown."""


@dataclass(frozen=True, slots=True)
class FleetNumbers:
    """The learned numbers, as in `Priors`."""

    m0: float
    s0: float
    psi: float
    sig: float
    tau: float
    q: float
    season: tuple[float, ...]

    @classmethod
    def of(cls, priors: Priors) -> FleetNumbers:
        """Those of the numbers in force."""
        return cls(**{field.name: getattr(priors, field.name) for field in fields(cls)})

    def words(self) -> str:
        """For the log: `41 km a day (m0 3.72), s0 0.57, psi 2, sig 0.42, tau 40, q 0.026, season 0.88 0.91 ...`."""
        named = [f"{name} {getattr(self, name):.3g}" for name in LEARNED[1:]]
        season = " ".join(f"{factor:.2f}" for factor in self.season)
        return ", ".join([f"{math.exp(self.m0):.3g} km a day (m0 {self.m0:.3g})", *named, f"season {season}"])


@dataclass(frozen=True, slots=True)
class FitBasis:
    """What a fit rests on, and what it is worth.

    vehicles, readings: those it looked at. months: from the first of these readings to the last, whole months.
    before, after: mean of -log(density) of what was read later, on all of them, with the numbers before and the ones
    learned; smaller is better, and a difference is the log of how many times as likely it made what happened.
    others_before, others_after: the same on vehicles whose readings took no part in the fit; equal if there are none.
    season: the months were learned too.
    """

    vehicles: int
    readings: int
    months: int
    before: float
    after: float
    others_before: float
    others_after: float
    season: bool

    @property
    def times_as_likely(self) -> float:
        """How many times as likely the learned numbers make what vehicles did that took no part in the fit."""
        return math.exp(self.others_before - self.others_after)


@dataclass(frozen=True, slots=True)
class Fitted:
    """One fit as stored. numbers: None if the shipped ones were found to serve as well; then those are in force."""

    at: datetime
    who: str
    numbers: FleetNumbers | None
    basis: FitBasis
    id: int | None = None

    def words(self, on: date) -> str:
        """What is said of the numbers beside a pace; `on` is the day of the fit in the garage."""
        day = day_words(on, date(9999 if on.year != 9999 else 1, 1, 1))
        vehicles = counted(self.basis.vehicles, "vehicle", "vehicles")
        readings = counted(self.basis.readings, "reading", "readings")
        if self.numbers is None:
            return tr(
                "with the shipped numbers, which on {day} served {vehicles} and {readings} as well as any of their own",
                day=day,
                vehicles=vehicles,
                readings=readings,
            )
        return tr(
            "fitted to this garage on {day} from {vehicles} and {readings}",
            day=day,
            vehicles=vehicles,
            readings=readings,
        )


def priors_in_force(shipped: Priors, newest: Fitted | None, *, own: frozenset[str], on: date | None) -> Priors:
    """The numbers to reckon with: shipped, over them the newest fit, over it what the garage set itself.

    shipped: with what the garage set already in it. own: names of the numbers that it set. on: day of the fit.
    """
    if newest is None or on is None:
        return shipped
    if newest.numbers is None:
        return replace(shipped, fitted_words=newest.words(on))
    learned = {name: figure for name, figure in asdict(newest.numbers).items() if name not in own}
    if not learned:
        return shipped
    return replace(shipped, **learned, fitted=True, fitted_words=newest.words(on))
