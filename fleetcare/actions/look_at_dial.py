"""What the drawing of one vehicle is made from: where it stands and where its dial is heading. Writes nothing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from fleetcare.actions.gather import Rules, facts_of, garage_day, garage_of, outlooks_from, rules_in_force, vehicle_in
from fleetcare.actions.ports import Store
from fleetcare.due.dial_course import DialCourse, dial_course
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.people import Garage
from fleetcare.page.drawings.fan import WIDE_FAN
from fleetcare.work.record import WorkDone


@dataclass(frozen=True, slots=True)
class Dial:
    """One vehicle, as of one moment of the store. visits: those that take place and are not over."""

    garage: Garage
    outlook: VehicleOutlook
    course: DialCourse | None
    visits: tuple[BayVisit, ...]
    bookings: tuple[Booking, ...]
    work: tuple[WorkDone, ...]


def look_at_dial(store: Store, rules: Rules, called: str, *, now: datetime) -> Dial:
    """The vehicle with that mark or name. Raises NotFound."""
    with store.read() as view:
        garage = garage_of(view)
        wanted = (vehicle_in(view, called).mark,)
        today = garage_day(garage, now)
        facts, own = facts_of(view, wanted), rules_in_force(view, rules)
        since, until = WIDE_FAN.days(today)
        return Dial(
            garage=garage,
            outlook=outlooks_from(facts, own, today)[0],
            course=dial_course(facts[0], own.priors, today=today, since=since, until=until),
            visits=tuple(visit for visit in view.bay_visits(wanted) if visit.takes_place and visit.free_at > now),
            bookings=facts[0].bookings,
            work=view.work(wanted),
        )
