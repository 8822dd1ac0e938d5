"""The commands for work orders: each step says what it did, refuses in one line, and prints data when asked."""

from __future__ import annotations

from pathlib import Path

from PIL import Image

from tests.cli.conftest import Run, demo_day, parts_of_home, run_in, version_of


def opened(run: Run) -> str:
    answer = run(
        "work", "open", "Anvil", "rear axle fluid", "axle vents", "--mechanic", "Teo", "--by", "ines", "--json"
    )
    assert answer.status == 0, answer.err
    return str(answer.data["sheet"])


def test_a_sheet_goes_its_way_from_open_to_closed(run: Run) -> None:
    assert run("work", "list").out == "No sheet is open.\n"
    said = run("work", "open", "AN", "rear-axle-fluid", "axle-vents", "--mechanic", "Teo")
    assert said.out == "Opened: sheet 0001, Rear axle fluid, cover reseal, Axle vents, front and rear.\n"
    assert "0001  Anvil: Rear axle fluid, cover reseal, Axle vents, front and rear. Planned." in run("work", "list").out
    assert run("work", "start", "1", "--mechanic", "ines", "--at", "113050").out == "In hand: sheet 0001.\n"
    assert run("work", "stands", "0001", "--hours", "24").out == "Stands: sheet 0001.\n"
    early = run("work", "start", "1")
    assert "before that no hand goes on. Wait, or say why it can go on earlier." in early.sentence
    assert run("work", "start", "1", "--although", "gasket instead of sealant").status == 0
    closed = run(
        "work",
        *("close", "1", "--at", "113052", "--left", "axle vents=no hose", "--fill", "rear-axle=2.6"),
        *("--out", "rear-axle=2.45", "--torque", "rear-axle/cover bolts=40", "--part", "sealant=1 tube @ 12.90"),
        *("--hands", "Teo=140", "--found", "rear-axle/magnet=flakes", "--found", "rear-axle/pattern/drive side=toe"),
        *("--otherwise", "2=nothing: used gears, same as before", "--signed", "Teo Lindqvist", "--by", "teo"),
    )
    assert closed.status == 0, closed.err
    assert "Closed: sheet 0001, Anvil." in closed.out
    assert "Debris on the magnet: slivers or flakes. More than paste; a surface begins to come off." in closed.out
    assert "Decided otherwise: used gears, same as before." in closed.out
    assert "Rear axle fluid, cover reseal: early" in closed.out
    shown = run("work", "show", "sheet 0001").out
    assert "rear-axle, axle-vents: left: no hose" in shown
    assert "cover bolts: 40 N·m, range 34 to 46" in shown
    assert "Teo: 2 h 20" not in shown
    assert "teo: 2 h 20" in shown
    assert "Gone on before the wait was over: gasket instead of sealant" in shown
    data = run("work", "show", "1", "--json").data
    assert (data["state"], data["end"], data["cost"]) == ("closed", "113052 mi", "12.90")
    assert [found["finding"] for found in data["findings"]] == ["0001-1", "0001-2"]
    assert data["findings"][1]["decided"] == "used gears, same as before"
    assert run("work", "list").out == "No sheet is open.\n"
    assert "Closed" in run("work", "list", "--all").out


def test_a_look_stands_among_what_is_due_until_it_is_settled(run: Run) -> None:
    sheet = opened(run)
    run("work", "close", sheet, "--at", "113052", "--found", "rear-axle/magnet=flakes")
    due = run("due", "--vehicle", "AN").out
    assert "Anvil: Look again: Rear axle, limited slip. Debris on the magnet: slivers or flakes" in due
    explained = run("explain", "AN", f"look-{sheet}-1").out
    assert "Counted from the finding of" in explained
    assert f"sheet {sheet}" in explained
    settled = run("work", "settle", f"{sheet}-1", "--seen", "clean at the second drain")
    assert settled.out.startswith("Settled: Debris on the magnet: slivers or flakes.")
    assert "Look again" not in run("due", "--vehicle", "AN").out
    assert "settle" not in run("work", "settle", f"{sheet}-1", "--seen", "again").err
    assert "is no finding" in run("work", "settle", "nought", "--seen", "x").sentence


