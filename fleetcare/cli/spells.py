"""Command that says when a vehicle stands: layup."""

from __future__ import annotations

from typing import Annotated

import typer

from fleetcare.cli.frame import AsJson, Home, command, parts_of, say, show_data
from fleetcare.errors import BadInput
from fleetcare.language import tr, tr_book


@command("layup")
def layup(
    vehicle: Annotated[str, typer.Argument(help="Mark or name of a vehicle, such as AN or Anvil.")],
    first: Annotated[
        str | None, typer.Option("--from", help="The first day on which it stands, such as 2026-02-03.")
    ] = None,
    until: Annotated[
        str | None, typer.Option("--until", help="The last day on which it stands; left out if nobody knows it yet.")
    ] = None,
    out: Annotated[
        str | None,
        typer.Option("--out", help="The day from which it runs again; the first day of a spell takes the spell back."),
    ] = None,
    by: Annotated[str, typer.Option("--by", help="Who says so, by name or key.")] = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Says from when to when a vehicle is laid up, so that its dates wait; or lets it out again."""
    from fleetcare.actions.lay_up import Given, lay_up, let_out
    from fleetcare.due.telling import spell_words
    from fleetcare.intake.dates import parse_day
    from fleetcare.intake.text import clean_text
    from fleetcare.page.as_data import line_data, spell_data
    from fleetcare.wording import day_words

    if (first is None) == (out is None) or (out is not None and until is not None):
        raise BadInput(
            "That does not say when it stands.", remedy="Give --from with or without --until; or --out alone."
        )
    with parts_of(home) as parts:
        who, now, base_url = clean_text(by, field="by"), parts.clock.now(), parts.base_url
        if out is not None:
            day = parse_day(out, field="out")
            came = let_out(parts.store, parts.rules, vehicle=vehicle, on=day, who=who, now=now, base_url=base_url)
        else:
            last = None if until is None else parse_day(until, field="until")
            given = Given(vehicle, parse_day(first or "", field="from"), last)
            came = lay_up(parts.store, parts.rules, given, who=who, now=now, base_url=base_url)
    settled = came.settled
    if as_json:
        moved = [line_data(settled.outlooks[0], each.line) for each in settled.moved]
        show_data({"spell": spell_data(came.spell) if came.spell else None, "known": came.known, "moved": moved})
        return
    name = came.vehicle.name
    if came.known:
        say(tr("{name}: that stands here already.", name=name))
    elif came.spell is None:
        say(tr("{name}: that spell is taken back.", name=name))
    elif out is not None:
        say(tr("{name}: let out, laid up {spell}.", name=name, spell=spell_words(came.spell, settled.today)))
    else:
        say(tr("{name}: laid up {spell}.", name=name, spell=spell_words(came.spell, settled.today)))
    for each in settled.moved:
        window = each.line.window
        dates = tr("likely {day}", day=day_words(window.likely, settled.today)) if window else tr("no date, it waits")
        say(f"  {tr_book(each.line.row.title)}: {dates}")
