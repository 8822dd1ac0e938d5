"""Command that proposes days in the bay: plan."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from fleetcare.cli.frame import NOT_NOW, AsJson, Home, command, parts_of, say, show_data
from fleetcare.language import later, saying, tr
from fleetcare.wording import counted_words

if TYPE_CHECKING:
    from fleetcare.actions.plan_bays import Wish
    from fleetcare.actions.proposal import Proposal

STEPS = 40.0
"""So much deterministic work a household's plan takes at most; the same on any machine."""
MOVES = later("Moves: {mark} {number}, was {span}: {cause}.")
GOES = later("Goes: {mark} {number}, {span}: {cause}.")


@command("plan")
def plan(
    horizon: Annotated[
        int | None,
        typer.Option("--horizon", min=7, max=400, help="So many days ahead; else as workshop.toml says."),
    ] = None,
    move: Annotated[
        str, typer.Option("--move", metavar="VISIT", help="Plan around this visit, such as AN/2, on another day.")
    ] = "",
    to: Annotated[str, typer.Option("--to", help="That day, such as 2026-05-09; taken, it is inked there.")] = "",
    accept: Annotated[bool, typer.Option("--accept", help="Pencil it: calendars and letters follow.")] = False,
    steps: Annotated[float, typer.Option("--steps", min=0.1, help="How much work the search may do.")] = STEPS,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Another one may find another plan.")] = 1,
    by: Annotated[str, typer.Option("--by", help="Who says so, by name or key.")] = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Proposes days in the bay for what comes due, by the prices of the workshop. Inked days stay.

    On a terminal a longer search says how it stands. Ctrl-C ends it, and the best plan so far is shown; that one is
    never written down, whatever was asked for, and with --accept the status is 3.
    """
    from fleetcare.actions.plan_bays import accept as take
    from fleetcare.actions.plan_bays import propose
    from fleetcare.bayplan.port import Limits
    from fleetcare.cli.searching import ended_by_ctrl_c, shown_search
    from fleetcare.intake.text import clean_text
    from fleetcare.solvers.apart import ApartSolver

    wish, changed = _wish(move, to), 0
    with parts_of(home) as parts:
        now = parts.clock.now()
        with ApartSolver() as solver, shown_search() as (tell, stopping), ended_by_ctrl_c(solver, stopping) as stopped:
            found = propose(
                parts.store,
                parts.rules,
                parts.workplace,
                lambda problem, standing: solver.solve(problem, Limits(steps, seed), tell=tell, standing=standing),
                now=now,
                horizon_days=horizon,
                wish=wish,
            )
        # Whoever ends a search has not seen what it came to, so that is shown first.
        wanted, accept = accept, accept and not stopped.is_set()
        if accept:
            changed = take(
                parts.store,
                parts.rules,
                found,
                who=clean_text(by, field="by"),
                now=now,
                base_url=parts.base_url,
            )
    if as_json:
        from fleetcare.page.plan_data import proposal_data

        show_data(proposal_data(found) | {"accepted": accept, "stopped": stopped.is_set()})
    else:
        _say(found, is_stopped=stopped.is_set())
        if accept:
            say(tr("Pencilled: {visits} new, moved or gone.", visits=counted_words(changed, "visit", "visits")))
        elif (found.answer is None or found.answer.plan is not None) and (found.visits or found.gone):
            take_it = f"fleetcare plan --move {move} --to {to} --accept" if wish else "fleetcare plan --accept"
            say(tr("Nothing is written yet. Pencil it with: {command}", command=take_it))
    if wanted and not accept:
        raise typer.Exit(NOT_NOW)


def _wish(move: str, to: str) -> Wish | None:
    from fleetcare.actions.plan_bays import Wish
    from fleetcare.errors import BadInput, shown
    from fleetcare.intake.dates import parse_day

    if not move and not to:
        return None
    if not move or not to:
        raise BadInput("--move and --to belong together.", remedy="Write --move AN/2 --to 2026-05-09.")
    vehicle, _, number = move.rpartition("/")
    if not vehicle or not (number.isascii() and number.isdigit() and len(number) < 7):
        raise BadInput(
            saying("{move} is no visit.", move=shown(move)),
            remedy="Write vehicle and number, as in AN/2.",
            field="move",
        )
    return Wish(vehicle, int(number), parse_day(to, field="to"))


def _troubles(found: Proposal) -> tuple[str, ...]:
    from fleetcare.page.cards.no_day import trouble_sentences

    return trouble_sentences(found)


def _say(found: Proposal, *, is_stopped: bool) -> None:
    from fleetcare.bayplan.lead_reason import reason_told
    from fleetcare.cli.bay import services_of, span_of
    from fleetcare.page.cards.plan_changes import CAUSES
    from fleetcare.page.cards.proposal import cost_sentence, left_sentence

    answer = found.answer
    if answer is None:
        say(tr("Nothing comes due in that time that is not inked already."))
        return
    if answer.plan is None:
        say(
            tr("No plan was found before it was ended. Give it more; what is pencilled stays.")
            if is_stopped
            else tr("No plan was found with that much work. Give it more with --steps; what is pencilled stays.")
        )
        return
    for visit in found.visits:
        outlook = found.outlooks[visit.mark]
        services = services_of(visit, outlook)
        say(f"{visit.mark} {visit.number}  {span_of(visit, found.zone)}: {outlook.vehicle.name}, {services}")
        say(f"      {reason_told(visit.reason)}")
    causes = {(each.mark, each.number): tr(CAUSES[each.cause]) for each in found.changes}
    changed = [(MOVES, was) for was, _ in found.moved] + [(GOES, visit) for visit in found.gone]
    for line, visit in changed:
        span, cause = span_of(visit, found.zone), causes[visit.key]
        say(tr(line, mark=visit.mark, number=visit.number, span=span, cause=cause))
    for sentence in _troubles(found):
        say(sentence)
    if found.left:
        say(left_sentence(found.left, found.outlooks))
    if found.granted is not None:
        more, visit = f"{found.granted.extra_cents / 100:.2f}", found.granted.was
        say(
            tr(
                "With {mark} {number} moved it costs {more} more than the best plan without that wish.",
                mark=visit.mark,
                number=visit.number,
                more=more,
            )
            if found.granted.extra_cents > 0
            else tr(
                "With {mark} {number} moved it costs no more than the best plan without that wish.",
                mark=visit.mark,
                number=visit.number,
            )
        )
    say(cost_sentence(answer))
