"""The command that lets a garage learn its own forecast numbers: fit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from fleetcare.cli.frame import AsJson, Home, command, parts_of, say, show_data

if TYPE_CHECKING:
    from fleetcare.actions.fit_fleet import FitCame
    from fleetcare.due.learning import AtHand
    from fleetcare.usage.learned import FitBasis, FleetNumbers


@command("fit")
def fit(
    by: Annotated[str, typer.Option("--by", help="Who asked for it, by name or key.")] = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Learns the forecast numbers of this garage from its own readings."""
    from fleetcare.actions.fit_fleet import fit_fleet
    from fleetcare.cli.progress import progress_bar
    from fleetcare.intake.text import clean_text

    with parts_of(home) as parts, progress_bar() as progress:
        came = fit_fleet(
            parts.store,
            parts.rules,
            now=parts.clock.now(),
            base_url=parts.base_url,
            who=clean_text(by, field="by"),
            progress=progress,
        )
    if as_json:
        show_data(_fit_data(came))
        return
    for line in _words(came):
        say(line)


def _words(came: FitCame) -> list[str]:
    from fleetcare.wording import counted

    basis, numbers = came.lesson.basis, came.lesson.numbers
    if basis is None:
        return [f"Not yet: {_missing(came.lesson.at_hand)} The numbers stay as they are."]
    if came.stored is None:
        return ["Somebody else fitted them at the same time; those numbers stand. Nothing was changed."]
    came_from = (
        f"{counted(basis.vehicles, 'vehicle')} and {counted(basis.readings, 'reading')} over "
        f"{counted(basis.months, 'month')}"
    )
    if numbers is None:
        lines = [f"The shipped numbers stay: none learned from {came_from} foretold the readings better."]
    else:
        lines = [
            f"Fitted to this garage from {came_from}.",
            f"{_what_came(basis)} as likely under these numbers as under the shipped ones.",
            *_changes(came.lesson.before, numbers),
        ]
    return [*lines, f"{counted(came.moved, 'date')} moved." if came.moved else "No date moved."]


def _what_came(basis: FitBasis) -> str:
    what = "vehicles left out while learning did" if basis.vehicles > 1 else "was read"
    return f"What {what} is {basis.times_as_likely:.2f} times"


def _missing(at_hand: AtHand) -> str:
    from fleetcare.due.learning import ENOUGH_MEDIAN, ENOUGH_READINGS, ENOUGH_VEHICLES
    from fleetcare.wording import grouped

    if not at_hand.vehicles:
        return "no vehicle has an odometer."
    return (
        f"{ENOUGH_VEHICLES} vehicles with {ENOUGH_READINGS} readings or more are needed, there are"
        f" {grouped(at_hand.with_three)}; or {ENOUGH_MEDIAN} readings of the middle vehicle, which has"
        f" {grouped(at_hand.median)}."
    )


def _changes(before: FleetNumbers, after: FleetNumbers) -> list[str]:
    from math import exp

    from fleetcare.wording import MONTHS

    figures = [
        ("typical pace, km a running day", exp(before.m0), exp(after.m0)),
        ("spread of the pace over vehicles", before.s0, after.s0),
        ("unevenness from day to day, days", before.psi, after.psi),
        ("size of spells of more or less use", before.sig, after.sig),
        ("length of such spells, days", before.tau, after.tau),
        ("drift of the pace a year", before.q**0.5, after.q**0.5),
    ]
    lines = [f"  {what}: {new:.3g}, was {old:.3g}" for what, old, new in figures]
    if after.season != before.season:
        shown = ", ".join(f"{month[:3]} {factor:.2f}" for month, factor in zip(MONTHS, after.season, strict=True))
        lines.append(f"  season: {shown}")
    return lines


def _fit_data(came: FitCame) -> dict[str, Any]:
    from dataclasses import asdict

    lesson = came.lesson
    return {
        "enough": lesson.basis is not None,
        "stored": came.stored is not None,
        "fitted": came.stored is not None and came.stored.numbers is not None,
        "at_hand": asdict(lesson.at_hand),
        "basis": None if lesson.basis is None else asdict(lesson.basis),
        "shipped": asdict(lesson.before),
        "numbers": None if lesson.numbers is None else asdict(lesson.numbers),
        "moved": came.moved,
    }
