"""The findings that wait, with where their vehicles stand; and what a change wrote into the log."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from fleetcare.actions.gather import Rules, garage_day, garage_of, outlooks_of
from fleetcare.actions.ports import LogEntry, ReadView, Store
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.work.found import found_where_it_is
from fleetcare.work.open_findings import WaitingFinding, open_findings

MOST_LINES = 200
"""Entries of the log that are looked through for what one change wrote."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """The findings that wait, as of one moment. outlooks: of their vehicles, by mark. vehicles: all that are there."""

    garage: Garage
    today: date
    people: tuple[Person, ...]
    vehicles: tuple[Vehicle, ...]
    findings: tuple[WaitingFinding, ...]
    outlooks: dict[str, VehicleOutlook]


def findings_waiting(store: Store, rules: Rules, *, now: datetime) -> Waiting:
    """Reads and works out what is needed; writes nothing. Findings of vehicles that were sold wait for nobody."""
    with store.read() as view:
        garage = garage_of(view)
        today = garage_day(garage, now)
        vehicles = tuple(
            each for each in view.vehicles() if each.out_of_fleet_on is None or each.out_of_fleet_on > today
        )
        there = {vehicle.mark for vehicle in vehicles}
        findings = tuple(
            each
            for each in open_findings(found_where_it_is(view.found(), view.moves()), view.work())
            if each.line.mark in there
        )
        marks = sorted({each.line.mark for each in findings})
        outlooks = {each.vehicle.mark: each for each in outlooks_of(view, rules, today, marks)} if marks else {}
        return Waiting(garage, today, view.people(), vehicles, findings, outlooks)


def lines_of_change(view: ReadView, *, who: str, at: datetime) -> tuple[LogEntry, ...]:
    """What the newest change of that person at that instant wrote into the log, in the order written."""
    entries = [each for each in view.log(limit=MOST_LINES) if each.change.at == at and each.change.who == who]
    return tuple(reversed([each for each in entries if each.change.why == entries[0].change.why]))
