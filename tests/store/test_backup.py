"""A backup made while others write is whole and puts a garage back on either database; a spoilt one changes nothing."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
import sys
import threading
import time
import zipfile
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from PIL import Image

from fleetcare.errors import BadInput, Clash, StoreTrouble
from fleetcare.store.backup_file import CONTENTS, DATABASE, Contents, make_backup, unpack
from fleetcare.store.daily_copies import copies_in, keep_daily_copy
from fleetcare.store.photo_folder import PhotoFolder
from fleetcare.store.put_back import put_back
from fleetcare.store.sql_store import SqlStore, open_store
from tests.contracts import karst_ridge as kr
from tests.contracts.karst_ridge import CHANGE, everything, settle_in
from tests.store.writer import ROOT, start

NOW = datetime(2026, 4, 14, 6, 30, tzinfo=UTC)
KEPT = ("settings.toml", "config")
UNDER_LOAD = int(os.environ.get("FLEETCARE_BACKUPS", "8"))


def quiet(_what: str, _done: int, _of: int) -> None:
    """Tells nobody."""


def filled(url: str, home: Path) -> SqlStore:
    """A store with a garage and a reading, in a home with settings, an own book and a photo."""
    store = open_store(url)
    settle_in(store)
    with store.write(CHANGE) as unit:
        unit.add_readings([kr.reading("84210", on=kr.TODAY)])
    home.mkdir(exist_ok=True)
    (home / "settings.toml").write_text("[web]\nport = 8700\n", encoding="utf-8")
    (home / "config").mkdir()
    (home / "config" / "interval_book.toml").write_text("# own rows\n", encoding="utf-8")
    Image.new("RGB", (8, 8), "white").save(home / "picture.jpg")
    PhotoFolder(home / "photos").keep((home / "picture.jpg").read_bytes())
    return store


def back_up(store: SqlStore, home: Path, path: Path) -> Contents:
    return make_backup(store, home, path, now=NOW, kept=KEPT, progress=quiet)


def restore(path: Path, home: Path, url: str, *, over: bool = False) -> tuple[Path, ...]:
    taken: list[Path] = []

    def take_up(store: SqlStore, folder: Path) -> None:
        with store.read() as view:
            assert view.garage() == kr.GARAGE
        taken.append(folder)

    _, kept = put_back(path, home, database=url, now=NOW, over=over, take_up=take_up, progress=quiet)
    assert len(taken) == 1
    assert not taken[0].exists(), "nothing is left lying about"
    return kept


def shown(url: str) -> tuple[object, ...]:
    with closing(open_store(url)) as store, store.write(CHANGE) as unit:
        return everything(unit)


def test_a_garage_comes_back_on_the_same_database_and_on_the_other(
    database_url: str, sqlite_url: str, empty_postgres_url: str, tmp_path: Path
) -> None:
    home = tmp_path / "home"
    store = filled(database_url, home)
    made = back_up(store, home, tmp_path / "garage.zip")
    store.close()
    assert made.rows["vehicle"] == 3
    assert made.photos == 1
    with zipfile.ZipFile(tmp_path / "garage.zip") as file:
        assert file.testzip() is None
        assert "picture.jpg" not in file.namelist(), "only what belongs to a garage"
    before = shown(database_url)
    for number, url in enumerate((f"sqlite:///{tmp_path / 'new.sqlite3'}", empty_postgres_url)):
        new_home = tmp_path / f"home-{number}"
        assert restore(tmp_path / "garage.zip", new_home, url) == ()
        assert shown(url) == before
        assert (new_home / "settings.toml").read_text("utf-8") == "[web]\nport = 8700\n"
        assert (new_home / "config" / "interval_book.toml").is_file()
        assert PhotoFolder(new_home / "photos").names() == PhotoFolder(home / "photos").names()
        assert not [path for path in new_home.iterdir() if path.name.startswith(".")]
        # Numbers that the database counts out go on above those that came back.
        with closing(open_store(url)) as again:
            with again.write(CHANGE) as unit:
                unit.add_readings([kr.reading("84300", on=kr.TODAY)])
            with again.read() as view:
                assert len(view.readings()) == 2


def test_a_backup_and_a_new_home_are_for_their_owner_alone(sqlite_url: str, tmp_path: Path) -> None:
    store = filled(sqlite_url, tmp_path / "home")
    back_up(store, tmp_path / "home", tmp_path / "garage.zip")
    store.close()
    restore(tmp_path / "garage.zip", tmp_path / "new", f"sqlite:///{tmp_path / 'new' / DATABASE}")
    for path in (tmp_path / "garage.zip", tmp_path / "new"):
        assert path.stat().st_mode & 0o077 == 0, f"{path.name} may hold the password of a mailbox"


def test_a_disk_that_knows_no_second_names_takes_a_backup_too(
    sqlite_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    store = filled(sqlite_url, tmp_path / "home")
    monkeypatch.setattr(os, "link", refused)
    back_up(store, tmp_path / "home", tmp_path / "garage.zip")
    store.close()
    made = unpack(tmp_path / "garage.zip", tmp_path / "unpacked", progress=quiet)
    assert made.rows["vehicle"] == 3
    assert sorted(path.name for path in tmp_path.glob("*garage.zip*")) == ["garage.zip"], "nothing is left lying about"


def test_backups_made_under_load_are_whole_and_lose_nothing_acknowledged(sqlite_url: str, tmp_path: Path) -> None:
    store = filled(sqlite_url, tmp_path / "home")
    process = start("readings", sqlite_url)
    assert process.stdout is not None
    pipe = process.stdout
    said = [int(pipe.readline())]  # it runs

    def listen() -> None:
        said.extend(int(line) for line in pipe)

    listener = threading.Thread(target=listen)
    listener.start()
    try:
        for number in range(UNDER_LOAD):
            time.sleep(0.05)
            acknowledged = len(said)
            path = tmp_path / f"{number}.zip"
            back_up(store, tmp_path / "home", path)
            folder = tmp_path / str(number)
            folder.mkdir()
            unpack(path, folder, progress=quiet)  # proves the file, every table and every row count
            with closing(open_store(f"sqlite:///{folder / DATABASE}")) as copy, copy.read() as view:
                values = [float(one.value) for one in view.readings() if one.value != 84210]
            whole = {int(value) for value in values if value % 1 == 0}
            assert {int(value) for value in values if value % 1} == whole, "units are all or nothing"
            assert len(whole) >= acknowledged, "what was acknowledged before it began is in it"
    finally:
        process.kill()
        listener.join()
        process.communicate()
        store.close()
    assert len(said) > 8, "it wrote while copies were made"


def _cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-200])


def _bit(path: Path) -> None:
    """One bit of the database inside turned over, with the zip's own checksum put right for it."""
    with zipfile.ZipFile(path) as file:
        pieces = {name: file.read(name) for name in file.namelist()}
    content = bytearray(pieces[DATABASE])
    content[len(content) // 2] ^= 1
    _again(path, {**pieces, DATABASE: bytes(content)})


def _rows(path: Path) -> None:
    """A database that is whole, with a row less than the list of contents says."""
    with zipfile.ZipFile(path) as file:
        pieces = {name: file.read(name) for name in file.namelist()}
    told = json.loads(pieces[CONTENTS])
    told["rows"]["vehicle"] += 1
    _again(path, {**pieces, CONTENTS: json.dumps(told).encode()})


def _climbs(path: Path) -> None:
    with zipfile.ZipFile(path) as file:
        pieces = {name: file.read(name) for name in file.namelist()}
    told = json.loads(pieces[CONTENTS])
    told["files"].append({"name": "../../out.txt", "bytes": 1, "sha256": ""})
    _again(path, {**pieces, CONTENTS: json.dumps(told).encode(), "../../out.txt": b"x"})


def _newer(path: Path) -> None:
    with zipfile.ZipFile(path) as file:
        pieces = {name: file.read(name) for name in file.namelist()}
    told = json.loads(pieces[CONTENTS])
    told["form"] = 2
    _again(path, {**pieces, CONTENTS: json.dumps(told).encode()})


def _missing(path: Path) -> None:
    with zipfile.ZipFile(path) as file:
        pieces = {name: file.read(name) for name in file.namelist() if name != "settings.toml"}
    _again(path, pieces)


def _other(path: Path) -> None:
    _again(path, {"notes.txt": b"not ours"})


def _again(path: Path, pieces: dict[str, bytes]) -> None:
    with zipfile.ZipFile(path, "w") as file:
        for name, content in pieces.items():
            file.writestr(name, content)


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (_cut, "is not whole: it is no whole zip file"),
        (_bit, f"is not whole: {DATABASE} in it is not as it was written"),
        (_rows, "is not whole: its database does not hold the rows it should"),
        (_climbs, "is not whole: its list of contents names files that cannot be"),
        (_newer, "made by a newer fleetcare"),
        (_missing, "is not whole: settings.toml is not in it"),
        (_other, "is no backup of a garage"),
        (Path.unlink, "There is no file"),
    ],
)
def test_a_spoilt_backup_is_named_and_changes_nothing(
    sqlite_url: str, tmp_path: Path, spoil: Callable[[Path], None], said: str
) -> None:
    with closing(filled(sqlite_url, tmp_path / "home")) as store:
        back_up(store, tmp_path / "home", tmp_path / "garage.zip")
    spoil(tmp_path / "garage.zip")
    before = sorted(path for path in tmp_path.rglob("*"))
    with pytest.raises(BadInput, match=said):
        restore(tmp_path / "garage.zip", tmp_path / "home", sqlite_url, over=True)
    with closing(open_store(sqlite_url)) as store, store.read() as view:
        assert view.garage() == kr.GARAGE
    assert sorted(path for path in tmp_path.rglob("*") if path.suffix not in (".sqlite3-wal", ".sqlite3-shm")) == [
        path for path in before if path.suffix not in (".sqlite3-wal", ".sqlite3-shm")
    ]
    assert not (tmp_path.parent / "out.txt").exists()


