"""A visit to the bay weighed against the other days it could be on: why this day, and what each other one costs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from fleetcare.actions.bay_ground import BayGround, Workplace, bay_ground
from fleetcare.actions.gather import Rules, vehicle_in
from fleetcare.actions.kept_outlooks import KeptOutlooks
from fleetcare.actions.ports import Store
from fleetcare.bayplan.explain import NEAR_DAYS, DayPricer, Explained, Forbidden, explain
from fleetcare.bayplan.held_days import BayHolder
from fleetcare.bayplan.plan import BayPlan, Visit
from fleetcare.bayplan.problem import DAY_MIN, BayProblem
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.errors import BadInput, NotFound
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.language import saying

WEEKS_PAST = 4
"""So long past late is as dear as the drawing of other days shows."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """A visit against the other days it could be on.

    explained: reasons and prices of days, counted from `day_0`; None if by the workshop's hours the visit could not be
    on its own day, so that nothing can be compared with it. services: titles by the names the problem has for them.
    cap_cents: what it would cost to let its dearest service run four weeks past late.
    """

    today: date
    zone: ZoneInfo
    visit: BayVisit
    outlook: VehicleOutlook
    explained: Explained | None
    day_0: date
    services: dict[str, str]
    cap_cents: int
    closed: Mapping[date, str]
    held: Mapping[date, tuple[BayHolder, ...]]
    """Of the days that are forbidden because the bay is taken, what holds it."""
    is_as_written: bool = False
    """By the job book's times it would not fit on its day, so it was weighed with the times somebody wrote for it."""


Lay = Callable[[BayProblem, Sequence[Visit], str, Sequence[str], int], Visit | None]
"""The cheapest visit with these services that begins on a day, beside visits that stand."""


def weigh(
    store: Store,
    rules: Rules,
    workplace: Workplace,
    lay: Lay,
    pricer: DayPricer,
    *,
    vehicle: str,
    number: int,
    now: datetime,
    kept: KeptOutlooks | None = None,
) -> Weighed:
    """Why a visit is on its day, and what each other day would cost, everything else as it is planned. Writes nothing.

    kept: what the process has worked out before. Raises NotFound for a vehicle or visit that is not there, and BadInput
    if nobody works here or it is over.
    """
    with store.read() as view:
        mark = vehicle_in(view, vehicle).mark
        visits = {each.key: each for each in view.bay_visits((mark,)) if each.takes_place}
    visit = visits.get((mark, number))
    if visit is None:
        raise NotFound(saying("visit of {mark}", mark=mark), str(number), [str(each) for _, each in visits])
    if visit.begins_at <= now:
        raise BadInput("That visit has begun.", remedy="Other days are compared for visits ahead.", field="number")
    ground = bay_ground(store, rules, workplace, now=now, horizon_days=None, freed=visit, kept=kept)
    outlook = ground.outlooks[mark]
    day_0 = ground.today - timedelta(days=ground.today.weekday())
    titles = {str(line.key): line.row.title for line in outlook.lines}
    explained, cap = _explained(ground, visit, lay, pricer, day_0)
    is_as_written = explained is None
    if is_as_written:
        ground = bay_ground(
            store, rules, workplace, now=now, horizon_days=None, freed=visit, kept=kept, is_as_written=True
        )
        explained, cap = _explained(ground, visit, lay, pricer, day_0)
    if explained is not None:
        # The problem has no hours on such a day, so to a pricer nobody is there.
        prices = tuple(
            replace(price, forbidden=Forbidden.TAKEN)
            if price.forbidden is Forbidden.NOBODY and day_0 + timedelta(days=price.day) in ground.held
            else price
            for price in explained.other_days
        )
        explained = replace(explained, other_days=prices)
    return Weighed(
        ground.today,
        ground.zone,
        visit,
        outlook,
        explained,
        day_0,
        titles,
        cap,
        ground.closed,
        ground.held,
        is_as_written and explained is not None,
    )


def _explained(
    ground: BayGround, visit: BayVisit, lay: Lay, pricer: DayPricer, day_0: date
) -> tuple[Explained | None, int]:
    problem = ground.problem
    if problem is None:
        return None, 0
    known = problem.service_by_name
    laid: list[Visit] = []
    own: Visit | None = None

    def day_of(one: BayVisit) -> int:
        return (one.begins_at.astimezone(ground.zone).date() - day_0).days

    # Twice as far as a visit can last beyond the days that are priced, nothing takes hands or a bay from them.
    reach = NEAR_DAYS + 2 * (problem.max_visit_min // DAY_MIN + 1)
    for each in sorted((*ground.pencilled, visit), key=lambda one: (one.begins_at, one.key)):
        names = [name for name in map(str, each.lines) if name in known]
        if not names or (each.key == visit.key and own is not None):
            continue
        if each.mark != visit.mark and abs(day_of(each) - day_of(visit)) > reach:
            continue
        made = lay(problem, laid, each.mark, names, day_of(each))
        if made is None:
            continue
        laid.append(made)
        if each.key == visit.key:
            own = made
    if own is None:
        return None, 0
    done = {name for each in laid for name in each.services}
    plan = BayPlan(problem.name, tuple(laid), tuple(sorted(set(known) - done)))
    cap = max(known[name].late_cents_per_day * WEEKS_PAST * 7 + known[name].overdue_cents for name in own.services)
    return explain(problem, plan, own, pricer), cap
