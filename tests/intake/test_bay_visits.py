"""bay_visits.csv: what is read, and what is refused with its line."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from fleetcare.fleet.bay_visit import StretchKind, VisitState
from tests.intake.garage_texts import faults_of, stored, taken

HEAD = "vehicle,number,state,begins,services,takes,hands,why\n"
AT = "2026-04-25T09:00:00-06:00"


def test_a_visit_is_read_with_its_offset_and_its_stretches() -> None:
    row = f'Anvil,2,inked,{AT},rear-axle/axle-fluid,"1:00, stands 2:00",ines,"before the climb, dry"\n'
    (visit,) = taken({"v": HEAD + row}, stored()).visits
    assert visit.key == ("AN", 2)
    assert visit.state is VisitState.INKED
    assert visit.begins_at == datetime(2026, 4, 25, 15, tzinfo=UTC)
    assert [(each.kind, each.lasts) for each in visit.stretches] == [
        (StretchKind.HANDS_ON, timedelta(hours=1)),
        (StretchKind.STANDING, timedelta(hours=2)),
    ]
    assert (visit.mechanic, visit.reason) == ("ines", "before the climb, dry")
    (bare,) = taken({"v": HEAD + f"AN,1,,{AT},rear-axle/axle-fluid,1:00,,\n"}, stored()).visits
    assert bare.state is VisitState.PENCILLED


def test_what_is_wrong_is_said_with_its_line_and_column() -> None:
    bad = (
        f"Anvyl,1,,{AT},rear-axle/axle-fluid,1:00,,\n"
        f"AN,0,,{AT},rear-axle/axle-fluid,1:00,,\n"
        f"AN,1,maybe,{AT},rear-axle/axle-fluid,1:00,,\n"
        "AN,1,,2026-04-25 09:00,rear-axle/axle-fluid,1:00,,\n"
        f"AN,1,,{AT},rear-axle/axle-flud,1:00,,\n"
        f"AN,1,,{AT},rear-axle/axle-fluid,90,,\n"
        f"AN,1,,{AT},rear-axle/axle-fluid,stands 1:00,,\n"
        f"AN,1,,{AT},rear-axle/axle-fluid,1:00,nobody,\n"
        f"AN,5,,{AT},rear-axle/axle-fluid,1:00,,\nAN,5,,{AT},rear-axle/axle-fluid,2:00,,\n"
    )
    faults = faults_of({"v": HEAD + bad}, stored())
    assert [(fault.line, fault.what.partition(":")[0]) for fault in faults] == [
        (2, "vehicle"),
        (3, "number"),
        (4, "state"),
        (5, "begins"),
        (6, "services"),
        (7, "takes"),
        (8, "takes"),
        (9, "hands"),
        (11, "number"),
    ]
