"""Laws of choosing among rows, on small books made for it."""

from __future__ import annotations

from fleetcare.book.picking import ProposalClash, alternatives, choices_for, fits, proposal_clashes
from fleetcare.book.rows import BookRow, IntervalBook, IntervalRule, Limits, Status
from fleetcare.fleet.vehicle import VehicleKind


def row(
    key: str, *, short: str = "brake fluid", proposed: bool = True, vehicles: tuple[VehicleKind, ...] = ()
) -> BookRow:
    return BookRow(
        key=key,
        title="Brake fluid",
        short=short,
        components=("brakes", "coupling"),
        vehicles=vehicles,
        rule=IntervalRule(repeat=Limits(months=12)),
        source="club practice",
        status=Status.PRACTICE,
        proposed=proposed,
    )


def book(*rows: BookRow) -> IntervalBook:
    return IntervalBook({r.key: r for r in rows})


def test_two_proposed_rows_for_one_job_clash_on_each_component_they_share() -> None:
    clashes = proposal_clashes(book(row("b"), row("a")))
    assert clashes == (
        ProposalClash("brake fluid", "brakes", ("a", "b")),
        ProposalClash("brake fluid", "coupling", ("a", "b")),
    )
    assert str(clashes[0]) == (
        "a and b are both proposed for brake fluid (brakes). Let one of them say proposed = false."
    )


def test_rows_do_not_clash_if_one_is_an_alternative_or_another_job_or_for_other_vehicles() -> None:
    assert proposal_clashes(book(row("a"), row("b", proposed=False))) == ()
    assert proposal_clashes(book(row("a"), row("b", short="brake hoses"))) == ()
    car, van = (VehicleKind.CAR,), (VehicleKind.VAN,)
    assert proposal_clashes(book(row("a", vehicles=car), row("b", vehicles=van))) == ()


def test_a_row_for_any_vehicle_clashes_with_one_for_cars() -> None:
    assert len(proposal_clashes(book(row("a"), row("b", vehicles=(VehicleKind.CAR,))))) == 2


def test_a_row_without_vehicles_fits_any() -> None:
    assert all(fits(row("a"), kind, "brakes") for kind in VehicleKind)
    assert not fits(row("a"), VehicleKind.CAR, "engine")
    assert not fits(row("a", vehicles=(VehicleKind.CAR,)), VehicleKind.VAN, "brakes")


def test_choices_put_the_proposed_row_first_and_alternatives_leave_it_out() -> None:
    proposed, other, last = row("m"), row("a", proposed=False), row("z", proposed=False)
    whole = book(last, other, proposed, row("n", short="brake hoses"))
    choices = choices_for(whole, VehicleKind.CAR, "brakes")
    assert choices["brake fluid"] == (proposed, other, last)
    assert list(choices) == ["brake fluid", "brake hoses"]
    assert alternatives(whole, proposed, VehicleKind.CAR, "brakes") == (other, last)
    assert alternatives(whole, proposed, VehicleKind.CAR, "engine") == ()
