"""A visit's own times in place of the job book's."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from fleetcare.bayplan.garage_problem import Wanted
from fleetcare.bayplan.problem import Wait
from fleetcare.bayplan.written_times import as_written
from fleetcare.fleet.bay_visit import BayVisit, Stretch, StretchKind
from fleetcare.fleet.component import LineKey

BEGINS = datetime(2026, 4, 25, 15, tzinfo=UTC)
HANDS, STANDS = StretchKind.HANDS_ON, StretchKind.STANDING


def visit_of(minutes: list[int], services: int = 1) -> BayVisit:
    """Hands and waits in turn, so many minutes each."""
    at, stretches = BEGINS, []
    for place, each in enumerate(minutes):
        ends = at + timedelta(minutes=each)
        stretches.append(Stretch(STANDS if place % 2 else HANDS, at, ends))
        at = ends
    lines = tuple(LineKey("AN", "rear-axle", f"service-{number}") for number in range(services))
    return BayVisit("AN", 1, lines, tuple(stretches))


def wanted(line: LineKey) -> Wanted:
    return Wanted(line, "axle", None, ((500, None),), set_ups=("on stands",), fluid="75W-140")


def test_the_first_service_carries_the_hands_and_the_waits() -> None:
    visit = visit_of([140, 1500, 80], services=2)
    lead, other = as_written([wanted(line) for line in visit.lines], visit)
    assert [part for part, _ in lead.parts] == [139, 80]
    assert lead.parts[0][1] == Wait(1500, 14 * 1440)
    assert other.parts == ((1, None),)
    assert (lead.set_ups, lead.fluid, other.set_ups) == ((), "", ())


def test_what_stands_at_the_end_is_let_go_by_a_last_look() -> None:
    visit = visit_of([60, 600])
    (lead,) = as_written([wanted(visit.lines[0])], visit)
    assert [part for part, _ in lead.parts] == [60, 1]


@given(st.lists(st.integers(10, 600), min_size=1, max_size=5), st.integers(1, 4))
def test_no_minute_is_lost_and_other_services_stay_as_they_are(minutes: list[int], services: int) -> None:
    visit = visit_of(minutes, services)
    stranger = wanted(LineKey("BE", "hubs", "hub-grease"))
    *own, same = as_written([*(wanted(line) for line in visit.lines), stranger], visit)
    assert same == stranger
    looks = 1 if len(minutes) % 2 == 0 else 0
    assert sum(part for each in own for part, _ in each.parts) == sum(minutes[::2]) + looks
    assert [wait.least for _, wait in own[0].parts if wait is not None] == minutes[1::2]
