"""Commands for files: import, export."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fleetcare.cli.bringing import bring_in_files
from fleetcare.cli.frame import AsJson, Home, command, parts_of, say, show_data
from fleetcare.cli.screened import say_screened
from fleetcare.errors import BadInput
from fleetcare.language import saying, tr, tr_count

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fleetcare.actions.bring_in import BroughtIn


PHOTOS = "photos"
"""Folder of the photos beside the files."""


@command("import")
def import_(
    path: Annotated[Path, typer.Argument(help="A file (TOML or CSV) or a folder of them.")],
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Brings in vehicles, people, readings, work, bookings, events or bay visits; all of it, or nothing."""
    from fleetcare.page.as_data import reading_data

    with parts_of(home) as parts:
        brought = bring_in_files(parts, path)
    came = brought.came
    if as_json:
        show_data(
            {
                "new": _counts(came),
                "known_readings": came.known_readings,
                "held": [{**reading_data(each.reading), "why": each.why} for each in came.held],
                "warnings": list(brought.warnings),
            }
        )
        return
    for warning in brought.warnings:
        typer.echo(tr(warning), err=True)
    say(tr("Brought in: {what}.", what=", ".join(_counted(came)) or tr("nothing new")))
    if came.known_readings:
        known = came.known_readings
        say(
            tr_count(
                "{number} reading stood here already.", "{number} readings stood here already.", known, number=known
            )
        )
    say_screened(came.screened)


@command("export")
def export(
    folder: Annotated[Path, typer.Argument(help="A folder; it is made if it is not there.")],
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Writes everything a garage has entered as TOML and CSV; import brings it back without loss."""
    from fleetcare.actions.hand_out import hand_out
    from fleetcare.intake.writing import WORKSHOP_FILE, garage_as_files
    from fleetcare.settings.garage_rules import own_book_path
    from fleetcare.settings.own_workshop import own_text, own_workshop_path

    with parts_of(home) as parts:
        out = hand_out(parts.store)
        own_book = own_book_path(parts.home)
        texts = garage_as_files(
            garage=out.garage,
            people=out.people,
            vehicles=out.vehicles,
            readings=out.readings,
            work=out.work,
            bookings=out.bookings,
            events=out.events,
            book_text=_own_rows(own_book),
            visits=out.visits,
            shelf=out.shelf,
            orders=out.orders,
            found=out.found,
            moves=out.moves,
        )
        if workshop := own_text(own_workshop_path(parts.home)):
            texts = {**texts, WORKSHOP_FILE: workshop}
        pictures = {name: parts.photos.picture(name) for name in parts.photos.names()}
    written = _write_files(folder, texts, pictures)
    if as_json:
        show_data({"written": [str(path) for path in written]})
        return
    for path in written:
        say(str(path))


def _write_files(folder: Path, texts: Mapping[str, str], pictures: Mapping[str, bytes]) -> list[Path]:
    """Writes them, if none is there yet; photos go into a folder of their own. Raises BadInput."""
    taken = sorted(name for name in texts if (folder / name).exists())
    if taken:
        raise BadInput(
            saying("{folder} holds {taken} already.", folder=folder, taken=", ".join(taken)),
            remedy="Name an empty folder.",
        )
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in sorted(texts.items()):
            (folder / name).write_text(text, encoding="utf-8", newline="")
        for name, picture in sorted(pictures.items()):
            (folder / PHOTOS).mkdir(exist_ok=True)
            (folder / PHOTOS / f"{name}.jpg").write_bytes(picture)
    except OSError as error:
        raise BadInput(
            saying("{folder} cannot be written ({strerror}).", folder=folder, strerror=error.strerror),
            remedy="Name a folder of your own.",
        ) from error
    return [folder / name for name in sorted(texts)]


def _own_rows(own_book: Path) -> str:
    """The home's own rows of the interval book, without what merely explains the file; empty if there are none."""
    from fleetcare.settings.book_files import parse_rows
    from fleetcare.settings.book_writing import write_own_rows

    if not own_book.is_file():
        return ""
    return write_own_rows(parse_rows(own_book.read_text(encoding="utf-8"), own_book.name))


def _counted(brought: BroughtIn) -> list[str]:
    from fleetcare.wording import counted

    counts = (
        (brought.people, counted(brought.people, "person", "people")),
        (brought.vehicles, counted(brought.vehicles, "vehicle")),
        (brought.readings, counted(brought.readings, "reading")),
        (brought.work, counted(brought.work, "record of work", "records of work")),
        (brought.bookings, counted(brought.bookings, "booking")),
        (brought.events, counted(brought.events, "event")),
        (brought.visits, counted(brought.visits, "visit to the bay", "visits to the bay")),
    )
    return [words for count, words in counts if count]


def _counts(brought: BroughtIn) -> dict[str, int]:
    return {
        "people": brought.people,
        "vehicles": brought.vehicles,
        "readings": brought.readings,
        "records of work": brought.work,
        "bookings": brought.bookings,
        "events": brought.events,
        "visits to the bay": brought.visits,
    }