def test_a_garage_that_is_there_is_replaced_only_if_asked_and_then_kept(sqlite_url: str, tmp_path: Path) -> None:
    home = tmp_path / "home"
    with closing(filled(sqlite_url, home)) as store:
        back_up(store, home, tmp_path / "garage.zip")
        with store.write(CHANGE) as unit:
            unit.add_readings([kr.reading("84999", on=kr.TODAY)])
        (home / "config" / "interval_book.toml").write_text("# newer rows\n", encoding="utf-8")
        with pytest.raises(Clash, match="There is a garage in"):
            restore(tmp_path / "garage.zip", home, sqlite_url)
        # Another program has it open all the while.
        kept = restore(tmp_path / "garage.zip", home, sqlite_url, over=True)
        with store.read() as view:
            assert [float(one.value) for one in view.readings()] == [84210.0]
    book, database = kept
    assert book.read_text("utf-8") == "# newer rows\n"
    with closing(sqlite3.connect(database)) as raw:
        assert raw.execute("SELECT count(*) FROM reading").fetchone() == (2,)


def test_rows_are_not_put_on_top_of_others(sqlite_url: str, postgres_url: str, tmp_path: Path) -> None:
    with closing(filled(sqlite_url, tmp_path / "home")) as store:
        back_up(store, tmp_path / "home", tmp_path / "garage.zip")
    with closing(open_store(postgres_url)) as there:
        settle_in(there)
    before = shown(postgres_url)
    with pytest.raises(StoreTrouble, match="holds something already"):
        restore(tmp_path / "garage.zip", tmp_path / "other", postgres_url, over=True)
    assert shown(postgres_url) == before


