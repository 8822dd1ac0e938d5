"""Running import-linter on a copy of the program, and reading the contracts it goes by."""

from __future__ import annotations

import configparser
import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from tests.house.tree import PACKAGE, ROOT

CONTRACTS_FILE = ROOT / ".importlinter"
LINT = "from importlinter.cli import lint_imports_command; lint_imports_command()"


@dataclass(frozen=True, slots=True)
class Contract:
    """One contract as the file states it."""

    name: str
    type: str
    layers: tuple[tuple[str, ...], ...] = ()
    sources: tuple[str, ...] = ()
    forbidden: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the linter said: its exit code, the names of kept and broken contracts, and all its words on one line."""

    code: int
    kept: frozenset[str]
    broken: frozenset[str]
    words: str

    def forbids(self, importer: str, imported: str) -> bool:
        """True if it said that this one may not import that one."""
        return f"{importer} is not allowed to import {imported}:" in self.words


def contracts() -> dict[str, Contract]:
    """The contracts of the house by name."""
    parser = configparser.ConfigParser()
    parser.read_string(CONTRACTS_FILE.read_text(encoding="utf-8"))
    found = {}
    for section in parser.sections():
        if not section.startswith("importlinter:contract:"):
            continue
        options = parser[section]
        found[options["name"]] = Contract(
            name=options["name"],
            type=options["type"],
            layers=tuple(tuple(part.strip() for part in line.split("|")) for line in _lines(options.get("layers", ""))),
            sources=_lines(options.get("source_modules", "")),
            forbidden=_lines(options.get("forbidden_modules", "")),
        )
    return found


def copy_of_the_house(folder: Path) -> Path:
    """The Python files of the program and its contracts, copied where they can be broken."""
    shutil.copytree(PACKAGE, folder / "fleetcare", ignore=_all_but_python)
    shutil.copy(CONTRACTS_FILE, folder / ".importlinter")
    return folder


def lint(folder: Path) -> Verdict:
    """The linter's verdict on the program in a folder."""
    run = subprocess.run(
        [sys.executable, "-c", LINT, "--no-cache", "--no-logo"],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(folder), "NO_COLOR": "1", "COLUMNS": "400"},
        capture_output=True,
        text=True,
        stdin=subprocess.DEVNULL,
        check=False,
    )
    lines = run.stdout.splitlines()
    return Verdict(
        code=run.returncode,
        kept=frozenset(_named(lines, "KEPT")),
        broken=frozenset(_named(lines, "BROKEN")),
        words=" ".join((run.stdout + run.stderr).split()),
    )


def module_file(folder: Path, module: str) -> Path:
    """Where the module of that dotted name lies; for a room, a new file in it."""
    path = folder.joinpath(*module.split("."))
    return path / "breach.py" if path.is_dir() else path.with_suffix(".py")


def add_line(folder: Path, module: str, *lines: str) -> None:
    """Adds lines to a module, or to a new file in a room."""
    path = module_file(folder, module)
    before = path.read_text(encoding="utf-8") if path.exists() else ""
    path.write_text("\n".join([before, *lines, ""]), encoding="utf-8")


def _lines(value: str) -> tuple[str, ...]:
    return tuple(line.strip() for line in value.splitlines() if line.strip())


def _named(lines: list[str], verdict: str) -> list[str]:
    found = (re.fullmatch(rf"(.+) {verdict}( \(.*\))?", line.strip()) for line in lines)
    return [match.group(1) for match in found if match]


def _all_but_python(folder: str, names: list[str]) -> list[str]:
    return [name for name in names if not name.endswith(".py") and not Path(folder, name).is_dir()]
