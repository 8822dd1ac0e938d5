"""Commands that keep a garage safe: backup, restore."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fleetcare.cli.frame import AsJson, Home, command, home_folder, parts_of, say, show_data
from fleetcare.language import tr

if TYPE_CHECKING:
    from fleetcare.store.backup_file import Contents


@command("backup")
def backup(
    file: Annotated[Path, typer.Argument(help="The file to write, such as garage.zip; it must not be there yet.")],
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Writes everything of a home into one file, while it goes on working: database, settings, own book, photos."""
    from fleetcare.cli.progress import progress_bar

    with parts_of(home) as parts, progress_bar() as tell:
        made = parts.back_up(file.absolute(), progress=tell)
    if as_json:
        show_data({"file": str(file), **_data(made)})
        return
    say(f"{file}: {_told(made)}.")
    say(
        tr(
            "It holds the settings too, and with them the password of the mail server: "
            "keep it where only you can read it."
        )
    )


@command("restore")
def restore(
    file: Annotated[Path, typer.Argument(help="A file of fleetcare backup.")],
    over: Annotated[
        bool, typer.Option("--over", help="Replace the garage that is there; it is kept beside the new one.")
    ] = False,
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Puts a backup back into a home, whole or not at all. End a server of that home first."""
    from fleetcare.assemble import restore_home
    from fleetcare.cli.progress import progress_bar
    from fleetcare.settings.places import environment

    folder = home_folder(home)
    with progress_bar() as tell:
        held, kept = restore_home(folder, environment(), file, over=over, progress=tell)
    if as_json:
        show_data({"home": str(folder), **_data(held), "kept": [str(path) for path in kept]})
        return
    day, hour = f"{held.made_at:%Y-%m-%d}", f"{held.made_at:%H:%M}"
    say(tr("{folder} stands as on {day} at {hour} UTC: {what}.", folder=folder, day=day, hour=hour, what=_told(held)))
    for path in kept:
        say(tr("What was there before is kept as {name}.", name=path.name))
    again = tr("Calendars are taken up again above whatever was published since.")
    say(f"{again} {tr('See that all is well with: {command}', command='fleetcare check')}")


def _told(contents: Contents) -> str:
    from fleetcare.wording import counted, joined

    rows = contents.rows
    return joined(
        [
            counted(rows.get("vehicle", 0), "vehicle"),
            counted(rows.get("reading", 0), "reading"),
            counted(contents.photos, "photo"),
        ]
    )


def _data(contents: Contents) -> dict[str, object]:
    return {
        "made_at": contents.made_at.isoformat(),
        "rows": {name: count for name, count in contents.rows.items() if count},
        "photos": contents.photos,
    }
