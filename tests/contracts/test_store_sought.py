"""Every store finds things by the beginnings of their words, and forgets the words of what is taken back."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleetcare.actions.ports import ReadView, Store
from fleetcare.fleet.component import LineKey, LineStart
from fleetcare.fleet.sought import SoughtKind, typed_words
from tests.contracts import karst_ridge as kr
from tests.contracts.karst_ridge import CHANGE, settle_in
from tests.contracts.test_store_work import FLAKES, FULL, NEW, PADS
from tests.stand_ins import MemoryStore

FULLER = replace(kr.BELLOWS, keeper="teo", components=(replace(kr.AXLE, lines=(LineStart("axle-fluid"),)),))


def filled(store: Store) -> None:
    """Three vehicles, two people, two sheets and four findings."""
    settle_in(store)
    with store.write(CHANGE) as unit:
        unit.put_vehicle(FULLER)
        unit.put_order(FULL)
        unit.put_order(NEW)
        unit.add_found((FLAKES, PADS))
        unit.add_work((kr.work(),))


def numbered(view: ReadView) -> int:
    """The number that the store gave the one record of work."""
    (work,) = view.work()
    return work.id or 0


def things(view: ReadView, kind: SoughtKind, typed: str, at_most: int = 20) -> list[str]:
    """What stands for the things found."""
    return [thing for thing, _ in view.sought(kind, typed_words(typed), at_most)]


@pytest.mark.parametrize(
    ("kind", "typed", "wanted"),
    [
        (SoughtKind.VEHICLE, "anv", ["AN"]),
        (SoughtKind.VEHICLE, "tow", ["AN", "BE"]),
        (SoughtKind.VEHICLE, "  TOW  rig ines", ["AN"]),
        (SoughtKind.VEHICLE, "rear axle", ["AN", "BE"]),
        (SoughtKind.VEHICLE, "ow", []),
        (SoughtKind.VEHICLE, "1M8GDM", []),
        (SoughtKind.VEHICLE, "tow 50%_", []),
        (SoughtKind.PERSON, "ines", ["ines"]),
        (SoughtKind.PERSON, "INÉS farr", ["ines"]),
        (SoughtKind.PERSON, "garage.example", []),
        (SoughtKind.SHEET, "147", ["00000147"]),
        (SoughtKind.SHEET, "0148", ["00000148"]),
        (SoughtKind.SHEET, "14", ["00000148", "00000147"]),
        (SoughtKind.SHEET, "anvil axle", ["00000148", "00000147"]),
        (SoughtKind.SHEET, "bellows axle", []),
        (SoughtKind.SHEET, "anvil", []),
        (SoughtKind.FINDING, "pads", [f"{kr.TODAY}/00000148/2"]),
        (SoughtKind.FINDING, "anvil mag", [f"{kr.TODAY}/done/0", f"{kr.TODAY}/00000148/2", f"{kr.TODAY}/00000148/1"]),
        (SoughtKind.FINDING, "pitted", [f"{kr.TODAY}/done/1"]),
        (SoughtKind.FINDING, "", []),
    ],
)
def test_a_thing_is_found_if_each_word_begins_one_of_its_own(
    store: Store, kind: SoughtKind, typed: str, wanted: list[str]
) -> None:
    filled(store)
    with store.read() as view:
        assert [each.replace(f"work/{numbered(view)}/", "done/") for each in things(view, kind, typed)] == wanted


def test_whole_words_come_first_and_there_are_never_more_than_asked_for(store: Store) -> None:
    settle_in(store)
    with store.write(CHANGE) as unit:
        unit.put_vehicle(replace(kr.RAFT, mark="AA", name="Rafter"))
        assert things(unit, SoughtKind.VEHICLE, "raft") == ["RA", "AA"]
        assert things(unit, SoughtKind.VEHICLE, "raft", at_most=1) == ["RA"]


def test_lines_are_found_by_vehicle_and_service_together(store: Store) -> None:
    filled(store)
    fluid = frozenset({"axle-fluid"})
    with store.read() as view:
        assert view.sought_lines([("bellows", frozenset()), ("fluid", fluid)], 9) == (
            LineKey("BE", "rear-axle", "axle-fluid"),
        )
        assert [line.mark for line in view.sought_lines([("tow", frozenset()), ("fluid", fluid)], 9)] == ["AN", "BE"]
        assert len(view.sought_lines([("tow", frozenset()), ("fluid", fluid)], 1)) == 1
        assert view.sought_lines([("fluid", fluid)], 9) == ()
        assert view.sought_lines([("bellows", frozenset())], 9) == ()
        assert view.sought_lines([], 9) == ()


def test_a_new_name_is_found_and_the_old_one_is_not(store: Store) -> None:
    filled(store)
    with store.write(CHANGE) as unit:
        unit.put_vehicle(replace(FULLER, name="Ångström"))
        assert things(unit, SoughtKind.VEHICLE, "bellows") == []
        assert things(unit, SoughtKind.VEHICLE, "angstrom") == ["BE"]


def test_what_is_taken_back_is_not_found(store: Store) -> None:
    filled(store)
    with store.write(CHANGE) as unit:
        unit.drop_found(148)
        assert things(unit, SoughtKind.FINDING, "flakes") == []
        assert things(unit, SoughtKind.FINDING, "pitted") != []
        unit.take_back_work([numbered(unit)])
        assert things(unit, SoughtKind.FINDING, "pitted") == []


WORD = st.text("abäßÉ1'- ", min_size=1, max_size=6)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(names=st.lists(WORD, min_size=1, max_size=4), typed=st.text("abäßÉ1% ", max_size=8))
def test_every_store_finds_the_same(store: Store, names: list[str], typed: str) -> None:
    beside = MemoryStore()
    for each in (store, beside):
        settle_in(each)
        with each.write(CHANGE) as unit:
            for number, name in enumerate(names):
                unit.put_vehicle(replace(kr.RAFT, mark=f"X{number}", name=name))
    with store.read() as view, beside.read() as other:
        # Vehicles of an earlier example may still be there, so only those of this one are compared.
        marks = [f"X{number}" for number in range(len(names))]
        found = [mark for mark in things(view, SoughtKind.VEHICLE, typed, 99) if mark in marks]
        assert found == [mark for mark in things(other, SoughtKind.VEHICLE, typed, 99) if mark in marks]
