"""The command that works everything out again: refresh."""

from __future__ import annotations

import typer

from fleetcare.cli.frame import WRONG, AsJson, Home, command, parts_of, say, show_data
from fleetcare.language import tr


@command("refresh")
def refresh(home: Home = None, as_json: AsJson = False) -> None:
    """Works out every date again, as the server does when a day begins. Can be stopped and run again at any time."""
    from fleetcare.actions.refresh import refresh as work_out_again
    from fleetcare.cli.progress import progress_bar
    from fleetcare.wording import counted

    with parts_of(home) as parts, progress_bar() as tell:
        came = work_out_again(
            parts.store,
            parts.rules,
            now=parts.clock.now(),
            base_url=parts.base_url,
            why="worked out again by command",
            progress=lambda done, of: tell("vehicles", done, of),
        )
    if came is None:
        say(tr("There is no garage here yet. Make one with: {command}", command="fleetcare init --keeper NAME"))
        raise typer.Exit(WRONG)
    vehicles = came.by_columns + came.long_way + came.as_before
    if as_json:
        show_data({"vehicles": vehicles, "worked_out": came.by_columns + came.long_way, "moved": came.moved})
        return
    moved = tr("{dates} moved", dates=counted(came.moved, "date")) if came.moved else tr("no date moved")
    say(tr("{vehicles} looked through; {moved}.", vehicles=counted(vehicles, "vehicle"), moved=moved))
