"""A vehicle put together from answers: its parts, their lines, and a record for each one that was done."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.errors import BadInput, NotFound
from fleetcare.fleet.component import History
from fleetcare.fleet.vehicle import ODOMETER, Meter, Vehicle, VehicleKind
from fleetcare.quantities import DistanceUnit, MeterUnit, km_from
from fleetcare.settings.book_files import load_book
from fleetcare.settings.places import SHIPPED_BOOK, shipped_config
from fleetcare.work.new_vehicle import (
    RECKONED,
    USUAL_PARTS,
    Answer,
    Past,
    Said,
    components_of,
    is_asked,
    parts_chosen,
    parts_offered,
    work_of,
)

BOOK = load_book(shipped_config() / SHIPPED_BOOK, duties=())
TODAY = date(2026, 4, 14)
QUARRY = Vehicle(
    "QU",
    "Quarry",
    VehicleKind.LIGHT_TRUCK,
    "tow rig",
    DistanceUnit.MI,
    in_service_on=date(2016, 4, 14),
    meters=(Meter(ODOMETER, MeterUnit.MI),),
)
OIL = ("engine", "engine-oil")


def with_engine(answer: Answer, dial: str | None = "100000") -> tuple[Vehicle, Said]:
    said = Said(TODAY, None if dial is None else Decimal(dial), {OIL: answer}, "ines")
    parts = parts_chosen(BOOK, QUARRY.kind, ["engine"])
    return replace(QUARRY, components=components_of(parts, said)), said


@pytest.mark.parametrize("kind", VehicleKind)
def test_every_usual_part_has_services_in_the_shipped_book(kind: VehicleKind) -> None:
    offered = {part.kind: part for part in parts_offered(BOOK, kind)}
    assert set(USUAL_PARTS[kind]) <= set(offered)
    assert all(part.rows for part in offered.values())
    assert any(is_asked(row) for part in offered.values() for row in part.rows)


def test_a_part_of_which_nothing_is_left_is_left_out_and_an_unknown_one_refused() -> None:
    parts = parts_chosen(BOOK, VehicleKind.CAR, ["engine", "gearbox"])
    answers = {(part.key, row.key): Answer(Past.LEFT) for part in parts if part.key == "engine" for row in part.rows}
    assert [c.key for c in components_of(parts, Said(TODAY, answers=answers))] == ["gearbox"]
    with pytest.raises(NotFound):
        parts_chosen(BOOK, VehicleKind.CAR, ["sails"])


@pytest.mark.parametrize(
    ("past", "history"),
    [(Past.UNKNOWN, History.UNKNOWN), (Past.NEW, History.NEW), (Past.DONE, History.RECORDED)],
)
def test_what_is_said_of_a_line_is_its_history(past: Past, history: History) -> None:
    vehicle, _ = with_engine(Answer(past, on=TODAY))
    assert {line.service: line.history for line in vehicle.components[0].lines}["engine-oil"] is history


def test_a_day_and_a_dial_stand_in_the_record_as_given() -> None:
    vehicle, said = with_engine(Answer(Past.DONE, date(2026, 2, 1), Decimal(98000)))
    (record,) = work_of(vehicle, said)
    assert (record.on, record.at, record.unit, record.by, record.note) == (
        date(2026, 2, 1), Decimal(98000), MeterUnit.MI, "ines", "",
    )  # fmt: skip


def test_of_a_dial_alone_the_day_is_reckoned_from_its_whole_life_and_says_so() -> None:
    # Ten years, 3 652 days, for 100 000 mi: a tenth of it back are 365.2 days.
    vehicle, said = with_engine(Answer(Past.DONE, at=Decimal(90000)))
    (record,) = work_of(vehicle, said)
    assert (record.on, record.note) == (date(2025, 4, 14), RECKONED)


def test_or_from_the_distance_of_a_year() -> None:
    # 10 000 mi a year and 5 000 mi ago: half of 365.2425 days.
    vehicle, said = with_engine(Answer(Past.DONE, at=Decimal(95000)))
    vehicle = replace(vehicle, in_service_on=None, yearly_km=km_from(Decimal(10000), DistanceUnit.MI))
    (record,) = work_of(vehicle, said)
    assert (TODAY - record.on).days == 183


@pytest.mark.parametrize(
    ("answer", "told"),
    [
        (Answer(Past.DONE), "Done when?"),
        (Answer(Past.DONE, date(2026, 4, 15)), "still to come"),
        (Answer(Past.DONE, date(2016, 4, 13)), "came into service"),
        (Answer(Past.DONE, at=Decimal(100001)), "cannot have shown"),
    ],
)
def test_what_cannot_be_is_refused_at_its_line(answer: Answer, told: str) -> None:
    vehicle, said = with_engine(answer)
    with pytest.raises(BadInput, match=told) as trouble:
        work_of(vehicle, said)
    assert trouble.value.field == "engine.engine-oil"


def test_a_day_that_cannot_be_reckoned_is_asked_for() -> None:
    vehicle, said = with_engine(Answer(Past.DONE, at=Decimal(90000)), dial=None)
    with pytest.raises(BadInput, match="cannot be reckoned"):
        work_of(vehicle, said)


@given(one=st.integers(1, 100_000), other=st.integers(1, 100_000))
def test_more_on_the_dial_is_never_longer_ago(one: int, other: int) -> None:
    days = []
    for at in sorted((one, other)):
        vehicle, said = with_engine(Answer(Past.DONE, at=Decimal(at)))
        days.append(work_of(vehicle, said)[0].on)
    assert days == sorted(days)
    assert all(QUARRY.in_service_on is not None and QUARRY.in_service_on <= day <= TODAY for day in days)
