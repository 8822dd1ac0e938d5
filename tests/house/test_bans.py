"""Bans: none is broken in the program, and each has been broken here once to see that it can fail."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.house.bans import BANS, Ban, breaches_below, breaches_in, drawers_in
from tests.house.tree import PACKAGE, ROOT, python_files

BY_NAME = {ban.name: ban for ban in BANS}

# (ban, file below the program, lines that break it)
BROKEN: tuple[tuple[str, str, str], ...] = (
    ("clock", "due/x.py", "from datetime import datetime\nnow = datetime.now()"),
    ("clock", "due/x.py", "import datetime as dt\ndef f():\n    return dt.date.today()"),
    ("clock", "store/x.py", "from datetime import UTC, datetime\nask = datetime.now"),
    ("clock", "web/x.py", "from time import monotonic"),
    ("clock", "web/x.py", "import time\ndef f():\n    return time.perf_counter()"),
    ("clock", "store/x.py", "from sqlalchemy import func\nmade_at = func.now()"),
    ("clock", "mailer/x.py", "from email.utils import make_msgid"),
    ("clock", "mailer/x.py", "import email.utils\nstamp = email.utils.formatdate()"),
    ("clock", "web/x.py", "def f(at):\n    return at.astimezone()"),
    ("clock", "usage/x.py", "import numpy as np\nnow = np.datetime64('now')"),
    ("chance", "usage/x.py", "import random"),
    ("chance", "web/x.py", "from secrets import token_urlsafe as fresh"),
    ("chance", "store/x.py", "import uuid\ndef f():\n    return uuid.uuid4()"),
    ("chance", "usage/x.py", "import numpy as np\nrng = np.random.default_rng(1)"),
    ("chance", "usage/x.py", "from scipy import stats\ndraws = stats.norm.rvs(size=3)"),
    ("chance", "web/x.py", "import os\nseed = os.urandom(8)"),
    ("environment", "cli.py", "import os\nhome = os.environ['HOME']"),
    ("environment", "store/x.py", "from os import getenv"),
    ("environment", "cli.py", "from pathlib import Path\nhome = Path.home()"),
    ("environment", "cli.py", "def f(path):\n    return path.expanduser()"),
    ("environment", "cli.py", "import platformdirs"),
    ("print", "web/x.py", "print('hello')"),
    ("print", "store/x.py", "show = print"),
    ("catch-all", "store/x.py", "try:\n    pass\nexcept:\n    pass"),
    ("catch-all", "store/x.py", "try:\n    pass\nexcept Exception as error:\n    raise ValueError from error"),
    ("catch-all", "intake/x.py", "try:\n    pass\nexcept (OSError, BaseException):\n    pass"),
    ("catch-all", "mailer/x.py", "import contextlib\nwith contextlib.suppress(Exception):\n    pass"),
    ("import time", "store/x.py", "from sqlmodel import create_engine\nengine = create_engine('sqlite://')"),
    ("import time", "web/x.py", "import fastapi\napp = fastapi.FastAPI()"),
    (
        "import time",
        "web/x.py",
        "from fleetcare.settings.load import load_settings\nclass Page:\n    s = load_settings()",
    ),
    ("import time", "web/x.py", "def page(settings=load_settings()):\n    return settings"),
    ("import time", "digest/x.py", "from pathlib import Path\nSHEET = Path('a.css').read_text()"),
    ("tables", "store/tables.py", "class Vehicle(SQLModel, table=True):\n    mark: str"),
    ("tables", "fleet/x.py", "class VehicleRow(SQLModel, table=True):\n    mark: str"),
    ("tables", "store/tables.py", "class VehicleRow(SQLModel, table=True):\n    def worn(self):\n        return 1"),
    ("tables", "store/tables.py", "class VehicleRow(SQLModel, table=True):\n    lines = Relationship()"),
    ("hash", "calendar_feed/x.py", "etag = hash('body')"),
    ("hash", "calendar_feed/x.py", "etags = map(hash, ['body'])"),
    ("set order", "digest/x.py", "for mark in {'AN', 'BE'}:\n    pass"),
    ("set order", "digest/x.py", "marks = list(set(['AN', 'BE']))"),
    ("set order", "digest/x.py", "marks = ', '.join({'AN', 'BE'})"),
    ("set order", "digest/x.py", "marks = [mark for mark in frozenset(['AN'])]"),
)

# (ban, file below the program, lines that look like it and are fine)
LOOK_ALIKES: tuple[tuple[str, str, str], ...] = (
    ("clock", "clock.py", "import time\nfrom datetime import UTC, datetime\nnow = datetime.now(UTC)\nt = time.time()"),
    ("clock", "due/x.py", "def f(clock):\n    return clock.now()"),
    ("clock", "due/x.py", "from datetime import date, datetime, time\nday = date(2026, 4, 14)\nnoon = time(12)"),
    ("clock", "web/x.py", "def f(at, zone):\n    return at.astimezone(zone)"),
    ("clock", "mailer/x.py", "from email.utils import formatdate\nstamp = formatdate(0)"),
    ("clock", "due/x.py", "today = 3\nclass A:\n    now: int\n    def today(self):\n        return self.now"),
    ("clock", "timetable.py", "import time\ntime.sleep(1)"),
    ("chance", "chance.py", "import secrets\nkey = secrets.token_urlsafe(32)"),
    ("chance", "calendar_feed/x.py", "import uuid\nuid = uuid.uuid5(uuid.NAMESPACE_URL, 'due/AN')"),
    ("chance", "usage/x.py", "def f(random):\n    return random.choice"),
    ("chance", "web/x.py", "from hmac import compare_digest"),
    ("environment", "settings/x.py", "import os\nhome = os.environ['HOME']"),
    ("environment", "store/x.py", "import os\nos.fsync(3)\npath = os.path.join('a', 'b')"),
    ("environment", "digest/x.py", "def f(page):\n    return page.environ, page.home"),
    ("print", "cli.py", "print('hello')"),
    ("print", "page/x.py", "def f(sheet):\n    sheet.print()"),
    ("catch-all", "web/x.py", "try:\n    pass\nexcept Exception:\n    pass"),
    ("catch-all", "store/x.py", "try:\n    pass\nexcept (OSError, ValueError):\n    pass"),
    (
        "catch-all",
        "store/x.py",
        "def f(unit):\n    try:\n        pass\n    except BaseException:\n        unit.undo()\n        raise",
    ),
    ("catch-all", "mailer/x.py", "import contextlib\nwith contextlib.suppress(OSError):\n    pass"),
    (
        "import time",
        "store/x.py",
        "from sqlmodel import create_engine\ndef engine():\n    return create_engine('sqlite://')",
    ),
    ("import time", "web/x.py", "import fastapi\nrouter = fastapi.APIRouter()\nmake = lambda: fastapi.FastAPI()"),
    ("import time", "web/x.py", "def page(load_settings):\n    return load_settings()"),
    ("import time", "store/migrations/env.py", "connect()"),
    ("import time", "web/x.py", "if __name__ == '__main__':\n    open('x')"),
    ("tables", "store/tables.py", "class VehicleRow(SQLModel, table=True):\n    mark: str\n    __table_args__ = ()"),
    ("tables", "book/rows.py", "class BookRow:\n    def worn(self):\n        return 1"),
    ("hash", "web/x.py", "def f(key, hash_of):\n    return hash_of(key), key.hash"),
    ("hash", "web/x.py", "class Key:\n    hash: str\nk = Key(hash='x')"),
    ("set order", "digest/x.py", "for mark in sorted({'AN', 'BE'}):\n    pass"),
    ("set order", "digest/x.py", "seen = {mark for mark in {'AN'}}\nn = len(list(set()))\nok = 'AN' in {'AN'}"),
    ("set order", "digest/x.py", "marks = sorted(mark for mark in {'AN', 'BE'})"),
    ("set order", "digest/x.py", "for key in {'AN': 1}:\n    pass"),
)


@pytest.mark.parametrize("ban", BANS, ids=lambda ban: ban.name)
def test_no_room_breaks_the_ban(ban: Ban) -> None:
    found = breaches_below(PACKAGE, [ban])
    assert not found, "\n".join([ban.rule, *map(str, found)])


@pytest.mark.parametrize(("name", "path", "source"), BROKEN)
def test_the_ban_can_fail(name: str, path: str, source: str) -> None:
    assert [breach.ban for breach in breaches_in(source, path, BANS) if breach.ban == name]


@pytest.mark.parametrize(("name", "path", "source"), LOOK_ALIKES)
def test_what_only_looks_like_it_passes(name: str, path: str, source: str) -> None:
    assert breaches_in(source, path, [BY_NAME[name]]) == []


def test_every_ban_has_been_broken_and_has_a_look_alike() -> None:
    assert {name for name, _, _ in BROKEN} == set(BY_NAME)
    assert {name for name, _, _ in LOOK_ALIKES} == set(BY_NAME)


def test_a_breach_says_where_it_is() -> None:
    (breach,) = breaches_in("x = 1\nprint(x)\n", "due/x.py", [BY_NAME["print"]])
    assert str(breach) == "due/x.py:2: print (print)"


def test_the_scan_reads_the_whole_program(tmp_path: Path) -> None:
    """A breach far down in a folder is found, and the real program is not an empty folder."""
    deep = tmp_path / "store" / "migrations" / "versions"
    deep.mkdir(parents=True)
    (deep / "first.py").write_text("print('x')\n", encoding="utf-8")
    assert [breach.path for breach in breaches_below(tmp_path, BANS)] == ["store/migrations/versions/first.py"]
    assert len(python_files(PACKAGE)) > 30


def test_no_file_is_a_drawer() -> None:
    files = [path.relative_to(ROOT) for folder in (PACKAGE, ROOT / "tests") for path in python_files(folder)]
    assert drawers_in(files) == []


@pytest.mark.parametrize("name", ["fleetcare/utils.py", "fleetcare/web/helpers.py", "fleetcare/common/days.py"])
def test_a_drawer_is_found(name: str) -> None:
    assert drawers_in([Path(name)]) == [Path(name)]


def test_a_name_that_holds_such_a_word_is_no_drawer() -> None:
    assert drawers_in([Path("fleetcare/page/remodelling.py"), Path("fleetcare/usage/commonest.py")]) == []
