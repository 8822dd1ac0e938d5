"""The numbers the forecast starts from, before a garage has readings of its own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from fleetcare.errors import BadSettings
from fleetcare.language import saying

SHIPPED_SEASON = (0.884, 0.906, 1.002, 1.030, 1.022, 1.059, 1.057, 1.045, 0.997, 1.015, 0.996, 0.984)
"""Distance per day by month over the mean. Source: FHWA Traffic Volume Trends 2004, all systems, per day."""


@dataclass(frozen=True, slots=True)
class Priors:
    """Numbers of the forecast; `config/forecast.toml` carries the same figures, each with its source.

    Rates are km per operational day (calendar days weighted by season and lay-up). Anything counted in hours uses the
    same numbers with `m0` lowered by log(`mean_speed_km_per_h`).
    """

    m0: float = 3.72
    """Mean log rate of a vehicle nobody knows, log(km/day): 41 km a day."""
    s0: float = 0.57
    """Spread of that log rate over vehicles (standard deviation)."""
    psi: float = 2.0
    """Day-to-day dispersion in days: distance over D days has CV^2 = psi/D around its mean."""
    sig: float = 0.42
    """Standard deviation of the slow wander of the log rate."""
    tau: float = 40.0
    """Correlation time of that wander, days."""
    q: float = 0.026
    """Variance a year by which the level of the log rate drifts."""
    nu: float = 12.0
    """Weight, in increments, with which a vehicle's own dispersion is drawn to the fleet's."""
    clip: float = 2.5
    """From so many standard deviations on an increment loses weight."""
    season: tuple[float, ...] = SHIPPED_SEASON
    """Twelve factors, January first; normalised so that a year of 365 days has 365 operational days."""
    own_rate_s0: float = 0.35
    """Spread of the log rate around a yearly distance that its people named."""
    new_hands_s0: float = 0.3
    """Spread that is added to the level of the log rate when a vehicle comes into other hands."""
    mean_speed_km_per_h: float = 32.18688
    """Km per running hour, for hour meters without readings."""
    mix_prior_weight_km: float = 2000.0
    """The usual split counts like so many km seen."""
    mix_draw_km: float = 250.0
    """Km per independent draw of the duty."""
    mix_memory_days: int = 365
    """Splits of the last so many days make the mix."""
    severe_share: float = 0.05
    """From this forecast share on, a severe duty is reckoned with on a line where one severe use counts for all."""
    event_a0: float = 0.5
    """Gamma prior of an event rate: so many events ..."""
    event_b0: float = 365.0
    """... in so many days."""
    anchor_min_days: int = 30
    """The in-service date counts as a reading if it lies so many days before the first one."""
    reading_wanted_after_days: int = 28
    ask_ratio: float = 1.2
    """Width of a window over its horizon above which a fresh reading is worth asking for."""
    give_share: float = 0.04
    """A date-only limit is spread by this share of its interval to either side ..."""
    give_min_days: int = 7
    """... and by so many days at least."""
    look_likely_days: int = 14
    """A line of unknown history: the look is likely due so many days after the line was set up ..."""
    look_late_days: int = 30
    """... and late after so many."""
    no_use_days: int = 180
    """A dial that has not moved for so many days, over at least three readings, has no use in sight."""
    slip_wrong_digit: float = 0.006
    """How often a reading given has one digit wrong, before anything is known of it ..."""
    slip_exchanged: float = 0.005
    """... two neighbours exchanged ..."""
    slip_digit_missing: float = 0.005
    slip_digit_extra: float = 0.004
    slip_trip_meter: float = 0.004
    """... is that of the trip meter ..."""
    slip_other_unit: float = 0.003
    slip_unexplained: float = 0.003
    slip_rolled_over: float = 0.001
    """... is right, but the dial began anew at nought ..."""
    slip_meter_changed: float = 0.001
    """... is right, but of another meter. The rest is right as it stands."""
    trip_meter_km: float = 2000.0
    """Mean of what a trip meter shows that is taken for the odometer."""
    new_meter_km: float = 3000.0
    """Mean of what a meter shows that was put in since the reading before."""
    hold_below: float = 0.5
    """A reading is held if the chance that it is right is below this ..."""
    ask_below: float = 0.97
    """... and asked about if below this."""
    fitted: bool = False
    """True if m0 ... q were learned from this garage's own readings."""
    fitted_words: str = ""
    """What is said of that beside a pace; no number, and never in a file."""

    def __post_init__(self) -> None:
        validate(self)

    @classmethod
    def from_tables(cls, tables: Mapping[str, Any]) -> Priors:
        """Priors from the tables of a settings file. Keys are field names; what is absent keeps its shipped figure.

        Tables only group; a key may stand in any table or at the top. Raises BadSettings for a key that is unknown or
        given twice, or a figure that cannot be.
        """
        known = {field.name for field in fields(cls)} - {"fitted_words"}
        given: dict[str, Any] = {}
        for name, value in tables.items():
            rows = value.items() if isinstance(value, Mapping) else ((name, value),)
            for key, figure in rows:
                if key not in known:
                    raise BadSettings(saying("The forecast has no number called {key}.", key=key), field=str(key))
                if key in given:
                    raise BadSettings(saying("The forecast number {key} is given twice.", key=key), field=str(key))
                given[key] = tuple(figure) if key == "season" and isinstance(figure, list) else figure
        try:
            return cls(**given)
        except TypeError as fault:
            raise BadSettings("A number of the forecast is not a number.", remedy="Give plain numbers.") from fault


