"""Where the house stands: the files of the repository, without what git leaves out."""

from __future__ import annotations

from collections.abc import Iterator
from fnmatch import fnmatch
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "fleetcare"


def ignored_patterns(root: Path = ROOT) -> tuple[str, ...]:
    """Names that git leaves out, from .gitignore, and git's own folder."""
    lines = (root / ".gitignore").read_text(encoding="utf-8").splitlines()
    return (".git", *(line.strip().rstrip("/") for line in lines if line.strip() and not line.startswith("#")))


def repository_files(root: Path = ROOT) -> Iterator[Path]:
    """Every file that belongs to the repository, in order of path."""
    patterns = ignored_patterns(root)

    def walk(folder: Path) -> Iterator[Path]:
        for path in sorted(folder.iterdir()):
            if any(fnmatch(path.name, pattern) for pattern in patterns):
                continue
            if path.is_dir():
                yield from walk(path)
            else:
                yield path

    return walk(root)


def python_files(folder: Path) -> list[Path]:
    """Every Python file in a folder, in order of path."""
    return sorted(path for path in folder.rglob("*.py") if "__pycache__" not in path.parts)


def rooms(package: Path = PACKAGE) -> set[str]:
    """What lies directly in the program, as the guide writes it: `store/` or `cli.py`."""
    found = {path.name for path in package.glob("*.py") if path.name not in {"__init__.py", "__main__.py"}}
    return found | {f"{path.name}/" for path in package.iterdir() if (path / "__init__.py").is_file()}
