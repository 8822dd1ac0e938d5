"""A new home gets its files once."""

from __future__ import annotations

import re
import stat
from pathlib import Path

import pytest

from fleetcare.errors import BadSettings
from fleetcare.settings.book_files import load_book, parse_rows
from fleetcare.settings.new_home import BOOK_TEXT, write_new_home
from fleetcare.settings.places import OWN_BOOK, SHIPPED_BOOK, shipped_config


def test_files_are_made_once_and_never_written_over(tmp_path: Path) -> None:
    home = tmp_path / "deep" / "home"
    made = write_new_home(home)
    assert made == (home / "settings.toml", home / OWN_BOOK)
    made[0].write_text("mine", encoding="utf-8")
    made[1].unlink()
    assert write_new_home(home) == (home / OWN_BOOK,)
    assert made[0].read_text(encoding="utf-8") == "mine"


def test_a_home_is_for_its_owner_alone(tmp_path: Path) -> None:
    home = tmp_path / "home"
    settings, _ = write_new_home(home)
    assert stat.S_IMODE(home.stat().st_mode) == 0o700
    assert stat.S_IMODE(settings.stat().st_mode) == 0o600


def test_a_home_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    (tmp_path / "home").write_text("a file", encoding="utf-8")
    with pytest.raises(BadSettings, match="--home"):
        write_new_home(tmp_path / "home")


def test_the_book_of_a_new_home_changes_nothing(tmp_path: Path) -> None:
    write_new_home(tmp_path)
    shipped = shipped_config() / SHIPPED_BOOK
    assert load_book(shipped, tmp_path / OWN_BOOK) == load_book(shipped)


def test_the_examples_in_the_book_of_a_new_home_work_as_they_stand(tmp_path: Path) -> None:
    kept = [
        line[2:]
        for line in BOOK_TEXT.splitlines()
        if re.match(r"# (\[|[a-z_]+ = )", line) and not line.startswith("# Distances")
    ]
    own = tmp_path / "book.toml"
    own.write_text("\n".join(kept), encoding="utf-8")
    assert [row.key for row in parse_rows("\n".join(kept), "x")] == ["axle-fluid", "winch-rope"]
    shipped = tmp_path / "shipped.toml"
    shipped.write_text(
        '[rows.axle-fluid]\ntitle = "Axle fluid"\nshort = "axle fluid"\ncomponents = ["rear axle"]\nsource = "x"\n'
        'status = "from memory"\n[rows.axle-fluid.repeat]\ndistance = { mi = 50000 }\n',
        encoding="utf-8",
    )
    book = load_book(shipped, own)
    assert len(book.rows["axle-fluid"].overrides) == 1
    assert book.rows["winch-rope"].rule.after[0].days == 5
