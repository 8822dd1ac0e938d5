"""The numbers feeds go by: when a date may move, how far bars reach, how often readers are asked to come."""

from __future__ import annotations

from dataclasses import dataclass

from fleetcare.errors import BadSettings
from fleetcare.fleet.feed_choice import FeedAlarm
from fleetcare.language import saying


@dataclass(frozen=True, slots=True)
class FeedRules:
    """The numbers feeds go by; `config/calendar_feed.toml` carries the same figures, each with its reason.

    Raises BadSettings for a number that cannot be.
    """

    calm_days: int = 3
    """Moves of fewer days are not news."""
    calm_share: float = 0.1
    """Nor is a later date that adds less than this share of the time left,"""
    near_days: int = 14
    """unless the published date is no further away than this."""
    stretch_days: int = 7
    """A bar that must hold today is made longer once in so many days,"""
    slack_days: int = 2
    """and reaches so much further, since many calendars fetch once a day only."""
    months_back: int = 12
    months_ahead: int = 25
    worn_step: float = 0.05
    pace_share: float = 0.1
    """The share worn is told in steps; the pace is told anew if it moved by this share, or if a date moved."""
    refresh_hours: int = 6
    """How often readers are asked to come."""
    alarms: tuple[FeedAlarm, ...] = ()
    """Those a person can choose from."""

    def __post_init__(self) -> None:
        for field, low, high in (
            ("calm_days", 1, 30),
            ("calm_share", 0.0, 0.5),
            ("near_days", 0, 90),
            ("stretch_days", 1, 30),
            ("slack_days", 1, 14),
            ("months_back", 0, 12),
            ("months_ahead", 1, 25),
            ("worn_step", 0.0, 0.5),
            ("pace_share", 0.0, 0.5),
            ("refresh_hours", 1, 24),
        ):
            if not low <= getattr(self, field) <= high:
                raise BadSettings(
                    saying("{field} cannot be {figure}.", field=field, figure=getattr(self, field)),
                    remedy=saying("Give {low} to {high}.", low=low, high=high),
                    field=field,
                )
        names = [alarm.name for alarm in self.alarms]
        if len(set(names)) < len(names):
            raise BadSettings("Two alarms have one name.", remedy="Give each its own.", field="name")