def test_looking_shows_what_would_follow_and_saves_nothing(run: Run, home: Path) -> None:
    sheet = opened(run)
    before = version_of(home)
    answer = run("work", "close", sheet, "--found", "rear-axle/magnet=chips", "--fill", "rear-axle=4.1", "--look")
    assert "Would be closed" in answer.out
    assert "Do not drive until it is settled: open it and look inside." in answer.out
    assert "4.1 L went in, more than the 2.6 L of its tag." in answer.out
    data = run("work", "close", sheet, "--found", "rear-axle/magnet=chips", "--look", "--json").data
    assert data["findings"][0]["by_the_book"] == "do not drive"
    assert data["saved"] is False
    assert version_of(home) == before


def test_the_same_sheet_twice_counts_once_and_can_be_put_back(run: Run, home: Path) -> None:
    sheet = opened(run)
    words = ("work", "close", sheet, "--at", "113052", "--hands", "Teo=140")
    assert run(*words).status == 0
    before = version_of(home)
    assert run(*words).out == f"Sheet {sheet} was handed in so already; nothing was changed.\n"
    assert version_of(home) == before
    assert "was handed in already" in run("work", "close", sheet, "--at", "113053").sentence
    assert run("work", "back", sheet).out.startswith(f"Put back: sheet {sheet}, planned.")
    assert "Only a closed one can be put back." in run("work", "back", sheet).sentence
    assert run("work", "defer", sheet, "--until", "2199-01-01", "--because", "waits for sealant").status == 0
    assert "until 1 January 2199: waits for sealant." in run("work", "list").out
    assert run("work", "abandon", sheet, "--because", "sold").out == f"Given up: sheet {sheet}.\n"
    assert "was given up" in run("work", "start", sheet).sentence


def test_a_stage_is_begun_by_its_job_and_key(run: Run, home: Path) -> None:
    sheet = opened(run)
    run("work", "start", sheet)
    parts = parts_of_home(home)
    job = parts.jobs.job_for(parts.rules.book.rows["rear-axle-fluid"], "rear axle")
    parts.close()
    assert job is not None
    first = job.stages[0].key
    assert run("work", "stage", sheet, job.key, first).out == f"Begun: {first}, sheet {sheet}.\n"
    assert run("work", "show", sheet, "--json").data["stages"][0]["stage"] == first
    assert "stage of" in run("work", "stage", sheet, job.key, "flying").sentence


def test_photos_are_kept_without_where_they_were_taken_and_others_are_refused_by_name(
    run: Run, home: Path, tmp_path: Path
) -> None:
    sheet = opened(run)
    picture, words = tmp_path / "magnet.png", tmp_path / "notes.jpg"
    Image.new("RGB", (40, 30), "grey").save(picture)
    words.write_text("not a picture", encoding="utf-8")
    before = version_of(home)
    assert "“notes.jpg” is no photo" in run("work", "close", sheet, "--photo", str(words)).sentence
    assert "gone.jpg cannot be read" in run("work", "close", sheet, "--photo", str(tmp_path / "gone.jpg")).sentence
    assert version_of(home) == before
    assert run("work", "close", sheet, "--photo", str(picture)).status == 0
    (name,) = run("work", "show", sheet, "--json").data["photos"]
    kept = home / "photos" / f"{name}.jpg"
    assert kept.read_bytes()[:2] == b"\xff\xd8"
    assert kept.stat().st_mode & 0o077 == 0


