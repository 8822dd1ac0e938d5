"""The command that plans bay days for a garage described in one file: schedule. It needs no home and keeps nothing."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fleetcare.cli.frame import NOT_NOW, WRONG, command, say
from fleetcare.errors import BadInput, shown
from fleetcare.language import saying

if TYPE_CHECKING:
    from fleetcare.bayplan.plan import BayPlan
    from fleetcare.bayplan.problem import BayProblem

STEPS = 40
CLASH_STEPS = 5
"""For each question whether wishes clash."""


@command("schedule")
def schedule(
    file: Annotated[Path, typer.Argument(metavar="FILE.json", help="The garage as JSON; may be gzipped.")],
    seconds: Annotated[
        float, typer.Option("--seconds", min=0.0, help="Stop after so many seconds; 0: no limit.")
    ] = 0.0,
    steps: Annotated[
        int, typer.Option("--steps", min=1, help="Stop after so much work, the same on any machine.")
    ] = STEPS,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Begin of the search; the same seed, the same plan.")] = 1,
    bound: Annotated[bool, typer.Option("--bound", help="Add the price, what is proven, and the gap.")] = False,
) -> None:
    """Bay days for the vehicles, services, people and bays described in a file.

    \b
    {"format": "visit-plan-instance/1", "name": "yard", "days": 90, "max_visit_min": 3600,
     "setups": [{"id": "wheels off", "min": 35, "cents": 900}],
     "depots": [{"id": "yard", "bays": 1, "open_cents": 1500}],
     "people": [{"id": "ines", "depot": "yard", "skills": []}],
     "shifts": [{"id": "sat", "depot": "yard", "day": 5, "start": 540, "end": 780,
                 "people": ["ines"], "premium_cents_per_min": 0}],
     "vehicles": [{"id": "anvil", "depot": "yard", "arrive_min": 15, "arrive_cents": 800,
                   "out_cents_per_hour": 60, "away": []}],
     "services": [{"id": "rotation", "vehicle": "anvil", "setups": ["wheels off"],
                   "stages": [{"min": 20}], "waits": [], "due": [[2, 0], [9, 500000], [20, 1000000]],
                   "early_cents_per_day": 8, "late_cents_per_day": 48, "overdue_cents": 2400,
                   "not_before": 0, "not_after": 89, "required": true, "skip_cents": 0}]}

    Day 0 is a Monday, prices are whole cents. due is the chance in ppm of being due by a day; stages with waits between
    them may take several shifts. "after": [{"service": "rotation", "gap_days": 7}] puts one after others. The plan
    goes to standard output, how it comes on to standard error.

    Ctrl-C ends the search; the best plan so far is printed. Without --seconds the same file gives the same plan, byte
    for byte. The status is 1 if something that must be done has no room; the plan then holds the rest, and names it.
    """
    from fleetcare.bayplan.port import Limits, Outcome
    from fleetcare.cli.searching import ended_by_ctrl_c, line_teller
    from fleetcare.intake.schedule_files import parse_problem, plan_text
    from fleetcare.solvers.apart import ApartSolver

    problem = _read(file, parse_problem)
    tell, stopping = line_teller()
    # There is nobody here whom it would have to stand back for.
    with ApartSolver(niceness=0) as solver, ended_by_ctrl_c(solver, stopping) as stopped:
        alarm = threading.Timer(seconds, solver.stop)
        alarm.daemon = True
        if seconds:
            alarm.start()
        answer = solver.solve(problem, Limits(steps, seed), tell=tell)
        alarm.cancel()
    if answer.plan is None or (answer.outcome is Outcome.NOTHING and not answer.plan.visits):
        # Stopped before there was a plan, or before its first visit: it is all one to whoever asked.
        typer.echo("No plan was found in that time. Give it more.", err=True)
        raise typer.Exit(NOT_NOW)
    more: dict[str, Any] = {}
    if bound:
        gap = None if answer.gap is None else round(answer.gap, 6)
        more = {"lower_bound_cents": answer.bound, "total_cents": answer.total, "gap": gap}
    say(plan_text(answer.plan, more).rstrip("\n"))
    if answer.outcome in (Outcome.IMPOSSIBLE, Outcome.NOTHING):
        is_certain = answer.outcome is Outcome.IMPOSSIBLE
        _say_left_out(problem, answer.plan, is_certain=is_certain, why_not=not stopped.is_set())
        raise typer.Exit(WRONG)


def _read(file: Path, parse: Callable[[bytes], BayProblem]) -> BayProblem:
    try:
        raw = file.read_bytes()
    except OSError as error:
        why = (error.strerror or "it cannot be read").lower()
        raise BadInput(
            saying("{file} cannot be read: {why}.", file=shown(str(file), 200), why=why), remedy="Name a file."
        ) from None
    try:
        return parse(raw)
    except BadInput as error:
        where = f"{file.name}, {error.field}" if error.field else file.name
        raise BadInput(
            saying("{where}: {what}", where=where, what=error.what), remedy=error.remedy, field=error.field
        ) from None


def _say_left_out(problem: BayProblem, plan: BayPlan, *, is_certain: bool, why_not: bool) -> None:
    """Names what has no room; and, where that is certain, why, or which wishes cannot all be.

    why_not: which ones is searched for. Ctrl-C ends that, too, without an answer.
    """
    from dataclasses import replace

    from fleetcare.bayplan.impossible import hopeless, smallest_clash, wish_sentence
    from fleetcare.bayplan.port import Limits
    from fleetcare.cli.searching import ended_by_ctrl_c
    from fleetcare.solvers.apart import ApartSolver
    from fleetcare.wording import joined

    names = [name for name in plan.skipped if problem.service_by_name[name].is_required]
    why = "has no room in any plan" if is_certain else "found no room in this time"
    typer.echo(f"What must be done and {why}: {joined(names)}. The plan holds the rest.", err=True)
    alone = {one.service: one.sentence for one in hopeless(problem)}
    for name in names:
        if name in alone:
            typer.echo(alone[name], err=True)
    if not is_certain or not why_not or all(name in alone for name in names):
        return
    services = [one for one in problem.services if one.name not in alone]
    known = {one.name for one in services}
    rest = replace(
        problem,
        services=tuple(
            replace(one, after=tuple(each for each in one.after if each.service in known)) for one in services
        ),
    )
    with ApartSolver(niceness=0, proven=True) as solver, ended_by_ctrl_c(solver, lambda: None) as stopped:
        clash = smallest_clash(rest, solver, Limits(CLASH_STEPS))
    if clash and not stopped.is_set():
        typer.echo(f"These cannot all be: {'; '.join(wish_sentence(problem, wish) for wish in clash)}.", err=True)
