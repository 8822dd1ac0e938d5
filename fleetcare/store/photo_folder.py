"""Photos in the home, one file each, named after what is in it: the same picture is kept once."""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
from pathlib import Path

from fleetcare.errors import NotFound, StoreFull, StoreTrouble

_NAME = re.compile(r"[0-9a-f]{64}")
FOLDER = "photos"
_NO_ROOM = 28
"""ENOSPC."""


class PhotoFolder:
    """Implements the `PhotoShelf` port in a folder of the home."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def keep(self, picture: bytes) -> str:
        """Writes a picture so that it is whole or not there; its name. Raises StoreFull or StoreTrouble."""
        name = hashlib.sha256(picture).hexdigest()
        path = self._folder / f"{name}.jpg"
        temporary = self._folder / f".{name}.{os.getpid()}.part"
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            if path.is_file() and path.stat().st_size == len(picture):
                return name
            try:
                with open(temporary, "wb", opener=_for_owner) as file:
                    file.write(picture)
                    file.flush()
                    os.fsync(file.fileno())
                temporary.replace(path)
            finally:
                with contextlib.suppress(FileNotFoundError):
                    temporary.unlink()
        except OSError as trouble:
            kind = StoreFull if trouble.errno == _NO_ROOM else StoreTrouble
            raise kind(f"The photo could not be kept: {trouble.strerror or trouble}. Nothing was changed.") from trouble
        return name

    def picture(self, name: str) -> bytes:
        """The bytes of a picture. Raises NotFound."""
        if _NAME.fullmatch(name) is None:
            raise NotFound("photo", name)
        try:
            return (self._folder / f"{name}.jpg").read_bytes()
        except FileNotFoundError:
            raise NotFound("photo", name) from None

    def names(self) -> tuple[str, ...]:
        """Names of all pictures, sorted."""
        if not self._folder.is_dir():
            return ()
        return tuple(sorted(path.stem for path in self._folder.glob("*.jpg") if _NAME.fullmatch(path.stem)))


def _for_owner(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)
