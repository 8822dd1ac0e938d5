"""Files are read, checked and brought in: what `import` and `demo` have in common."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from fleetcare.cli.progress import progress_bar
from fleetcare.errors import BadSettings
from fleetcare.language import saying

if TYPE_CHECKING:
    from fleetcare.actions.bring_in import BroughtIn
    from fleetcare.assemble import Parts
    from fleetcare.book.rows import IntervalBook
    from fleetcare.settings.book_files import GivenRow


@dataclass(frozen=True, slots=True)
class Brought:
    """What was brought in, what was noticed on the way, and the parts that go by the rules as they are now."""

    came: BroughtIn
    warnings: tuple[str, ...]
    parts: Parts


def bring_in_files(parts: Parts, path: Path, *, shift_days: int = 0) -> Brought:
    """Reads a file or folder and brings it in: all of it, or nothing.

    shift_days: moves every date, for the demo that is always this week. Raises BadFile with every fault, and what
    `bring_in` raises.
    """
    from fleetcare.actions.bring_in import Arrivals, Place, bring_in
    from fleetcare.book.picking import proposal_clashes
    from fleetcare.book.printed_pairs import pair_doubts
    from fleetcare.book.rows import IntervalBook
    from fleetcare.fleet.tag_bands import checked_tag
    from fleetcare.fleet.vin import vin_doubts
    from fleetcare.intake.garage_files import read_path
    from fleetcare.intake.known import KnownNames
    from fleetcare.intake.shifting import shifted
    from fleetcare.intake.writing import WORKSHOP_FILE
    from fleetcare.settings.garage_rules import RulesKept, load_rules, own_book_path
    from fleetcare.settings.own_workshop import own_workshop_path
    from fleetcare.settings.own_workshop import written_beside as workshop_beside
    from fleetcare.settings.toml_text import TomlText

    now = parts.clock.now()
    rules = parts.rules
    with parts.store.read() as view:
        known = KnownNames(
            garage=view.garage(),
            people=view.people(),
            vehicles=view.vehicles(),
            duties=frozenset(rules.duties),
            book=rules.book,
        )
    incoming = read_path(
        path,
        known=known,
        entered_at=now,
        read_toml=TomlText,
        parse_book=lambda text, file: _book_with(parts, text, file),
        vin_doubts=vin_doubts,
        tag_doubts=lambda component, kind: checked_tag(component, kind, parts.tag_bands, parts.gear_oils),
        apart=(WORKSHOP_FILE,),
    )
    workshop = _workshop_with(parts, path)
    if shift_days:
        incoming = shifted(incoming, shift_days)
    arrivals = Arrivals(
        garage=incoming.garage,
        people=incoming.people,
        vehicles=incoming.vehicles,
        readings=incoming.readings,
        reading_places=tuple(Place(place.file, place.line) for place in incoming.reading_places),
        work=incoming.work,
        bookings=incoming.bookings,
        events=incoming.events,
        calendars=incoming.calendars,
        visits=incoming.visits,
        shelf=incoming.shelf,
        orders=incoming.orders,
        found=incoming.found,
        moves=incoming.moves,
        has_book=incoming.book is not None,
    )
    _take_photos(parts, path)
    if incoming.book is not None:
        rules = replace(rules, book=incoming.book)
    coming = None
    if incoming.book_text is not None:
        coming = _written_beside(own_book_path(parts.home), incoming.book_text, incoming.book_file)
    own_workshop = own_workshop_path(parts.home)
    coming_workshop = None if workshop is None else workshop_beside(own_workshop, workshop)
    with progress_bar() as tell:
        came = bring_in(
            parts.store,
            rules,
            parts.keys,
            arrivals,
            now=now,
            base_url=parts.base_url,
            who="command",
            why=f"brought in from {path.name}",
            progress=tell,
        )
    if coming is not None:
        os.replace(coming, own_book_path(parts.home))
    if coming_workshop is not None:
        os.replace(coming_workshop, own_workshop)
    warnings = tuple(str(warning) for warning in incoming.warnings)
    if incoming.book is not None:
        warnings += tuple(str(clash) for clash in proposal_clashes(incoming.book))
        theirs = {key: row for key, row in incoming.book.rows.items() if row != parts.rules.book.rows.get(key)}
        warnings += pair_doubts(IntervalBook(theirs))
    kept = RulesKept(rules, own_book_path(parts.home), lambda: load_rules(parts.home))
    return Brought(came, warnings, replace(parts, kept_rules=kept))


def _workshop_with(parts: Parts, path: Path) -> str | None:
    """The garage's own values of the workshop as they will be, those that come in over what is there; None if none do.

    Into a home without any, the file goes word for word. Raises BadFile.
    """
    from fleetcare.intake.writing import WORKSHOP_FILE
    from fleetcare.settings.own_workshop import laid_over, own_text, own_workshop_path, workshop_with

    file = path / WORKSHOP_FILE if path.is_dir() else path
    if file.name != WORKSHOP_FILE or not file.is_file():
        return None
    coming, there = own_text(file), own_text(own_workshop_path(parts.home))
    workshop_with(coming, file.name)
    made = laid_over(there, coming) if there.strip() else coming
    workshop_with(made)
    return made


def _take_photos(parts: Parts, path: Path) -> None:
    """Takes the photos of a folder over as they are, if they are as clean as those kept here. Raises BadPhoto."""
    from fleetcare.intake.photos import checked_photo

    folder = path / "photos"
    if path.is_dir() and folder.is_dir():
        clean = [checked_photo(file.read_bytes(), file.name) for file in sorted(folder.glob("*.jpg"))]
        for picture in clean:
            parts.photos.keep(picture)


def _book_with(parts: Parts, text: str, file: str) -> IntervalBook:
    """The interval book as it will be: the shipped one, over it the home's own rows, those that come in taken over.

    Not simply what comes in over what is there: brought in a second time, a garage's new rows would look like changes.
    """
    from fleetcare.settings.book_files import laid_over, load_book, merged_rows, parse_rows
    from fleetcare.settings.garage_rules import own_book_path
    from fleetcare.settings.places import SHIPPED_BOOK, shipped_config

    duties = parts.rules.duties
    coming = parse_rows(text, file, duties=duties)
    shipped = load_book(shipped_config() / SHIPPED_BOOK, duties=duties)
    return laid_over(shipped, merged_rows(_rows_there(own_book_path(parts.home)), coming))


def _rows_there(own: Path) -> tuple[GivenRow, ...]:
    from fleetcare.settings.book_files import parse_rows

    return parse_rows(own.read_text(encoding="utf-8"), own.name) if own.is_file() else ()


def _written_beside(own: Path, text: str, file: str) -> Path:
    """The home's own rows with those that came in laid over them, in a file beside its own book.

    Written before anything is stored, so that a folder that cannot be written to changes nothing. Raises BadSettings.
    """
    from fleetcare.settings.book_files import merged_rows, parse_rows
    from fleetcare.settings.book_writing import write_own_rows

    merged = write_own_rows(merged_rows(_rows_there(own), parse_rows(text, file)))
    beside = own.with_suffix(".new")
    try:
        own.parent.mkdir(parents=True, exist_ok=True)
        beside.write_text(merged, encoding="utf-8")
    except OSError as error:
        raise BadSettings(
            saying(
                "The interval book of this garage cannot be written to {parent} ({strerror}).",
                parent=own.parent,
                strerror=error.strerror,
            ),
            remedy="See to the rights of that folder.",
        ) from error
    return beside
