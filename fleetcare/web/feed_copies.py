"""The last good bytes of each feed that was fetched, kept beside the database for the day it cannot be read."""

from __future__ import annotations

import contextlib
import json
import logging
import os
import tempfile
from datetime import datetime
from pathlib import Path

from fleetcare.calendar_feed.values import FeedBody, FeedStamp

FOLDER = "last-good-feeds"

log = logging.getLogger(__name__)


class FeedCopies:
    """One file for each address, named by the hash of its key; written when a feed changed, not when it is polled."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._kept: dict[str, str] = {}
        """Tags of what lies there, by key hash, as far as this process has seen."""

    def has(self, key_hash: str, stamp: FeedStamp) -> bool:
        """Whether these bytes lie there already."""
        if key_hash not in self._kept:
            found = self.get(key_hash)
            self._kept[key_hash] = "" if found is None else found.etag
        return self._kept[key_hash] == stamp.etag

    def keep(self, key_hash: str, body: FeedBody) -> None:
        """Puts the bytes there, all or nothing. A disk that takes nothing is told in the log, and is no error here."""
        head = json.dumps({"etag": body.etag, "modified_at": body.modified_at.isoformat()}).encode()
        try:
            self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            # mkstemp makes it readable for its owner alone.
            number, name = tempfile.mkstemp(dir=self._folder)
            try:
                with os.fdopen(number, "wb") as file:
                    file.write(head + b"\n" + body.body)
                Path(name).replace(self._path(key_hash))
            except BaseException:
                Path(name).unlink(missing_ok=True)
                raise
        except OSError as trouble:
            log.warning("the last good feeds cannot be kept in %s: %s", self._folder, trouble.strerror)
        # Also if it failed: it is tried again when the feed changes, not at every poll.
        self._kept[key_hash] = body.etag

    def get(self, key_hash: str) -> FeedBody | None:
        """The bytes that lie there, or None."""
        try:
            head, _, body = self._path(key_hash).read_bytes().partition(b"\n")
            told = json.loads(head)
            return FeedBody("", told["etag"], datetime.fromisoformat(told["modified_at"]), body)
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def forget(self, key_hash: str) -> None:
        """Takes the bytes away: that key opens nothing any more."""
        self._kept.pop(key_hash, None)
        with contextlib.suppress(OSError):
            self._path(key_hash).unlink(missing_ok=True)

    def _path(self, key_hash: str) -> Path:
        return self._folder / key_hash
