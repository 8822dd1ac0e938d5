"""The command that lets a garage learn its own forecast numbers: fit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from fleetcare.cli.frame import AsJson, Home, command, parts_of, say, show_data
from fleetcare.language import in_force, tr

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
        return [tr("Not yet: {missing} The numbers stay as they are.", missing=_missing(came.lesson.at_hand))]
    if came.stored is None:
        return [tr("Somebody else fitted them at the same time; those numbers stand. Nothing was changed.")]
    came_from = tr(
        "{vehicles} and {readings} over {months}",
        vehicles=counted(basis.vehicles, "vehicle"),
        readings=counted(basis.readings, "reading"),
        months=counted(basis.months, "month"),
    )
    if numbers is None:
        lines = [
            tr("The shipped numbers stay: none learned from {basis} foretold the readings better.", basis=came_from)
        ]
    else:
        lines = [
            tr("Fitted to this garage from {basis}.", basis=came_from),
            _what_came(basis),
            *_changes(came.lesson.before, numbers),
        ]
    moved = tr("{dates} moved.", dates=counted(came.moved, "date")) if came.moved else tr("No date moved.")
    return [*lines, moved]


def _what_came(basis: FitBasis) -> str:
    times = f"{basis.times_as_likely:.2f}".replace(".", in_force().decimal)
    if basis.vehicles > 1:
        return tr(
            "What vehicles left out while learning did is {times} times as likely under these numbers "
            "as under the shipped ones.",
            times=times,
        )
    return tr("What was read is {times} times as likely under these numbers as under the shipped ones.", times=times)


def _missing(at_hand: AtHand) -> str:
    from fleetcare.due.learning import ENOUGH_MEDIAN, ENOUGH_READINGS, ENOUGH_VEHICLES
    from fleetcare.wording import grouped

    if not at_hand.vehicles:
        return tr("no vehicle has an odometer.")
    return tr(
        "{vehicles} vehicles with {readings} readings or more are needed, there are {there}; "
        "or {middle} readings of the middle vehicle, which has {median}.",
        vehicles=ENOUGH_VEHICLES,
        readings=ENOUGH_READINGS,
        there=grouped(at_hand.with_three),
        middle=ENOUGH_MEDIAN,
        median=grouped(at_hand.median),
    )


def _changes(before: FleetNumbers, after: FleetNumbers) -> list[str]:
    from math import exp

    figures = [
        (tr("typical pace, km a running day"), exp(before.m0), exp(after.m0)),
        (tr("spread of the pace over vehicles"), before.s0, after.s0),
        (tr("unevenness from day to day, days"), before.psi, after.psi),
        (tr("size of spells of more or less use"), before.sig, after.sig),
        (tr("length of such spells, days"), before.tau, after.tau),
        (tr("drift of the pace a year"), before.q**0.5, after.q**0.5),
    ]
    lines = [
        "  " + tr("{what}: {now}, was {was}", what=what, now=_told(new), was=_told(old)) for what, old, new in figures
    ]
    if after.season != before.season:
        named = zip(in_force().names.months_short, after.season, strict=True)
        lines.append(
            "  " + tr("season: {months}", months=", ".join(f"{name} {_told(factor)}" for name, factor in named))
        )
    return lines


def _told(figure: float) -> str:
    """Three figures, in the language in force."""
    return f"{figure:.3g}".replace(".", in_force().decimal)


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
