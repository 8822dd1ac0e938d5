"""Letters into a folder, one .eml file each: for a garage without a mail server, and for looking at them."""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
from datetime import UTC
from email.parser import BytesHeaderParser
from email.utils import parsedate_to_datetime
from pathlib import Path

from fleetcare.errors import DeliveryFailed


class FolderMailer:
    """Writes each message as a file. Never writes over one; the same message again is left as it is.

    Files are readable by their owner alone, because letters hold links that let people in.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def send(self, raw: bytes, to_mail: str, *, next_to_mail: str | None = None) -> str:
        """Writes one message so that it is whole or not there, on the disk before this ends. Returns the file's name.

        Raises DeliveryFailed (not permanent) if the folder cannot be written.
        """
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            return self._write(raw, file_name_for(raw, to_mail))
        except OSError as trouble:
            raise DeliveryFailed(
                f"The letter could not be written to {self._folder}: {trouble.strerror or trouble}.", permanent=False
            ) from trouble

    def finish(self) -> None:
        """Nothing is kept open."""

    def _write(self, raw: bytes, stem: str) -> str:
        temporary = self._folder / f".{stem}.{os.getpid()}.part"
        try:
            with open(temporary, "wb", opener=_for_owner) as file:
                file.write(raw)
                file.flush()
                os.fsync(file.fileno())
            for number in range(1, 1000):
                path = self._folder / (f"{stem}.eml" if number == 1 else f"{stem}-{number}.eml")
                # A link, not a rename: a rename would write over a file that is there.
                with contextlib.suppress(FileExistsError):
                    os.link(temporary, path)
                    _fsync_folder(self._folder)
                    return f"written as {path.name}"
                if path.read_bytes() == raw:
                    return f"there already as {path.name}"
        finally:
            temporary.unlink(missing_ok=True)
        raise OSError(f"{stem}.eml is there a thousand times")


def file_name_for(raw: bytes, to_mail: str) -> str:
    """File name of a message without its ending: when (UTC), for whom, and a piece of the hash of its Message-ID.

    Only a to z, digits, hyphens and points, so that it fits every file system and holds no path.
    """
    head = BytesHeaderParser().parsebytes(raw)
    try:
        written_at = parsedate_to_datetime(str(head["Date"])).astimezone(UTC).strftime("%Y-%m-%dT%H%M%S")
    except (ValueError, TypeError, OverflowError):
        written_at = "undated"
    person = re.sub(r"[^a-z0-9.]+", "-", to_mail.partition("@")[0].lower()).strip("-.")[:40] or "somebody"
    told_apart = str(head["Message-ID"] or "").encode("utf-8", "replace") or raw
    return f"{written_at}-{person}-{hashlib.sha256(told_apart).hexdigest()[:12]}"


def _for_owner(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)


def _fsync_folder(folder: Path) -> None:
    if os.name != "posix":
        return  # folders cannot be opened there, and their entries are kept by the system itself
    opened = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)
