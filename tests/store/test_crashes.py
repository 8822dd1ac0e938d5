"""Sudden ends and damaged files: what was acknowledged is there, and what is damaged is never written over."""

from __future__ import annotations

import random
import shutil
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from fleetcare.errors import StoreDamaged, StoreTrouble
from fleetcare.store.sql_store import open_store
from tests.contracts import karst_ridge as kr
from tests.contracts.karst_ridge import CHANGE, settle_in
from tests.store.writer import start

ROUNDS = 5
PAGE = 4096


def _path(url: str) -> Path:
    return Path(url.removeprefix("sqlite:///"))


def test_every_reading_that_was_acknowledged_survives_a_kill(sqlite_url: str) -> None:
    store = open_store(sqlite_url)
    settle_in(store)
    store.close()
    acknowledged: set[int] = set()
    chance = random.Random(4)
    for _ in range(ROUNDS):
        process = start("readings", sqlite_url)
        assert process.stdout is not None
        acknowledged.add(int(process.stdout.readline()))  # it runs
        time.sleep(chance.uniform(0.0, 0.15))
        process.kill()
        rest, _said = process.communicate(timeout=60)
        lines = rest.split("\n")[:-1]
        acknowledged |= {int(line) for line in lines}
        with closing(sqlite3.connect(_path(sqlite_url))) as raw:
            assert raw.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        began = time.monotonic()
        store = open_store(sqlite_url)
        with store.read() as view:
            values = [float(one.value) for one in view.readings()]
            version = view.version()
        store.close()
        assert time.monotonic() - began < 5, "it starts again by itself, at once"
        whole = {int(value) for value in values if value % 1 == 0}
        assert acknowledged <= whole, "nothing acknowledged is lost"
        assert {int(value) for value in values if value % 1} == whole, "units are all or nothing"
        assert version == 1 + len(whole)
    assert len(acknowledged) >= ROUNDS


def _overwritten(content: bytes) -> bytes:
    return content[: 2 * PAGE] + random.Random(1).randbytes(4 * PAGE) + content[6 * PAGE :]


DAMAGES: dict[str, Callable[[bytes], bytes]] = {
    "no header": lambda content: b"\0" * 100 + content[100:],
    "another header": lambda content: b"PK\3\4" + content[4:],
    "not a database": lambda _content: b"Dear garage, this is a letter.\n" * 400,
    "pages overwritten": _overwritten,
    "pages of nought": lambda content: content[: 3 * PAGE] + b"\0" * (5 * PAGE) + content[8 * PAGE :],
    "cut in half": lambda content: content[: len(content) // 2 // PAGE * PAGE],
    "cut within a page": lambda content: content[: len(content) // 2 + 77],
    "cut to its first page": lambda content: content[:PAGE],
    "cut within its header": lambda content: content[:60],
}


@pytest.mark.parametrize("name", DAMAGES)
@pytest.mark.parametrize("with_log", [False, True], ids=["at rest", "with a write-ahead log"])
def test_a_damaged_file_is_noticed_and_left_as_it_is(tmp_path: Path, name: str, with_log: bool) -> None:
    whole = tmp_path / "whole.sqlite3"
    store = open_store(f"sqlite:///{whole}")
    settle_in(store)
    with store.write(CHANGE) as unit:
        unit.add_readings([kr.reading(str(number)) for number in range(2_000)])
    path = tmp_path / "damaged.sqlite3"
    log = tmp_path / "damaged.sqlite3-wal"
    if with_log:  # as a crash leaves it: most in the file, the latest in the log
        with closing(sqlite3.connect(whole)) as raw:
            raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        with store.write(CHANGE) as unit:
            unit.log_change("AN", "reading", "", "the latest")
        log.write_bytes((tmp_path / "whole.sqlite3-wal").read_bytes())
        kept = whole.read_bytes()
        store.close()
    else:
        store.close()
        kept = whole.read_bytes()
    damaged = DAMAGES[name](kept)
    path.write_bytes(damaged)
    waiting = log.read_bytes() if with_log else b""
    for _ in range(2):
        with pytest.raises(StoreDamaged, match="Bring back the latest whole copy"):
            open_store(f"sqlite:///{path}")
    assert path.read_bytes() == damaged
    assert (log.read_bytes() if with_log else b"") == waiting


def test_a_file_emptied_beside_its_log_is_not_taken_for_a_new_one(sqlite_url: str) -> None:
    store = open_store(sqlite_url)
    settle_in(store)
    path = _path(sqlite_url)
    log = path.with_name(path.name + "-wal")
    waiting = log.read_bytes()
    assert waiting
    kept = path.with_name("kept")
    shutil.copyfile(log, kept)
    store.close()
    path.write_bytes(b"")
    shutil.copyfile(kept, log)
    with pytest.raises(StoreDamaged):
        open_store(sqlite_url)
    assert path.read_bytes() == b""
    assert log.read_bytes() == waiting


def test_an_empty_file_alone_is_a_new_database(sqlite_url: str) -> None:
    _path(sqlite_url).write_bytes(b"")
    store = open_store(sqlite_url)
    settle_in(store)
    store.close()


def test_damage_that_comes_while_it_runs_is_said_and_not_a_traceback_of_the_driver(sqlite_url: str) -> None:
    store = open_store(sqlite_url)
    settle_in(store)
    with store.write(CHANGE) as unit:
        unit.add_readings([kr.reading(str(number)) for number in range(2_000)])
    store.close()
    store = open_store(sqlite_url)
    path = _path(sqlite_url)
    content = path.read_bytes()
    path.write_bytes(content[:PAGE] + b"\xff" * (len(content) - PAGE))
    with pytest.raises(StoreTrouble), store.read() as view:
        view.readings()
    store.close()


def test_fifty_thousand_readings_are_stored_and_loaded(database_url: str) -> None:
    store = open_store(database_url)
    settle_in(store)
    many = [kr.reading(str(number)) for number in range(50_000)]
    with store.write(CHANGE) as unit:
        assert unit.add_readings(many) == 50_000
    with store.write(CHANGE) as unit:
        assert unit.add_readings(many[:25_000]) == 0
    with store.read() as view:
        found = view.readings(["AN"])
    assert [int(one.value) for one in found] == list(range(50_000))
    store.close()
