"""Command that finds things by words: find."""

from __future__ import annotations

from typing import Annotated

import typer

from fleetcare.cli.frame import WRONG, AsJson, Home, command, parts_of, say, show_data
from fleetcare.errors import shown
from fleetcare.language import tr


@command("find")
def find(
    words: Annotated[
        list[str], typer.Argument(help="Beginnings of words, such as “anv flu”, or the number of a sheet.")
    ],
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Finds vehicles, services, sheets, findings and people by the beginnings of their words."""
    from fleetcare.actions.look_for import look_for
    from fleetcare.page.cards.find import found_groups

    with parts_of(home) as parts:
        typed = " ".join(words)
        found = look_for(parts.store, parts.rules.book, typed, with_people=True, now=parts.clock.now())
    groups = found_groups(found)
    if as_json:
        show_data(
            [
                {"group": g.heading, "mark": r.mark, "title": r.title, "kind": r.kind, "told": r.told, "page": r.url}
                for g in groups
                for r in g.rows
            ]
        )
        return
    if not groups:
        say(tr("Nothing begins like {typed}.", typed=shown(typed)))
        raise typer.Exit(WRONG)
    for group in groups:
        say(f"{group.heading}:")
        for row in group.rows:
            say(
                "  "
                + " ".join(part for part in (row.mark, row.title, row.kind) if part)
                + (f". {row.told}" if row.told else "")
            )
        if group.more:
            say(f"  {group.more}")
