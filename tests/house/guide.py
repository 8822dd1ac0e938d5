"""Reading the guides: tables, pictures, and the commands they tell people to type."""

from __future__ import annotations

import re
from dataclasses import dataclass

SHELLS = frozenset({"sh", "bash", "shell", "console"})


@dataclass(frozen=True, slots=True)
class Typed:
    """A command as a guide writes it: its words after `fleetcare`."""

    words: tuple[str, ...]

    @property
    def options(self) -> tuple[str, ...]:
        """The options it names, without their values."""
        return tuple(word.split("=")[0] for word in self.words if re.match(r"--?[a-zA-Z]", word))


def section(text: str, heading: str) -> str:
    """What stands under a heading of the second level, up to the next."""
    found = re.search(rf"^## {re.escape(heading)}\n(.*?)(?=^## |\Z)", text, re.MULTILINE | re.DOTALL)
    return found.group(1) if found else ""


def first_cells(text: str) -> list[str]:
    """The first cell of each table row that begins with code."""
    return re.findall(r"^\| *`([^`]+)` *\|", text, re.MULTILINE)


def blocks(text: str) -> list[tuple[str, str]]:
    """Fenced blocks in order: what they are written in, and their text."""
    return re.findall(r"^```([\w-]*)[^\n]*\n(.*?)^```", text, re.MULTILINE | re.DOTALL)


def code_spans(text: str) -> list[str]:
    """Code within sentences and tables."""
    without_blocks = re.sub(r"^```.*?^```", "", text, flags=re.MULTILINE | re.DOTALL)
    return [" ".join(span.split()) for span in re.findall(r"`([^`]+)`", without_blocks)]


def commands_in(text: str) -> list[Typed]:
    """Every `fleetcare ...` a guide names, in shell blocks and in sentences."""
    lines = [span for span in code_spans(text) if span.startswith("fleetcare ")]
    for language, body in blocks(text):
        if language in SHELLS:
            whole = body.replace("\\\n", " ")
            lines += [re.sub(r"(^|\s)#\s.*", "", line).removeprefix("$ ").strip() for line in whole.splitlines()]
    found = []
    for line in lines:
        for part in re.split(r"\s*(?:&&|\|\||;|\s\|\s)\s*", line):
            words = [word.strip("[]") for word in part.split()]
            while words and re.match(r"[A-Z_]+=", words[0]):
                words = words[1:]
            if words and re.fullmatch(r"(?:[\w./-]*/)?fleetcare", words[0]):
                found.append(Typed(tuple(words[1:])))
    return found