def test_a_backup_is_never_written_over_a_file(sqlite_url: str, tmp_path: Path) -> None:
    path = tmp_path / "garage.zip"
    path.write_bytes(b"somebody's own")
    with closing(filled(sqlite_url, tmp_path / "home")) as store, pytest.raises(BadInput, match="is there already"):
        back_up(store, tmp_path / "home", path)
    assert path.read_bytes() == b"somebody's own"


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_cannot_be_written_to_is_said(sqlite_url: str, tmp_path: Path) -> None:
    closed = tmp_path / "closed"
    closed.mkdir(mode=0o500)
    with (
        closing(filled(sqlite_url, tmp_path / "home")) as store,
        pytest.raises(StoreTrouble, match="cannot be written"),
    ):
        back_up(store, tmp_path / "home", closed / "garage.zip")


def test_a_restore_that_is_killed_can_be_given_again(tmp_path: Path) -> None:
    """Killed at moments all through it: the home holds no garage or the whole one; the command can be given again."""
    with closing(filled(f"sqlite:///{tmp_path / 'first.sqlite3'}", tmp_path / "home")) as store:
        back_up(store, tmp_path / "home", tmp_path / "garage.zip")
    words = [
        sys.executable,
        "-c",
        "from fleetcare.cli import main; main()",
        "restore",
        str(tmp_path / "garage.zip"),
        "--home",
    ]
    whole = 0
    began = time.monotonic()
    subprocess.run([*words, str(tmp_path / "timed")], cwd=ROOT, check=True, capture_output=True)
    took_s = time.monotonic() - began
    for number in range(10):
        new_home = tmp_path / f"new-{number}"
        process = subprocess.Popen([*words, str(new_home)], cwd=ROOT, stdout=subprocess.DEVNULL)
        time.sleep(took_s * (0.35 + 0.06 * number))
        process.kill()
        process.wait()
        if subprocess.run([*words, str(new_home)], cwd=ROOT, capture_output=True).returncode != 0:
            whole += 1  # "There is a garage already": it had come to its end
        with closing(open_store(f"sqlite:///{new_home / 'fleetcare.sqlite3'}")) as store, store.read() as view:
            assert len(view.vehicles()) == 3
            assert len(view.readings()) == 1
    assert whole < 10, "some were killed on the way"


def test_daily_copies_come_once_a_day_and_the_oldest_go(tmp_path: Path) -> None:
    made: list[Path] = []

    def make(path: Path) -> None:
        made.append(path)
        path.write_bytes(b"whole")

    folder = tmp_path / "backups"
    for day in range(1, 11):
        assert keep_daily_copy(folder, date(2026, 4, day), make, kept=7)
        assert not keep_daily_copy(folder, date(2026, 4, day), make, kept=7)
        (folder / "before-the-engine.zip").write_bytes(b"somebody's own")
    assert len(made) == 10
    assert [path.name for path in copies_in(folder)] == [f"garage-2026-04-{day:02}.zip" for day in range(4, 11)]
    assert (folder / "before-the-engine.zip").is_file()

    def fails(_path: Path) -> None:
        raise StoreTrouble("The disk is away.")

    with pytest.raises(StoreTrouble):
        keep_daily_copy(folder, date(2026, 4, 11), fails, kept=1)
    assert len(copies_in(folder)) == 7, "nothing is thrown away for a copy that was not made"
    shutil.rmtree(folder)
