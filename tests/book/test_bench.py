"""What lies on the bench for a job: amounts and aims from the tag of the component, blanks where nobody knows."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.book.bench import Need, added_up, bench
from fleetcare.fleet.component import Component, TagFact
from fleetcare.settings.job_files import load_jobs
from fleetcare.settings.places import SHIPPED_JOBS, shipped_config

JOBS = load_jobs(shipped_config() / SHIPPED_JOBS).jobs

# Anvil's rear axle of the Karst Ridge Motor Club
ANVIL = Component(
    "rear-axle",
    "rear axle",
    "Rear axle, limited slip",
    "75W-140 GL-5",
    Decimal("2.6"),
    (
        TagFact("friction modifier", "118 mL, required"),
        TagFact("closure", "cover with sealant, 10 bolts M8", "measured"),
        TagFact("cover bolts", "34 to 46 N·m, M8, 10 bolts, first pass 20, second pass 40"),
        TagFact("fill plug", "3/8 inch square, 25 to 34 lb·ft"),
        TagFact("fill", "6 mm below the hole"),
        TagFact("magnet", "in the cover", "measured"),
    ),
)


def needs(job: str, component: Component) -> dict[str, tuple[Decimal | None, str, int | None]]:
    return {need.what: (need.amount, need.unit, need.packs) for need in bench(JOBS[job], component).needs}


def aims(job: str, component: Component) -> dict[str, str]:
    return {aim.what: aim.words for aim in bench(JOBS[job], component).aims}


def test_the_fluid_of_anvils_rear_axle_is_two_and_a_half_litres_and_a_little() -> None:
    found = needs("axle-fluid-sealed", ANVIL)
    assert found["Axle fluid, 75W-140 GL-5"] == (Decimal("2.6"), "L", 3)
    assert found["Friction modifier"] == (Decimal("118.0"), "mL", 1)
    assert found["Sealant, oil proof"] == (Decimal(1), "tubes", None)
    assert found["Lint-free wipes"] == (Decimal(14), "pieces", None)  # 8 under the axle and 6 for the faces


def test_values_are_reached_in_the_middle_of_their_range() -> None:
    found = aims("axle-fluid-sealed", ANVIL)
    assert found["Cover bolts"] == "34 to 46 N·m, aim 40"
    assert found["Fill plug"] == "25 to 34 lb·ft, aim 29.5"
    assert found["Fluid level"] == "6 mm below the hole"
    assert found["A clean magnetic plug lifts at least"] == "0.7 kg"  # ArvinMeritor MM-0361: 1.5 lb (0.7 kg)


def test_what_nobody_knows_is_a_blank() -> None:
    bare = Component("rear-axle", "rear axle", "Rear axle")
    found = needs("axle-fluid-sealed", bare)
    assert found["Axle fluid"] == (None, "L", None)
    assert found["Friction modifier: required, forbidden or not needed"][0] is None
    assert found["What closes it: sealant, gasket or O-ring"][0] is None
    assert aims("axle-fluid-sealed", bare)["Cover bolts"] == ""
    unknown = Component("rear-axle", "rear axle", "Rear axle", facts=(TagFact("cover bolts", "40 N·m?", "unknown"),))
    assert aims("axle-fluid-sealed", unknown)["Cover bolts"] == ""


@pytest.mark.parametrize("words", ["forbidden, it is in the fluid", "not needed"])
def test_no_friction_modifier_goes_where_it_must_not(words: str) -> None:
    axle = Component("rear-axle", "rear axle", "Rear axle", facts=(TagFact("friction modifier", words),))
    assert not any("riction" in what for what in needs("axle-fluid-sealed", axle))


def test_a_refill_in_the_vehicle_goes_before_the_capacity() -> None:
    axle = Component("a", "rear axle", "A", "75W-90", Decimal("2.3"), (TagFact("refill", "2.1 L", "measured"),))
    assert needs("axle-fluid-gasket", axle)["Axle fluid, 75W-90"][:2] == (Decimal("2.1"), "L")


litres = st.decimals(min_value="0.1", max_value="20", places=2)
several = st.lists(
    st.builds(Need, st.sampled_from(["Oil", "oil", "Wipes"]), st.none() | litres, st.just("L")), max_size=8
)


@given(several)
def test_adding_up_loses_nothing(given_needs: list[Need]) -> None:
    found = added_up(given_needs)
    assert len({need.key for need in found}) == len(found)
    for need in found:
        parts = [each.amount for each in given_needs if each.key == need.key]
        known = [part for part in parts if part is not None]
        assert need.amount == (sum(known) if len(known) == len(parts) else None)
    assert added_up(found) == found
