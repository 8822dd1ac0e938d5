"""The commands `import` and `export`: all of a file or nothing, faults with their lines, and back without loss."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from tests.cli.conftest import Answer, Run, run_in, version_of
from tests.cli.small_garage import READINGS, READINGS_HEAD, write_garage


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """A home with the small garage in it."""
    home = tmp_path / "small"
    answer = run_in(home, "import", str(write_garage(tmp_path / "files")))
    assert (answer.status, answer.err) == (0, ""), answer.err
    return home


def brought(home: Path, path: Path) -> Answer:
    return run_in(home, "import", str(path))


def refused(home: Path, path: Path) -> list[str]:
    """The faults a file is refused with, one a line; nothing of it was taken."""
    version = version_of(home)
    answer = brought(home, path)
    assert (answer.status, answer.out) == (2, "")
    assert version_of(home) == version
    return answer.err.splitlines()


def test_a_folder_is_brought_in_and_counted(tmp_path: Path) -> None:
    answer = brought(tmp_path / "home", write_garage(tmp_path / "files"))
    assert answer.out == "Brought in: 1 person, 1 vehicle, 2 readings.\n"


def test_brought_in_twice_nothing_is_new(small: Path, tmp_path: Path) -> None:
    answer = brought(small, tmp_path / "files")
    assert answer.out == "Brought in: nothing new.\n2 readings stood here already.\n"
    data = run_in(small, "import", str(tmp_path / "files"), "--json").data
    assert data == {"new": dict.fromkeys(data["new"], 0), "known_readings": 2, "held": [], "warnings": []}


def test_one_file_adds_to_what_is_there(small: Path, tmp_path: Path) -> None:
    more = tmp_path / "march.csv"
    more.write_text(READINGS_HEAD + "Pocket,odometer,2021-03-01,12000,km,,noor,used,\n", encoding="utf-8")
    # A file is known by its name, or by its head.
    answer = brought(small, more)
    if answer.status:
        more = more.rename(tmp_path / "readings.csv")
        answer = brought(small, more)
    assert answer.out == "Brought in: 1 reading.\n", answer.err


def test_every_fault_of_a_file_is_named_with_its_line_and_what_to_write_instead(small: Path, tmp_path: Path) -> None:
    bad = tmp_path / "readings.csv"
    rows = (
        "Pocket,odometer,2021-03-01,12k,km,,noor,used,",
        "Pockt,odometer,2021-03-02,12100,km,,noor,used,",
        "Pocket,odometer,2021-02-30,12200,km,,noor,used,",
        "Pocket,odometer,2021-03-04,12300,km,,noor,used,",
    )
    bad.write_text(READINGS_HEAD + "\n".join(rows) + "\n", encoding="utf-8")
    faults = refused(small, bad)
    assert len(faults) == 3
    for line, part, fault in zip((2, 3, 4), ("12k", "Did you mean Pocket?", "28 days"), faults, strict=True):
        assert fault.startswith(f"readings.csv, line {line}: ")
        assert part in fault


def test_a_reading_that_does_not_fit_is_brought_in_held_and_named(small: Path, tmp_path: Path) -> None:
    odd = tmp_path / "readings.csv"
    rows = ("2021-03-01,12000", "2021-04-01,13100", "2021-05-01,1410", "2021-06-01,15000")
    odd.write_text(READINGS_HEAD + "".join(f"Pocket,odometer,{row},km,,noor,used,\n" for row in rows), encoding="utf-8")
    answer = brought(small, odd)
    assert answer.status == 0
    assert "Brought in: 4 readings." in answer.out
    _, _, held = answer.out.partition("Held, because it does not fit: 1 reading.\n")
    assert held.startswith("  Pocket, 2021-05-01, 1410 km: 1 410 km is lower than last time, 13 100 km on 1 April 2021")
    again = run_in(small, "import", str(odd), "--json").data
    assert (again["known_readings"], again["held"]) == (4, [])


def test_the_held_readings_of_a_file_are_told_as_data(small: Path, tmp_path: Path) -> None:
    odd = tmp_path / "readings.csv"
    odd.write_text(READINGS_HEAD + "Pocket,odometer,2021-03-01,120,km,,noor,used,\n", encoding="utf-8")
    (held,) = run_in(small, "import", str(odd), "--json").data["held"]
    assert (held["value"], held["state"]) == ("120", "held")
    assert "lower than last time" in held["why"]


def test_a_day_to_come_is_a_fault(small: Path, tmp_path: Path) -> None:
    bad = tmp_path / "readings.csv"
    bad.write_text(READINGS_HEAD + "Pocket,odometer,2190-03-01,12000,km,,noor,used,\n", encoding="utf-8")
    (fault,) = refused(small, bad)
    assert fault.startswith("readings.csv, line 2: 2190-03-01 is still to come.")


def test_a_fault_in_one_file_of_a_folder_keeps_the_whole_folder_out(tmp_path: Path) -> None:
    folder = write_garage(tmp_path / "files", READINGS + "Pocket,odometer,2021-03-01,nought,km,,noor,used,\n")
    home = tmp_path / "home"
    assert run_in(home, "init").status == 0
    assert len(refused(home, folder)) == 1
    assert "no garage here yet" in run_in(home, "due").sentence


@pytest.mark.parametrize("name", ["nowhere", "nowhere.csv"])
def test_a_path_where_nothing_is_is_said(small: Path, tmp_path: Path, name: str) -> None:
    assert len(refused(small, tmp_path / name)) == 1


def test_files_that_are_none_of_ours_are_refused_in_a_sentence(small: Path, tmp_path: Path) -> None:
    (tmp_path / "picture.toml").write_bytes(b"\x89PNG\r\n\x1a\n\x00\x00")
    assert refused(small, tmp_path / "picture.toml")
    (tmp_path / "list.csv").write_text("a,b,c\n1,2,3\n", encoding="utf-8")
    assert refused(small, tmp_path / "list.csv")


def test_what_is_odd_but_taken_is_said_beside_the_answer(tmp_path: Path) -> None:
    folder = write_garage(tmp_path / "files")
    vehicles = folder / "vehicles.toml"
    # 11111111111111112: the check digit in position 9 would be another (49 CFR 565.15(c)).
    text = vehicles.read_text(encoding="utf-8").replace(
        'unit = "km"\nkeeper', 'unit = "km"\nvin = "11111111111111112"\nkeeper'
    )
    vehicles.write_text(text, encoding="utf-8")
    answer = brought(tmp_path / "home", folder)
    assert answer.status == 0
    assert "check digit" in answer.err
    assert answer.out.startswith("Brought in: ")


BOOK = """
[rows.engine-oil]
reason = "{reason}"
[rows.engine-oil.repeat]
distance = {{ km = 4000 }}
"""


def test_a_book_alone_works_every_date_out_again_and_is_kept_in_the_home(small: Path, tmp_path: Path) -> None:
    before = run_in(small, "explain", "Pocket", "engine oil", "--json").data
    book = tmp_path / "book.toml"
    book.write_text(BOOK.format(reason="dusty roads"), encoding="utf-8")
    answer = brought(small, book)
    assert (answer.status, answer.err) == (0, "")
    own = small / "config" / "interval_book.toml"
    assert "dusty roads" in own.read_text(encoding="utf-8")
    after = run_in(small, "explain", "Pocket", "engine oil", "--json").data
    assert after["wear"] > before["wear"]
    assert any("dusty roads" in step["text"] for step in after["steps"])
    assert after["changes"][0]["why"] == "brought in from book.toml"
    assert run_in(small, "check").status == 0
    book.write_text(BOOK.format(reason="dustier roads"), encoding="utf-8")
    assert brought(small, book).status == 0
    text = own.read_text(encoding="utf-8")
    assert ("dustier roads" in text, "dusty roads" in text) == (True, False)


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("[rows.engine-oil\n", "line 1"),
        ("[rows.engine-oil]\nreason = 'x'\n[rows.engine-oil.repeat]\ndistance = { km = -5 }\n", "line 4"),
        ("[rows.engine-oil]\nreason = 'x'\n[rows.engine-oil.repeat]\ndistanse = { km = 5 }\n", "distance"),
        ("[rows.new-row]\ntitle = 'New'\n", "new-row"),
    ],
)
def test_a_broken_book_changes_nothing(small: Path, tmp_path: Path, text: str, part: str) -> None:
    own = small / "config" / "interval_book.toml"
    before = own.read_bytes() if own.exists() else None
    book = tmp_path / "book.toml"
    book.write_text(text, encoding="utf-8")
    assert part in "\n".join(refused(small, book))
    assert (own.read_bytes() if own.exists() else None) == before


def test_a_book_that_cannot_be_kept_is_not_stored_either(small: Path, tmp_path: Path) -> None:
    book = tmp_path / "book.toml"
    book.write_text(BOOK.format(reason="dusty roads"), encoding="utf-8")
    config = small / "config"
    if config.is_dir():
        config.rename(small / "config-before")
    config.write_text("a file where a folder should be", encoding="utf-8")
    assert len(refused(small, book)) == 1


def test_what_is_written_out_comes_back_without_loss(run: Run, tmp_path: Path) -> None:
    written = run("export", str(tmp_path / "out"), "--json").data["written"]
    assert {Path(path).name for path in written} >= {
        "garage.toml",
        "vehicles.toml",
        "readings.csv",
        "work.csv",
        "book.toml",
    }
    other = tmp_path / "other"
    assert run_in(other, "import", str(tmp_path / "out")).status == 0
    again = run_in(other, "export", str(tmp_path / "again"))
    assert (again.status, len(again.out.splitlines())) == (0, len(written))
    for path in written:
        there = tmp_path / "again" / Path(path).name
        assert there.read_bytes() == Path(path).read_bytes(), there.name


def test_nothing_is_written_over(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "readings.csv").write_text("mine", encoding="utf-8")
    sentence = run("export", str(out)).sentence
    assert "readings.csv" in sentence
    assert "Name an empty folder." in sentence
    assert [path.name for path in out.iterdir()] == ["readings.csv"]
    assert (out / "readings.csv").read_text(encoding="utf-8") == "mine"


def test_a_folder_that_cannot_be_made_is_said(run: Run, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    assert "cannot be written" in run("export", str(tmp_path / "file" / "out")).sentence


def test_a_large_garage_comes_in_in_one_go_and_twice_adds_nothing(tmp_path: Path) -> None:
    """400 vehicles with 30 readings each; how long it took is printed, not judged."""
    names = ["Pocket", *(f"Errand {n}" for n in range(2, 401))]
    rows = []
    for at, name in enumerate(names):
        for month in range(6, 36):
            day = f"{2020 + month // 12:04}-{month % 12 + 1:02}-{3 + at % 20:02}"
            rows.append(f"{name},odometer,{day},{1000 + month * (700 + at)},km,,noor,used,\n")
    files = write_garage(tmp_path / "files", "".join(rows), vehicles=400)
    home = tmp_path / "home"
    began = time.perf_counter()
    first = run_in(home, "import", str(files), "--json")
    took = time.perf_counter() - began
    assert first.status == 0, first.err[:500]
    assert (first.data["new"]["vehicles"], first.data["new"]["readings"]) == (400, 12_000)
    began = time.perf_counter()
    second = run_in(home, "import", str(files), "--json").data
    print(f"400 vehicles x 30 readings: {took:.1f} s, the second time {time.perf_counter() - began:.1f} s")
    assert (set(second["new"].values()), second["known_readings"]) == ({0}, 12_000)


OWN_SHOP = '# since the new lift\n[bays]\nvalue = 2\n\n[[setup]]\nname = "pit"\nminutes = 5\ncost = 1.00\n'


def test_the_workshop_goes_out_with_its_remarks_and_comes_in_again(home: Path, run: Run, tmp_path: Path) -> None:
    own = home / "config" / "workshop.toml"
    own.parent.mkdir(exist_ok=True)
    own.write_text(OWN_SHOP, encoding="utf-8")
    assert run("export", str(tmp_path / "out")).status == 0
    assert (tmp_path / "out" / "workshop.toml").read_text(encoding="utf-8") == OWN_SHOP
    other = tmp_path / "other"
    assert run_in(other, "import", str(tmp_path / "out")).status == 0
    there = other / "config" / "workshop.toml"
    assert there.read_text(encoding="utf-8") == OWN_SHOP
    # by itself, over what is there: one figure is another one, the rest stays
    (tmp_path / "workshop.toml").write_text("[bays]\nvalue = 3\n", encoding="utf-8")
    assert run_in(other, "import", str(tmp_path / "workshop.toml")).status == 0
    assert 'name = "pit"' in there.read_text(encoding="utf-8")
    assert "value = 3" in there.read_text(encoding="utf-8")
    before = there.read_bytes()
    (tmp_path / "workshop.toml").write_text("[bays]\nvalue = 0\n", encoding="utf-8")
    refused = run_in(other, "import", str(tmp_path / "workshop.toml"))
    assert refused.status == 2
    assert "workshop.toml, line 1" in refused.err or "workshop.toml" in refused.err
    assert there.read_bytes() == before
