"""The two forms of the strip, and where a day lies on each."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

DAY = timedelta(days=1)
NOON_SHARE = 0.4
"""How far into its day something stands that has a day and no hour: today, a look again."""


@dataclass(frozen=True, slots=True)
class Form:
    """Measures of one form, in user units. days: how many it shows, from the Monday of last week on.

    wedge: height of a window at its late date. row: what a layer of windows takes. sky, bare: above the first layer,
    with and without anything in it. least: of a lane. named: windows carry their names; else a number into the list.
    """

    width: float
    gutter: float
    days: int
    edge: float
    head: float
    wedge: float
    row: float
    sky: float
    bare: float
    least: float
    named: bool
    low: float = 5.0
    """Below the last layer."""

    @property
    def per_day(self) -> float:
        """How wide a day is."""
        return (self.width - self.gutter - self.edge) / self.days

    @property
    def right(self) -> float:
        """Where the last day ends."""
        return self.width - self.edge


WIDE = Form(1224, 146, 115, 2, 44, 17, 22, 17, 6, 45, named=True)
PHONE = Form(358, 34, 63, 0, 34, 13, 19, 13, 4, 32, named=False)


@dataclass(frozen=True, slots=True)
class Axis:
    """Where days lie on a form."""

    form: Form
    start: date

    @classmethod
    def around(cls, today: date, form: Form) -> Axis:
        """The axis on which today lies in the second week."""
        return cls(form, today - timedelta(days=today.weekday() + 7))

    def x(self, day: date) -> float:
        """Where a day begins."""
        return self.form.gutter + self.form.per_day * (day - self.start).days

    def at(self, moment: datetime) -> float:
        """Where a local instant of the garage lies."""
        since_midnight = timedelta(hours=moment.hour, minutes=moment.minute)
        return self.x(moment.date()) + self.form.per_day * (since_midnight / DAY)

    def within(self, day: date) -> float:
        """Where something stands that has a day and no hour."""
        return self.x(day) + NOON_SHARE * self.form.per_day

    @property
    def end(self) -> date:
        """The first day that is not shown."""
        return self.start + timedelta(days=self.form.days)