def test_what_cannot_be_is_refused_in_one_line(run: Run, home: Path) -> None:
    sheet = opened(run)
    before = version_of(home)
    for words, said in (
        (("close", sheet, "--start", "113052", "--at", "113051"), "A dial does not run backwards"),
        (("close", sheet, "--found", "magnet=flakes"), "does not say what was found where"),
        (("close", sheet, "--found", "rear-axle/pattern=toe"), "where is not said"),
        (("close", sheet, "--fill", "rear-axle"), "Write it like rear-axle=2.6."),
        (("close", sheet, "--out", "rear-axle=2"), "Nothing is said to have gone into rear-axle."),
        (("close", sheet, "--torque", "rear-axle/cover bolts=40 bananas"), "is no torque"),
        (("close", sheet, "--torque", "cover bolts=40"), "does not say what was tightened"),
        (("close", sheet, "--torque", "rear-axle/cover bolts=400"), "is outside of 34 to 46"),
        (("close", sheet, "--hands", "Teo=lots"), "Write a whole number"),
        (("close", sheet, "--otherwise", "1=nothing: x"), "none of the findings"),
        (("close", "one"), "is no number of a sheet"),
        (("close", "77"), "There is no sheet called “0077”"),
        (("defer", sheet, "--until", demo_day("2026-04-01"), "--because", "x"), "is not ahead"),
        (("stands", sheet), "it cannot be standing from there. Start it first."),
        (("open", "AN", "rear axle fluid"), f"stands on sheet {sheet} already"),
        (("open", "AN", "wings"), "There is no service on Anvil called “wings”"),
        (("stands", sheet, "--hours", "3", "--until", "2026-05-01T10:00:00Z"), "Give --hours or --until"),
    ):
        assert said in run("work", *words).sentence, words
    assert version_of(home) == before
    assert run("work").out.startswith("\n Usage: fleetcare work") or "work" in run("work").out


def test_sheets_findings_and_photos_go_out_as_files_and_come_back_without_loss(
    run: Run, home: Path, tmp_path: Path
) -> None:
    sheet = opened(run)
    picture = tmp_path / "magnet.png"
    Image.new("RGB", (40, 30), "grey").save(picture)
    words = ("--at", "113052", "--left", "axle vents=no hose", "--found", "rear-axle/magnet=flakes")
    assert run("work", "close", sheet, *words, "--photo", str(picture), "--hands", "Teo=140").status == 0
    run("work", "open", "BE", "rear axle fluid")
    out, again, other = tmp_path / "out", tmp_path / "again", tmp_path / "other"
    assert run("export", str(out)).status == 0
    assert run_in(other, "init").status == 0
    came = run_in(other, "import", str(out))
    assert came.status == 0, came.err
    parts, theirs = parts_of_home(home), parts_of_home(other)
    try:
        with parts.store.read() as mine, theirs.store.read() as view:
            assert view.orders() == mine.orders()
            assert view.found() == mine.found()
            assert view.windows(("AN", "BE")) == mine.windows(("AN", "BE"))
        assert theirs.photos.names() == parts.photos.names() != ()
    finally:
        parts.close()
        theirs.close()
    assert run_in(other, "export", str(again)).status == 0
    assert (again / "orders.toml").read_bytes() == (out / "orders.toml").read_bytes()
    before = version_of(other)
    assert run_in(other, "import", str(out / "orders.toml")).status == 0
    assert version_of(other) >= before
    text = (out / "orders.toml").read_text(encoding="utf-8").replace("no hose", "other words")
    (tmp_path / "changed.toml").write_text(text, encoding="utf-8")
    assert (
        f"Sheet {sheet} stands here already, and not so."
        in run_in(other, "import", str(tmp_path / "changed.toml")).sentence
    )


def test_the_history_of_a_vehicle_is_written_in_words_as_a_table_and_as_data(run: Run) -> None:
    sheet = opened(run)
    run("work", "close", sheet, "--at", "113052", "--found", "rear-axle/magnet=flakes", "--signed", "Teo")
    words = run("history", "Anvil").out
    assert "VIN or serial number" in words
    assert "Found: Debris on the magnet: slivers or flakes" in words
    table = run("history", "AN", "--csv").out
    assert table.startswith("vehicle,vin,kind,day,due_early,due_likely,due_late,component,nature,reading,unit,by")
    data = run("history", "AN", "--json").data
    assert {row["kind"] for row in data} == {"coming", "done", "found"}
    assert len(data) == table.count("\n") - 1
