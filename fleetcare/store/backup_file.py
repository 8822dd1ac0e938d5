"""A backup: one zip file with the database, the settings, the garage's own configuration and the photos.

Every piece stands in its list of contents with its size and checksum, and every table with its rows, so that a file
that was cut short, or changed by a bad disk, is known before anything is put back. Everything is readable without this
program: a zip file, a SQLite database, TOML and pictures.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path, PurePosixPath

from fleetcare import __version__
from fleetcare.errors import BadInput, StoreFull, StoreTrouble, shown
from fleetcare.language import saying
from fleetcare.store.photo_folder import FOLDER as PHOTOS
from fleetcare.store.sql_store import SqlStore
from fleetcare.store.whole_copy import is_of_newer_program, revision_of, row_counts

DATABASE = "garage.sqlite3"
CONTENTS = "contents.json"
FORM = 1
"""Of the list of contents; a later one would not be understood here."""
_MOST_LIST_BYTES = 50_000_000
_CHUNK = 1 << 20
_NO_ROOM = 28
"""ENOSPC."""

Progress = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True)
class Contents:
    """What a backup holds. rows: by table. pieces: names of its files, the database first."""

    made_at: datetime
    version: str
    rows: dict[str, int]
    pieces: tuple[str, ...]

    @property
    def photos(self) -> int:
        """How many pictures."""
        return sum(1 for piece in self.pieces if piece.startswith(f"{PHOTOS}/"))


def make_backup(
    store: SqlStore, home: Path, path: Path, *, now: datetime, kept: tuple[str, ...], progress: Progress
) -> Contents:
    """Writes a backup of a home: whole, or not there. Others may read and write meanwhile.

    kept: files and folders of the home that belong to it beside database and photos. Raises BadInput if `path` is
    there already, StoreTrouble or StoreFull if it cannot be written.
    """
    if path.exists():
        raise BadInput(
            saying("{path} is there already; nothing was written.", path=path),
            remedy="Name a file that is not there yet.",
        )
    with _told(path), _beside(path) as folder:
        copy = folder / DATABASE
        # The database first: a photo is kept before the row that names it, so none can be missing afterwards.
        store.copy_to(copy, lambda done, of: progress("pages of the database", done, of))
        pieces = [(DATABASE, copy), *_files_of(home, (*kept, PHOTOS))]
        rows = row_counts(copy)
        listed = []
        archive = folder / "archive.zip"
        with (
            # The settings in it may hold the password of a mailbox.
            open(archive, "xb", opener=_for_owner) as written,
            zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED, allowZip64=True) as file,
        ):
            for done, (name, piece) in enumerate(pieces):
                progress("files", done, len(pieces))
                stored = zipfile.ZIP_STORED if name.endswith(".jpg") else zipfile.ZIP_DEFLATED
                size, checksum = _put(file, name, piece, stored)
                listed.append({"name": name, "bytes": size, "sha256": checksum})
            told = {
                "form": FORM, "made_at": now.isoformat(), "fleetcare": __version__, "rows": rows, "files": listed,
            }  # fmt: skip
            file.writestr(CONTENTS, json.dumps(told, indent=1, sort_keys=True))
        progress("files", len(pieces), len(pieces))
        _to_disk(archive)
        _put_there(archive, path)
        _to_disk(path.parent)
    return Contents(now, __version__, rows, tuple(name for name, _ in pieces))


def unpack(path: Path, folder: Path, *, progress: Progress) -> Contents:
    """Takes a backup out into an empty folder and proves it whole.

    Raises BadInput, naming what is wrong with the file; then `folder` may hold pieces and is to be thrown away.
    """
    try:
        with _told(folder), zipfile.ZipFile(path) as file:
            told = _contents(file, path)
            for done, piece in enumerate(told["files"]):
                progress("files", done, len(told["files"]))
                _take(file, path, piece, folder)
            progress("files", len(told["files"]), len(told["files"]))
    except FileNotFoundError:
        raise BadInput(saying("There is no file {path}.", path=path), remedy="Look where the backups lie.") from None
    except (zipfile.BadZipFile, EOFError, NotImplementedError, RuntimeError) as trouble:
        raise _not_whole(path, "it is no whole zip file") from trouble
    copy = folder / DATABASE
    if is_of_newer_program(revision_of(copy)):
        what = saying(
            "{name} was made by fleetcare {told}, which is newer than this one.", name=path.name, told=told["fleetcare"]
        )
        raise BadInput(what, remedy="Install that version or a later one; nothing was changed.")
    if row_counts(copy) != told["rows"]:
        raise _not_whole(path, "its database does not hold the rows it should")
    pieces = tuple(str(piece["name"]) for piece in told["files"])
    return Contents(datetime.fromisoformat(told["made_at"]), told["fleetcare"], told["rows"], pieces)


def _contents(file: zipfile.ZipFile, path: Path) -> dict:  # type: ignore[type-arg]
    try:
        info = file.getinfo(CONTENTS)
    except KeyError:
        raise BadInput(
            saying("{name} is no backup of a garage.", name=path.name), remedy="Name a file of fleetcare backup."
        ) from None
    if info.file_size > _MOST_LIST_BYTES:
        raise _not_whole(path, "its list of contents is too long")
    try:
        told = json.loads(file.read(info))
        form, files = told["form"], told["files"]
        names = [PurePosixPath(piece["name"]) for piece in files]
    except (ValueError, KeyError, TypeError) as trouble:
        raise _not_whole(path, "its list of contents cannot be read") from trouble
    if form != FORM:
        raise BadInput(
            saying("{name} was made by a newer fleetcare.", name=path.name),
            remedy="Install that version or a later one.",
        )
    if any(name.is_absolute() or ".." in name.parts for name in names) or PurePosixPath(DATABASE) not in names:
        raise _not_whole(path, "its list of contents names files that cannot be")
    return told  # type: ignore[no-any-return]


def _take(file: zipfile.ZipFile, path: Path, piece: dict[str, object], folder: Path) -> None:
    name = str(piece["name"])
    target = folder / name
    target.parent.mkdir(parents=True, exist_ok=True)
    checksum, size = hashlib.sha256(), 0
    try:
        source = file.open(name)
    except KeyError:
        raise _not_whole(path, f"{name} is not in it") from None
    with source, open(target, "wb", opener=_for_owner) as out:
        while chunk := source.read(_CHUNK):
            size += len(chunk)
            if size > int(str(piece["bytes"])):
                break
            checksum.update(chunk)
            out.write(chunk)
        out.flush()
        os.fsync(out.fileno())
    if size != piece["bytes"] or checksum.hexdigest() != piece["sha256"]:
        raise _not_whole(path, f"{name} in it is not as it was written")


def _put(file: zipfile.ZipFile, name: str, piece: Path, stored: int) -> tuple[int, str]:
    """Bytes and checksum of what went in."""
    checksum, size = hashlib.sha256(), 0
    info = zipfile.ZipInfo.from_file(piece, name)
    info.compress_type = stored
    with piece.open("rb") as source, file.open(info, "w", force_zip64=True) as out:
        while chunk := source.read(_CHUNK):
            checksum.update(chunk)
            size += len(chunk)
            out.write(chunk)
    return size, checksum.hexdigest()


def _files_of(home: Path, kept: tuple[str, ...]) -> Iterator[tuple[str, Path]]:
    for name in kept:
        place = home / name
        if place.is_file():
            yield name, place
        elif place.is_dir():
            for file in sorted(place.rglob("*")):
                if file.is_file() and not file.name.startswith("."):
                    yield file.relative_to(home).as_posix(), file


@contextmanager
def _beside(path: Path) -> Iterator[Path]:
    """A folder beside the file to be made, so that the last step is a link on one disk. Gone afterwards."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=f".{path.name}.", dir=path.parent) as folder:
        yield Path(folder)


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """Turns what the disk refuses into a trouble of ours."""
    try:
        yield
    except FileNotFoundError:
        raise
    except OSError as trouble:
        kind = StoreFull if trouble.errno == _NO_ROOM else StoreTrouble
        raise kind(f"{path} cannot be written: {trouble.strerror or trouble}. Nothing was changed.") from trouble


def _put_there(archive: Path, path: Path) -> None:
    """Gives the finished archive its name, never over a file that came meanwhile."""
    try:
        os.link(archive, path)
    except FileExistsError:
        raise
    except OSError:
        # A memory stick or a network folder may know no second name for a file.
        if path.exists():
            raise
        os.rename(archive, path)


def _to_disk(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _for_owner(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)


def _not_whole(path: Path, why: str) -> BadInput:
    remedy = "Take another backup; nothing was changed."
    return BadInput(saying("{name} is not whole: {why}.", name=shown(path.name, 60), why=why), remedy=remedy)
