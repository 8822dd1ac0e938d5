"""Commands that look and change nothing: due, explain, check."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from fleetcare.cli.frame import WRONG, AsJson, Home, command, parts_of, say, show_data
from fleetcare.language import later, tr, tr_book

if TYPE_CHECKING:
    from fleetcare.due.outlook import LineOutlook, VehicleOutlook

_BY = {
    "distance": later("by distance"),
    "hours": later("by hours"),
    "date": later("by date"),
    "event": later("by its event"),
    "unknown history": later("history unknown"),
}
"""What makes a line due first, by the word that data have for it."""

Vehicle = Annotated[str, typer.Argument(help="Mark or name of a vehicle, such as AN or Anvil.")]


@command("due")
def due(
    within: Annotated[
        int | None, typer.Option("--within", min=0, help="Only what may fall due in so many days.")
    ] = None,
    vehicle: Annotated[str | None, typer.Option("--vehicle", help="Only this vehicle, by mark or name.")] = None,
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Due windows, what limits each, and how worn it is."""
    from datetime import timedelta

    from fleetcare.actions.look_ahead import look_ahead
    from fleetcare.fleet.naming import vehicle_called
    from fleetcare.page.as_data import line_data

    with parts_of(home) as parts:
        ahead = look_ahead(parts.store, parts.rules, now=parts.clock.now())
    outlooks = ahead.outlooks
    if vehicle is not None:
        wanted = vehicle_called([o.vehicle for o in outlooks], vehicle)
        outlooks = tuple(o for o in outlooks if o.vehicle.mark == wanted.mark)
    rows = [(outlook, line) for outlook in outlooks for line in outlook.lines]
    if within is not None:
        limit = ahead.today + timedelta(days=within)
        rows = [(o, line) for o, line in rows if line.window is not None and line.window.early <= limit]
    rows.sort(key=lambda row: (row[1].window is None, row[1].window.late if row[1].window else ahead.today, row[1].key))
    if as_json:
        show_data([line_data(outlook, line) for outlook, line in rows])
        return
    if not rows:
        say(tr("Nothing falls due there."))
    for outlook, line in rows:
        for text in _line_words(outlook, line):
            say(text)
    for outlook in outlooks:
        _say_question(outlook)


@command("explain")
def explain(
    vehicle: Vehicle,
    service: Annotated[str, typer.Argument(help="A service of that vehicle, such as “rear axle fluid”.")],
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """How that date came about, figure by figure."""
    from fleetcare.actions.look_ahead import changes_of, look_ahead
    from fleetcare.due.naming import line_called
    from fleetcare.fleet.naming import vehicle_called
    from fleetcare.page.as_data import explain_data
    from fleetcare.wording import day_words

    with parts_of(home) as parts:
        with parts.store.read() as view:
            wanted = vehicle_called(view.vehicles(), vehicle)
        ahead = look_ahead(parts.store, parts.rules, now=parts.clock.now(), marks=(wanted.mark,))
        outlook = ahead.outlooks[0]
        line = line_called(outlook, service)
        changes = changes_of(parts.store, line.key)
    if as_json:
        show_data(explain_data(outlook, line, changes))
        return
    for text in _line_words(outlook, line):
        say(text)
    say()
    for step in line.steps:
        say(f"- {step.text}")
    if changes:
        say()
        say(tr("What changed it last:"))
    for change in changes:
        say(f"- {day_words(change.on, ahead.today)}, {change.words}.")


@command("check")
def check(home: Home = None, as_json: AsJson = False) -> None:
    """Proves the promises over what is stored: nothing lost, no date without a cause, no letter twice."""
    from fleetcare.actions.check_promises import check_promises

    with parts_of(home) as parts:
        proof = check_promises(parts.store, parts.rules, now=parts.clock.now())
    if as_json:
        show_data({"held": list(proof.held), "broken": list(proof.broken)})
    else:
        for text in proof.held:
            say(tr("held: {what}", what=tr(text)))
        for text in proof.broken:
            say(tr("BROKEN: {what}", what=tr(text)))
    if proof.broken:
        raise typer.Exit(WRONG)


def _say_question(outlook: VehicleOutlook) -> None:
    """Asks after a vehicle that seems to stand, or to run while it is laid up; says nothing if neither."""
    from fleetcare.due.telling import clock_question

    question = clock_question(outlook.vehicle, outlook.standing, outlook.moved, outlook.today)
    if question:
        mark = outlook.vehicle.mark
        answer = f"layup {mark} --from DAY --until DAY" if outlook.standing else f"layup {mark} --out DAY"
        told = tr("Say it with: {command}", command=f"fleetcare {answer}")
        say(f"{mark:<6} {outlook.vehicle.name} {question} {told}")


def _line_words(outlook: VehicleOutlook, line: LineOutlook) -> tuple[str, ...]:
    from fleetcare.page.as_data import state_words
    from fleetcare.wording import day_short, days_words, share_words, text_gauge

    title = f"{outlook.vehicle.mark:<6} {outlook.vehicle.name}: {tr_book(line.row.title)}"
    if line.window is None:
        return (title, "       " + tr("no date: {why}", why=tr(state_words(line))))
    window, today = line.window, line.today
    state = tr(state_words(line))
    if window.is_past_late(today):
        state = tr("{days} past late", days=days_words(window.days_past_late(today)))
    gauge = text_gauge(line.q_read, line.q_now, line.q_early, line.q_late)
    worn = tr("{share} worn", share=share_words(line.q_now)) if line.q_now is not None else ""
    dates = tr(
        "early {early}, likely {likely}, late {late}, {by}; {state}",
        early=day_short(window.early, today),
        likely=day_short(window.likely, today),
        late=day_short(window.late, today),
        by=tr(_BY[window.cause.value]),
        state=state,
    )
    return (title, f"       {gauge}  {worn}", f"       {dates}")
