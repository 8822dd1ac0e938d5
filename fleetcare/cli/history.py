"""Command that writes the history of a vehicle: history."""

from __future__ import annotations

from typing import Annotated

import typer

from fleetcare.cli.frame import AsJson, Home, command, parts_of, say, show_data
from fleetcare.language import tr


@command("history")
def history(
    vehicle: Annotated[str, typer.Argument(help="Mark or name of a vehicle, also of one that is gone.")],
    table: Annotated[bool, typer.Option("--csv", help="As a table for a spreadsheet.")] = False,
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Writes what is coming for a vehicle, and everything that was done on it and found, for the file."""
    from fleetcare.actions.look_at_history import look_at_history
    from fleetcare.intake.csv_files import Columns, write_csv
    from fleetcare.page.cards.history import COLUMNS, Record, history_card

    with parts_of(home) as parts:
        told = look_at_history(parts.store, parts.rules, vehicle, now=parts.clock.now())
    card = history_card(
        garage=told.garage,
        reader=None,
        outlook=told.outlook,
        record=Record(told.work, told.orders, told.found, told.moves, told.earlier),
        names=told.names,
        titles=told.titles,
    )
    if as_json:
        show_data([dict(zip(COLUMNS, row, strict=True)) for row in card.table])
        return
    if table:
        typer.echo(write_csv(Columns("history", COLUMNS, frozenset({"vehicle", "kind"})), card.table), nl=False)
        return
    head = tr("{vehicle}, history as of {day}.", vehicle=card.vehicle, day=card.made_on)
    say(f"{head} {card.gone}".rstrip())
    for value in card.identity:
        say(f"  {value.name}: {value.value or tr('not known')}")
    say(tr("Coming:"))
    for row in card.coming:
        dates = row.why_none
        if row.late:
            dates = tr("likely {likely}, {early} to {late}", likely=row.likely, early=row.early, late=row.late)
        say(f"  {row.component}: {row.nature}. {dates}")
    say(tr("Done and found:"))
    for each in (*card.past, *(row for _, rows in card.earlier for row in rows)):
        said = ", ".join(part for part in (each.where, each.at, each.by) if part)
        say(f"  {each.day}: {each.nature}, {said}. {each.note}".rstrip())
