"""A backup a day in a folder, the youngest kept: what a garage falls back on that never thought of backups."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from pathlib import Path

from fleetcare.errors import StoreTrouble
from fleetcare.language import saying

_NAME = re.compile(r"garage-\d{4}-\d{2}-\d{2}\.zip")


def copies_in(folder: Path) -> tuple[Path, ...]:
    """The daily copies, the oldest first. Files of other names are somebody's own."""
    if not folder.is_dir():
        return ()
    return tuple(sorted(path for path in folder.iterdir() if _NAME.fullmatch(path.name)))


def keep_daily_copy(folder: Path, today: date, make: Callable[[Path], object], *, kept: int) -> bool:
    """Makes today's copy if it is not there, and throws away the oldest beyond `kept`; True if one was made.

    make: writes a backup to the path it is given, whole or not at all. Old copies go only after the new one is there.
    kept: 1 or more. Raises what `make` raises, and StoreTrouble if the folder cannot be written to.
    """
    path = folder / f"garage-{today.isoformat()}.zip"
    if path.exists():
        return False
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        make(path)
        for old in copies_in(folder)[:-kept]:
            old.unlink()
    except OSError as trouble:
        raise StoreTrouble(
            saying("{folder} cannot be written to: {why}.", folder=folder, why=trouble.strerror or trouble)
        ) from trouble
    return True
