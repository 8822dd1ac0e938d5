"""The findings that wait, with where their vehicles stand; and what a change wrote into the log."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from fleetcare.actions.gather import Rules, garage_day, garage_of
from fleetcare.actions.kept_outlooks import KeptOutlooks
from fleetcare.actions.ports import LogEntry, ReadView, Store
from fleetcare.due.cut_intervals import IntervalCut
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.work.open_findings import WaitingFinding, in_waiting_order

MOST_LINES = 200
"""Entries of the log that are looked through for what one change wrote."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """The findings that wait, as of one moment. outlooks: of their vehicles, by mark. vehicles: all that are there.

    cuts: the findings that only cut an interval short, as long as they do.
    """

    garage: Garage
    today: date
    people: tuple[Person, ...]
    vehicles: tuple[Vehicle, ...]
    findings: tuple[WaitingFinding, ...]
    outlooks: dict[str, VehicleOutlook]
    cuts: tuple[IntervalCut, ...] = ()


def findings_waiting(store: Store, rules: Rules, *, now: datetime, kept: KeptOutlooks | None = None) -> Waiting:
    """Reads and works out what is needed; writes nothing. Findings of vehicles that were sold wait for nobody.

    kept: what this process has worked out before; only what has changed since is worked out then.
    """
    with store.read() as view:
        garage = garage_of(view)
        today = garage_day(garage, now)
        fleet = [
            each
            for each in (kept or KeptOutlooks()).look(view, rules, today)
            if not each.outlook.vehicle.is_gone(today)
        ]
        return Waiting(
            garage,
            today,
            view.people(),
            tuple(each.outlook.vehicle for each in fleet),
            in_waiting_order(finding for each in fleet for finding in each.findings),
            {each.outlook.vehicle.mark: each.outlook for each in fleet if each.findings or each.cuts},
            tuple(cut for each in fleet for cut in each.cuts),
        )


def lines_of_change(view: ReadView, *, who: str, at: datetime) -> tuple[LogEntry, ...]:
    """What the newest change of that person at that instant wrote into the log, in the order written."""
    entries = [each for each in view.log(limit=MOST_LINES) if each.change.at == at and each.change.who == who]
    return tuple(reversed([each for each in entries if each.change.why == entries[0].change.why]))