SLIPS = (
    "slip_wrong_digit",
    "slip_exchanged",
    "slip_digit_missing",
    "slip_digit_extra",
    "slip_trip_meter",
    "slip_other_unit",
    "slip_unexplained",
    "slip_rolled_over",
    "slip_meter_changed",
)
"""The prior chances of a reading that is not right as it stands."""

_POSITIVE = (
    "s0",
    "psi",
    "sig",
    "tau",
    "nu",
    "clip",
    "own_rate_s0",
    "new_hands_s0",
    "mean_speed_km_per_h",
    "mix_prior_weight_km",
    "mix_draw_km",
    "mix_memory_days",
    "event_a0",
    "event_b0",
    "anchor_min_days",
    "reading_wanted_after_days",
    "ask_ratio",
    "give_min_days",
    "look_likely_days",
    "no_use_days",
    *SLIPS,
    "trip_meter_km",
    "new_meter_km",
    "hold_below",
)


def validate(priors: Priors) -> None:
    """Raises BadSettings, naming the first number that cannot be."""
    for name in _POSITIVE:
        if not 0 < getattr(priors, name) < float("inf"):
            raise BadSettings(saying("The forecast number {name} must be more than nothing.", name=name), field=name)
    for name in ("q", "give_share", "severe_share"):
        if not 0 <= getattr(priors, name) < float("inf"):
            raise BadSettings(saying("The forecast number {name} must not be negative.", name=name), field=name)
    if not -20 < priors.m0 < 20:
        raise BadSettings(
            "The forecast number m0 is the logarithm of km per day; give it between -20 and 20.", field="m0"
        )
    if len(priors.season) != 12 or not all(0 <= factor < float("inf") for factor in priors.season):
        raise BadSettings("The season has twelve factors, January first, none negative.", field="season")
    if not sum(priors.season) > 0:
        raise BadSettings("At least one month of the season is more than nothing.", field="season")
    if priors.look_late_days < priors.look_likely_days:
        raise BadSettings("look_late_days must not be below look_likely_days.", field="look_late_days")
    if not sum(getattr(priors, name) for name in SLIPS) < 0.5:
        raise BadSettings("All slips together must be rarer than right readings.", field=SLIPS[0])
    if not priors.hold_below <= priors.ask_below < 1:
        raise BadSettings("hold_below must not be above ask_below, and that must be below 1.", field="hold_below")
