"""Layers: the program keeps every contract about imports, and each has been broken on a copy to see that it can."""

from __future__ import annotations

import ast
import sys
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import pytest

from tests.house.linter import Verdict, add_line, contracts, copy_of_the_house, lint
from tests.house.syntax import imported_names
from tests.house.tree import PACKAGE, ROOT, python_files

CONTRACTS = contracts()
LAYERS = CONTRACTS["the house stands in layers"].layers
CORE = tuple(
    name.removeprefix("fleetcare.") for name in CONTRACTS["the core knows no framework and no machine"].sources
)

CORE_KNOWS = frozenset({"numpy", "scipy"})
"""What the core may import from third parties."""


@dataclass(frozen=True, slots=True)
class Breach:
    """One line added to one module, the contract it breaks, and the others that cannot but break with it."""

    contract: str
    module: str
    line: str
    also: tuple[str, ...] = ()


BREACHES = (
    Breach("the house stands in layers", "fleet", "from fleetcare.book import rows"),
    Breach("imaplib is known in mail_in only", "mailer", "import imaplib"),
    Breach("the house stands in layers", "due", "import fleetcare.actions.ports"),
    Breach("the house stands in layers", "web", "def page():\n    import fleetcare.cli"),
    Breach("the house stands in layers", "cli.look", "def due():\n    from fleetcare.web import app"),
    Breach("the house stands in layers", "timetable", "import fleetcare.web.app"),
    Breach("the house stands in layers", "store", "from fleetcare import mailer"),
    Breach("the house stands in layers", "page", "import fleetcare.digest.values"),
    Breach("the house stands in layers", "quantities", "from fleetcare import language"),
    Breach("the house stands in layers", "spare_room", "x = 1"),
    Breach("the core knows no framework and no machine", "due", "import logging"),
    Breach("the core knows no framework and no machine", "wear", "from pathlib import Path"),
    Breach("the core knows no framework and no machine", "meter", "from fleetcare.clock import Clock"),
    Breach(
        "the core knows no framework and no machine",
        "usage",
        "def f():\n    from sqlmodel import Session",
        also=("the database is known in store only",),
    ),
    Breach("what is shown is made from values", "page", "from fleetcare.clock import MachineClock"),
    Breach("what is shown is made from values", "digest", "import socket"),
    Breach("what is shown is made from values", "calendar_feed", "import uuid"),
    Breach("actions touch nothing outside", "actions", "from pathlib import Path"),
    Breach("actions do not call each other", "actions.links", "from fleetcare.actions import refresh"),
    Breach(
        "actions do not call each other",
        "actions.settle",
        "from fleetcare.actions import refresh",
        also=("what actions share stands in order",),
    ),
    Breach("what actions share stands in order", "actions.gather", "from fleetcare.actions import settle"),
    Breach("what actions share stands in order", "actions.line_inputs", "from fleetcare.actions import renew_feeds"),
    Breach("the database is known in store only", "web", "import sqlalchemy.orm"),
    Breach("the database is known in store only", "cli", "import psycopg"),
    Breach("icalendar is known in calendar_feed and calendar_in only", "intake", "from icalendar import Calendar"),
    Breach("jinja2 is known in digest and page only", "web", "import jinja2"),
    Breach("the web framework is known in web only", "cli", "import uvicorn"),
    Breach("the web framework is known in web only", "page", "from fastapi import Request"),
    Breach("apscheduler is known in timetable only", "web", "from apscheduler.triggers import cron"),
    Breach("the terminal is known in cli only", "timetable", "import rich.console"),
    Breach("pydantic is known where text comes in only", "web", "from pydantic import BaseModel"),
    Breach("httpx is known in calendar_in only", "mailer", "import httpx"),
    Breach("pillow is known in intake only", "web", "from PIL import Image"),
    Breach("resvg is known in page only", "cli", "import resvg_py"),
    Breach("smtplib is known in mailer only", "timetable", "import smtplib"),
    Breach("the house stands in layers", "due", "import fleetcare.bayplan.problem"),
    Breach("the house stands in layers", "solvers", "from fleetcare.intake import schedule_files"),
    Breach("the engines of the planner are known in solvers only", "cli", "from ortools.sat.python import cp_model"),
    Breach("platformdirs is known in settings only", "cli", "import platformdirs"),
    Breach("babel is known in settings only", "web", "import babel"),
    Breach("the house stands in layers", "language", "import fleetcare.wording"),
)


