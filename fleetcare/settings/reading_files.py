"""A configuration file from the disk, as text; what can go wrong with that, in words."""

from __future__ import annotations

from pathlib import Path

from fleetcare.errors import BadFile, Fault
from fleetcare.language import saying
from fleetcare.settings.toml_text import MOST_BYTES


def text_of(path: Path) -> str:
    """The text of a file. Raises BadFile if it cannot be read, is too large or is not UTF-8."""
    try:
        with path.open("rb") as stream:
            raw = stream.read(MOST_BYTES + 1)
    except OSError as error:
        reason = (error.strerror or "unknown").lower()
        raise BadFile(
            [
                Fault(
                    path.name,
                    0,
                    saying("The file cannot be read ({reason}).", reason=reason),
                    saying("Look at {path}.", path=path),
                )
            ]
        ) from None
    if len(raw) > MOST_BYTES:
        raise BadFile(
            [
                Fault(
                    path.name,
                    0,
                    saying("The file is larger than {megabytes} MB.", megabytes=MOST_BYTES // 1_000_000),
                    "Split it.",
                )
            ]
        )
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise BadFile([Fault(path.name, line, "This is not UTF-8 text.", "Save the file as UTF-8.")]) from None
