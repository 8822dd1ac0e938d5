"""The commands backup and restore, and the copy a day that the server makes by itself."""

from __future__ import annotations

import zipfile
from pathlib import Path

from fleetcare.store.daily_copies import copies_in
from fleetcare.timetable import Round
from tests.cli.conftest import Run, parts_of_home, run_in


def test_a_home_goes_into_one_file_and_comes_back(run: Run, home: Path, tmp_path: Path) -> None:
    file = tmp_path / "garage.zip"
    told = run("backup", str(file)).out
    assert f"{file}: 9 vehicles, 206 readings and 0 photos." in told
    assert "password" in told
    new_home = tmp_path / "new"
    answer = run_in(new_home, "restore", str(file), "--json").data
    assert answer["rows"]["vehicle"] == 9
    assert answer["kept"] == []
    for words in (("due", "--json"), ("history", "Anvil", "--csv"), ("bay", "list", "--json")):
        assert run_in(new_home, *words).out == run(*words).out
    assert run_in(new_home, "check").status == 0


def test_calendars_go_on_above_what_was_published_after_the_backup(run: Run, home: Path, tmp_path: Path) -> None:
    assert run("link", "Ines").status == 0
    parts = parts_of_home(home)
    with parts.store.read() as view:
        before = view.feed_era()
    parts.close()
    run("backup", str(tmp_path / "garage.zip"))
    run_in(tmp_path / "new", "restore", str(tmp_path / "garage.zip"))
    again = parts_of_home(tmp_path / "new")
    with again.store.read() as view:
        assert view.feed_era() > before
    again.close()


def test_what_cannot_be_done_is_said_in_one_line(run: Run, home: Path, tmp_path: Path) -> None:
    file = tmp_path / "garage.zip"
    run("backup", str(file))
    assert "is there already; nothing was written" in run("backup", str(file)).sentence
    assert "There is a garage in" in run("restore", str(file)).sentence
    assert "There is no file" in run_in(tmp_path / "new", "restore", str(tmp_path / "none.zip")).sentence
    file.write_text("not a zip file", encoding="utf-8")
    assert "is not whole" in run_in(tmp_path / "new", "restore", str(file)).sentence
    assert not (tmp_path / "new" / "fleetcare.sqlite3").exists()


def test_the_server_keeps_a_copy_a_day_unless_told_not_to(home: Path) -> None:
    parts = parts_of_home(home)
    round_ = Round(parts)
    round_.keep_copy()
    round_.keep_copy()
    (copy,) = copies_in(home / "backups")
    with zipfile.ZipFile(copy) as file:
        assert "garage.sqlite3" in file.namelist()
        assert not any(name.startswith("backups/") for name in file.namelist()), "no backup of backups"
    copy.unlink()
    (home / "backups").rmdir()
    (home / "backups").write_text("in the way", encoding="utf-8")
    round_.keep_copy()
    round_.last_run_at = parts.clock.now()
    assert "the daily backup could not be made: StoreTrouble" in round_.troubles()
    parts.close()

    (home / "backups").unlink()
    (home / "settings.toml").write_text("[backup]\nkept = 0\n", encoding="utf-8")
    parts = parts_of_home(home)
    Round(parts).keep_copy()
    parts.close()
    assert not (home / "backups").exists()