@pytest.fixture
def house(tmp_path: Path) -> Path:
    """A copy of the program that may be broken."""
    return copy_of_the_house(tmp_path)


@pytest.fixture(scope="module")
def as_it_stands() -> Verdict:
    """The verdict on the program itself."""
    return lint(ROOT)


def test_every_contract_is_kept(as_it_stands: Verdict) -> None:
    verdict = as_it_stands
    assert verdict.broken == frozenset(), verdict.words
    assert (verdict.code, verdict.kept) == (0, frozenset(CONTRACTS)), verdict.words


@pytest.mark.parametrize(
    "breach", BREACHES, ids=lambda breach: f"{breach.module}: {breach.line.splitlines()[-1].strip()}"
)
def test_the_contract_can_fail(house: Path, breach: Breach, as_it_stands: Verdict) -> None:
    """One offending import breaks the contract it is about, and no other."""
    add_line(house, f"fleetcare.{breach.module}", breach.line)
    verdict = lint(house)
    assert verdict.broken - as_it_stands.broken == {breach.contract, *breach.also}, verdict.words
    assert verdict.code == 1


def test_every_contract_has_been_broken() -> None:
    assert {breach.contract for breach in BREACHES} == set(CONTRACTS)


def test_every_room_is_held_to_its_place(house: Path) -> None:
    """Each layer that imports the one above, and each room that imports its neighbour on the line, is reported."""
    pairs = [(low, high) for above, below in pairwise(LAYERS) for low in below for high in above]
    pairs += [(one, other) for line in LAYERS for one in line for other in line if one != other]
    assert len(pairs) > 40
    for importer, imported in pairs:
        add_line(house, f"fleetcare.{importer}", f"import fleetcare.{imported}")
    verdict = lint(house)
    unseen = [pair for pair in pairs if not verdict.forbids(*(f"fleetcare.{room}" for room in pair))]
    assert unseen == [], verdict.words


@pytest.mark.parametrize("name", [name for name, contract in CONTRACTS.items() if contract.type == "forbidden"])
def test_every_forbidden_name_is_caught_in_every_room_it_is_forbidden_to(house: Path, name: str) -> None:
    contract = CONTRACTS[name]
    for source in contract.sources:
        # The whole program is forbidden a framework: `book` is never a room that is let off.
        place = "fleetcare.book" if source == "fleetcare" else source
        add_line(house, place, *(f"import {module}" for module in contract.forbidden))
    verdict = lint(house)
    pairs = [(source, module) for source in contract.sources for module in contract.forbidden]
    assert [pair for pair in pairs if not verdict.forbids(*pair)] == [], verdict.words


def foreign_to_the_core(source: str) -> set[str]:
    """Third parties that a file of the core imports and should not."""
    roots = {full.split(".")[0] for full in imported_names(ast.parse(source)).values()}
    return roots - sys.stdlib_module_names - CORE_KNOWS - {"fleetcare"}


def test_the_core_knows_numpy_and_scipy_and_no_other_third_party() -> None:
    files = [
        file for room in CORE for file in [PACKAGE / f"{room}.py", *python_files(PACKAGE / room)] if file.is_file()
    ]
    assert len(files) > 20
    found = {file.relative_to(PACKAGE).as_posix(): foreign_to_the_core(file.read_text("utf-8")) for file in files}
    assert {path: names for path, names in found.items() if names} == {}


def test_a_third_party_in_the_core_is_found() -> None:
    assert foreign_to_the_core("import pandas as pd\nfrom tomlkit.api import parse") == {"pandas", "tomlkit"}


def test_what_the_core_may_import_passes() -> None:
    source = "from __future__ import annotations\nimport numpy as np\nfrom scipy.stats import gamma\nimport math"
    assert foreign_to_the_core(source + "\nfrom fleetcare.fleet import duty") == set()


def test_the_core_is_whole() -> None:
    """Every room between the pages and the clock is held to the rules of the core."""
    lines = [line for line in LAYERS if len(line) == 1]
    names = [line[0] for line in lines if line[0] not in {"assemble", "actions", "planner"}]
    assert set(names) | {"quantities", "errors"} == set(CORE)
