"""Guides: the map of the rooms is the tree, the picture of the layers is the contract, the commands exist."""

from __future__ import annotations

import importlib
import pkgutil
import re
from pathlib import Path
from types import ModuleType

import pytest
import typer

from tests.house.guide import Typed, blocks, code_spans, commands_in, first_cells, section
from tests.house.linter import contracts
from tests.house.tree import ROOT, repository_files, rooms

GUIDES = ("README.md", "DEVELOPERS.md")


def guide(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def rooms_on_the_map(text: str) -> list[str]:
    return first_cells(section(text, "Map of the rooms"))


def rooms_in_the_tree(files: list[Path]) -> set[str]:
    """Rooms of the program, folders of the repository, and folders of tests that are no room's own."""
    inside = rooms()
    folders = {f"{path.parts[0]}/" for path in files if len(path.parts) > 1}
    of_tests = {f"{path.parts[1]}/" for path in files if path.parts[0] == "tests" and len(path.parts) > 2}
    mirrored = inside | {f"{room.removesuffix('.py')}/" for room in inside}
    return (
        {f"fleetcare/{room}" for room in inside}
        | (folders - {"fleetcare/"})
        | {f"tests/{f}" for f in of_tests - mirrored}
    )


def commands_of_the_program() -> dict[str, set[str]]:
    """Every command of the program with its options; under an empty name those of the program itself."""
    package: ModuleType = importlib.import_module("fleetcare.cli")
    for module in pkgutil.iter_modules(getattr(package, "__path__", ())):
        importlib.import_module(f"fleetcare.cli.{module.name}")
    group = typer.main.get_command(vars(package)["app"])
    found = {"": group, **getattr(group, "commands", {})}
    for name, command in list(found.items()):
        if name:
            found |= {f"{name} {second}": each for second, each in getattr(command, "commands", {}).items()}
    return {
        name: {"--help", "-h", *(option for param in command.params for option in (*param.opts, *param.secondary_opts))}
        for name, command in found.items()
    }


def test_the_map_of_the_rooms_is_the_tree() -> None:
    on_the_map = rooms_on_the_map(guide("DEVELOPERS.md"))
    tree = rooms_in_the_tree([path.relative_to(ROOT) for path in repository_files()])
    assert len(on_the_map) == len(set(on_the_map)), "a room stands on the map twice"
    assert set(on_the_map) - tree == set(), "on the map, not in the tree"
    assert tree - set(on_the_map) == set(), "in the tree, not on the map"


def test_a_room_that_is_not_on_the_map_is_noticed() -> None:
    files = [path.relative_to(ROOT) for path in repository_files()]
    more = [*files, Path("tools/x.py"), Path("tests/smoke/test_x.py"), Path("tests/store/test_x.py")]
    assert rooms_in_the_tree(more) - rooms_in_the_tree(files) == {"tools/", "tests/smoke/"}


def test_the_map_is_read_row_by_row() -> None:
    text = "## Map of the rooms\n\n| room | for |\n|---|---|\n| `a/` | x |\n| `b.py` | y |\n\n## Next\n\n| `c/` | z |\n"
    assert rooms_on_the_map(text) == ["a/", "b.py"]


def test_the_picture_of_the_layers_is_the_contract() -> None:
    (picture,) = [body for language, body in blocks(guide("DEVELOPERS.md")) if language == "layers"]
    drawn = [tuple(part.strip() for part in line.split("|")) for line in picture.splitlines()]
    assert drawn == list(contracts()["the house stands in layers"].layers)


@pytest.mark.parametrize("name", GUIDES)
def test_every_file_a_guide_names_is_there(name: str) -> None:
    """Paths in code that begin in the repository; those with a placeholder or in a home are not meant."""
    begins = "|".join(sorted({re.escape(path.relative_to(ROOT).parts[0]) for path in repository_files()}))
    named = [span for span in code_spans(guide(name)) if re.fullmatch(rf"(?:{begins})(?:/[\w.-]*)*", span)]
    assert [span for span in named if not (ROOT / span).exists()] == []


@pytest.mark.parametrize("name", GUIDES)
def test_every_command_a_guide_names_exists(name: str) -> None:
    typed = commands_in(guide(name))
    assert typed, f"{name} names no command"
    known = commands_of_the_program()
    assert [trouble for command in typed if (trouble := trouble_with(command, known))] == []


def trouble_with(typed: Typed, known: dict[str, set[str]]) -> str:
    """What is wrong with a command as a guide writes it; empty if nothing is."""
    name = typed.words[0] if typed.words and not typed.words[0].startswith("-") else ""
    if len(typed.words) > 1 and any(each.startswith(f"{name} ") for each in known):
        name = f"{name} {typed.words[1]}"
    if name not in known:
        return f"there is no command fleetcare {name}"
    unknown = [option for option in typed.options if option not in known[name]]
    return f"fleetcare {name} knows no {', '.join(unknown)}" if unknown else ""


def test_a_command_or_option_that_is_not_there_is_noticed() -> None:
    known = {"": {"--version"}, "due": {"--within"}, "bay": set(), "bay ink": {"--on"}, "work open": {"--on"}}
    known["work"] = set()
    text = (
        "See `fleetcare due --within 30`, `fleetcare dew` and\n```sh\nX=1 .venv/bin/fleetcare due --witin=30 # x\n```\n"
        "Then `fleetcare bay ink AN --on 2`, `fleetcare bay inc` and `fleetcare bay ink --at 3`.\n"
    )
    more = ["", "there is no command fleetcare bay inc", "fleetcare bay ink knows no --at"]
    troubles = [trouble_with(typed, known) for typed in commands_in(text)]
    assert troubles == ["", "there is no command fleetcare dew", *more, "fleetcare due knows no --witin"]
    assert trouble_with(Typed(("--version",)), known) == ""
    assert [trouble_with(typed, known) for typed in commands_in("`fleetcare work open AN --on 2026-05-02 --no`")] == [
        "fleetcare work open knows no --no"
    ]


def test_commands_are_found_where_people_look_for_them() -> None:
    text = """`fleetcare reading VEHICLE VALUE [--on DATE]`
```sh
cd x && fleetcare import demo_fleet | cat
$ fleetcare due \\
    --within 30
```
```text
fleetcare 0.1.0
```
"""
    assert [typed.words for typed in commands_in(text)] == [
        ("reading", "VEHICLE", "VALUE", "--on", "DATE"),
        ("import", "demo_fleet"),
        ("due", "--within", "30"),
    ]
