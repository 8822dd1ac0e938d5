"""A backup put back into a home: unpacked and proved beside it first, moved in at the end, the database last of all.

What stood there before is kept beside it under another name, never thrown away. Stopped at any point, the home either
stands as it was, or can be given the same command again.
"""

from __future__ import annotations

import os
import sqlite3
import tempfile
from collections.abc import Callable
from contextlib import closing
from datetime import datetime
from pathlib import Path

from sqlalchemy.engine import make_url

from fleetcare.errors import Clash, StoreTrouble
from fleetcare.language import saying
from fleetcare.store.backup_file import DATABASE, Contents, Progress, unpack
from fleetcare.store.engine import prepare_sqlite
from fleetcare.store.sql_store import SqlStore, open_store
from fleetcare.store.troubles import troubles
from fleetcare.store.whole_copy import row_counts


def put_back(
    path: Path,
    home: Path,
    *,
    database: str,
    now: datetime,
    over: bool,
    take_up: Callable[[SqlStore, Path], object],
    progress: Progress,
) -> tuple[Contents, tuple[Path, ...]]:
    """Puts a backup back; what it held, and where that which stood there before lies now.

    database: address of the home's database, on SQLite or PostgreSQL. over: replace a garage that is there already (on
    SQLite alone). take_up: called with the store that was unpacked and its folder, before it is moved in; calendars are
    taken up again there, so that no phone ever sees the home without it. Raises BadInput for a file that is not whole,
    Clash if there is a garage already, StoreTrouble if the disk or the database refuses.
    """
    address = make_url(database)
    target = Path(address.database or "") if address.get_backend_name() == "sqlite" else None
    if target is not None and _holds(target) and not over:
        raise Clash(
            saying(
                "There is a garage in {home} already; nothing was changed. Name another folder with "
                "--home, or replace it with --over: it is kept beside the new one.",
                home=home,
            )
        )
    try:
        home.mkdir(mode=0o700, parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".coming-back.", dir=home) as coming:
            folder = Path(coming)
            contents = unpack(path, folder, progress=progress)
            with closing(open_store(f"sqlite:///{folder / DATABASE}")) as store:
                take_up(store, folder)
            if target is None:
                with closing(open_store(database)) as store:
                    store.take_in(folder / DATABASE, lambda done, of: progress("tables", done, of))
                kept = _move_files(contents, folder, home, now)
            else:
                kept = _move_files(contents, folder, home, now)
                kept += _replace_database(folder / DATABASE, target, now)
    except OSError as trouble:
        raise StoreTrouble(
            saying("{home} cannot be written to: {why}.", home=home, why=trouble.strerror or trouble)
        ) from trouble
    return contents, kept


def _holds(database: Path) -> bool:
    """Whether a garage stands there; a home that was only made holds none."""
    return database.is_file() and database.stat().st_size > 0 and row_counts(database).get("garage", 0) > 0


def _move_files(contents: Contents, folder: Path, home: Path, now: datetime) -> tuple[Path, ...]:
    kept = []
    for name in contents.pieces:
        if name == DATABASE:
            continue
        old, new = home / name, folder / name
        old.parent.mkdir(parents=True, exist_ok=True)
        if old.is_file() and old.read_bytes() != new.read_bytes():
            aside = _aside(old, now)
            os.replace(old, aside)
            kept.append(aside)
        os.replace(new, old)
    return tuple(kept)


def _replace_database(new: Path, target: Path, now: datetime) -> tuple[Path, ...]:
    """The last step, in one transaction of SQLite: whoever has the database open sees the old one or the new one."""
    kept: tuple[Path, ...] = ()
    target.parent.mkdir(parents=True, exist_ok=True)
    is_held = _holds(target)
    with troubles(), closing(sqlite3.connect(target)) as there:
        prepare_sqlite(there)
        if is_held:
            aside = _aside(target, now)
            with closing(sqlite3.connect(aside)) as copy:
                there.backup(copy)
            kept = (aside,)
        with closing(sqlite3.connect(new)) as coming:
            coming.backup(there)
    return kept


def _aside(path: Path, now: datetime) -> Path:
    stem = f"{path.name}.before-{now:%Y%m%dT%H%M%S}"
    name, count = stem, 1
    while path.with_name(name).exists():
        count += 1
        name = f"{stem}-{count}"
    return path.with_name(name)
