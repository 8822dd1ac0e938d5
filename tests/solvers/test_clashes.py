"""What is learnt from visits that do not fit together to the minute forbids no visits that would."""

from __future__ import annotations

from itertools import islice, product

import pytest

from fleetcare.bayplan.port import Limits
from fleetcare.bayplan.standing import NOTHING_STANDS
from fleetcare.solvers.clashes import clashes, without
from fleetcare.solvers.columns import Column
from fleetcare.solvers.depot import widen
from fleetcare.solvers.depot_work import DepotWork, begun
from fleetcare.solvers.exact import searches_for
from fleetcare.solvers.groups import key_of
from fleetcare.solvers.minutes import Fit, place
from fleetcare.solvers.neighbourhood import bound_it, first_plan
from tests.bench.bay_garages import garage

MOST_TRIED = 40


@pytest.fixture(scope="module")
def planned() -> DepotWork:
    """Three vehicles planned to a proof; some of their visits were found not to fit together."""
    problem = garage(name="clash", vehicles=3, days=60, seed=1, is_household=True)
    (search,) = searches_for(problem, Limits(steps=60), NOTHING_STANDS)
    depot = begun(search)
    first_plan(depot, calm_share=0.0)
    bound_it(depot)
    widen(search, depot.rows, depot.master, 20.0)
    assert search.is_proven
    return depot


@pytest.fixture(scope="module")
def offered(planned: DepotWork) -> list[Column]:
    """Visits of all vehicles, cheap ones and dear ones."""
    prices = planned.rows.prices(planned.master.y)
    width = 0.1 * planned.master.value
    return [column for pricer in planned.master.pricers for _, column in pricer.below(prices, width, 100_000)[0]]


def test_whatever_it_forbids_does_not_fit_to_the_minute(planned: DepotWork, offered: list[Column]) -> None:
    proven = {keys: True for keys, is_proven in planned.search.together.items() if is_proven}
    found = clashes([[column] for column in offered], proven)
    assert found
    assert any(len(places) > 1 for clash in found for places in clash)
    for clash in found:
        for chosen in islice(product(*clash), MOST_TRIED):
            fit, _ = place(planned.search.grid, [offered[at] for at in chosen])
            assert fit is Fit.NO


def test_of_visits_that_stand_for_the_same_one_a_plan_holds_one_at_most(
    planned: DepotWork, offered: list[Column]
) -> None:
    for clash in clashes([[column] for column in offered], planned.search.together):
        for places in clash:
            assert len({(offered[at].vehicle, offered[at].arrive) for at in places}) == 1


def test_what_is_not_proven_forbids_those_very_visits_alone(offered: list[Column]) -> None:
    more = next(column for column in offered if len(column.modes) > 1)
    fewer = next(
        column
        for column in offered
        if (column.vehicle, column.arrive) == (more.vehicle, more.arrive)
        and set(column.modes) < set(more.modes)
        and set(column.setups) <= set(more.setups)
    )
    both = [[fewer], [more]]
    assert clashes(both, {(key_of(fewer),): False}) == [((0,),)]
    assert clashes(both, {(key_of(fewer),): True}) == [((0, 1),)]
    assert clashes(both, {(key_of(more),): True}) == [((1,),)]
    assert clashes([[fewer, more]], {(key_of(more),): True}) == []
    assert clashes([[fewer]], {(key_of(fewer), key_of(more)): True}) == []


def test_without_a_service_a_visit_makes_no_set_up_that_nobody_needs(planned: DepotWork, offered: list[Column]) -> None:
    grid = planned.search.grid
    for column in offered[:200]:
        vehicle = grid.vehicles[column.vehicle]
        for number, _ in column.modes:
            left = without(grid, column, number)
            kept = {service for service, _ in left.modes}
            assert kept == {service for service, _ in column.modes} - {number}
            needed = {name for one in vehicle.services if one.number in kept for name in one.service.setups}
            assert {vehicle.setups[at] for at, _ in left.setups} == needed
