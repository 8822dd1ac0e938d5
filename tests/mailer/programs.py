"""Programs that take letters on their standard input, written for a test."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

_KEEPS = """#!{python} -I
import pathlib, sys
folder = pathlib.Path({folder!r})
message = sys.stdin.buffer.read()
said = folder / "status"
if said.exists():
    status, words = said.read_text().split(" ", 1)
    said.unlink()
    sys.stderr.write(words)
    sys.exit(int(status))
number = len(list(folder.glob("*.words")))
(folder / f"{{number:03}}.message").write_bytes(message)
(folder / f"{{number:03}}.words").write_text("\\n".join(sys.argv[1:]))
"""


@dataclass(frozen=True)
class Program:
    """A program that keeps each letter and the words it was called with."""

    folder: Path

    @property
    def command(self) -> str:
        """How it is called, by its whole path."""
        return str(self.folder / "take a letter").replace(" ", "\\ ")

    @property
    def messages(self) -> list[bytes]:
        """What it was given, in order."""
        return [path.read_bytes() for path in sorted(self.folder.glob("*.message"))]

    @property
    def words(self) -> list[list[str]]:
        """What stood behind its name, in order."""
        return [path.read_text().split("\n") for path in sorted(self.folder.glob("*.words"))]

    def end_next_with(self, status: int, words: str = "") -> None:
        """The next letter is not kept; the program says these words and ends with that status."""
        (self.folder / "status").write_text(f"{status} {words}")


def keeping_program(folder: Path) -> Program:
    """A program in that folder."""
    return write_program(folder, _KEEPS.format(python=sys.executable, folder=str(folder)))


def write_program(folder: Path, text: str) -> Program:
    """A program with that text; there is a blank in its name."""
    folder.mkdir(exist_ok=True)
    path = folder / "take a letter"
    path.write_text(text)
    path.chmod(0o755)
    return Program(folder)
