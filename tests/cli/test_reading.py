"""The command `reading`: what is taken, asked about and refused, and what is said of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.conftest import Run, demo_day, version_of

NEAR = demo_day("2026-04-13")
"""Two weeks after Anvil's last reading, 112 640 mi on 31 March of the files; in the past whatever weekday it is."""


def test_a_reading_is_saved_and_the_dates_that_moved_are_named(run: Run) -> None:
    answer = run("reading", "Anvil", "113 300", "--on", NEAR)
    assert (answer.status, answer.err) == (0, "")
    saved, *moved = answer.out.splitlines()
    assert saved.startswith("Saved: Anvil, 113 300 mi, ")
    assert any("early" in line and "likely" in line and ", was " in line for line in moved)


def test_as_data_the_reading_comes_with_the_lines_it_moved(run: Run) -> None:
    data = run("reading", "AN", "113300", "--on", NEAR, "--split", "towing=300,daily=rest", "--json").data
    assert (data["reading"]["vehicle"], data["reading"]["value"], data["reading"]["unit"]) == ("AN", "113300", "mi")
    # 660 mi since the reading before: 300 towing, 360 daily.
    assert data["reading"]["split"] == pytest.approx({"towing": 300 / 660, "daily": 360 / 660})
    assert data["known"] is False
    assert {line["vehicle"] for line in data["moved"]} == {"AN"}
    assert all(line["early"] <= line["likely"] <= line["late"] for line in data["moved"])


def test_the_same_reading_twice_is_one_reading(run: Run, home: Path) -> None:
    first = run("reading", "Anvil", "113300", "--on", NEAR)
    version = version_of(home)
    again = run("reading", "Anvil", "113,300", "--on", NEAR)
    assert (first.status, again.status) == (0, 0)
    assert again.out == "Anvil: that reading stands here already.\n"
    assert run("reading", "Anvil", "113300", "--on", NEAR, "--json").data["known"] is True
    assert version_of(home) == version


def test_a_reading_in_the_other_unit_is_kept_as_it_was_given(run: Run) -> None:
    # 113 300 mi are 182 338.7 km (1 mi = 1.609344 km exactly: international yard and pound agreement, 1959).
    data = run("reading", "Anvil", "182339", "--unit", "km", "--on", NEAR, "--json").data
    assert (data["reading"]["value"], data["reading"]["unit"]) == ("182339", "km")


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (("Anvyl", "113300"), "Did you mean Anvil?"),
        (("Zzz", "113300"), "There is no vehicle called “Zzz”."),
        (("Anvil", "84k"), "Digits only, please."),
        (("Anvil", ""), "Type what the dial shows"),
        (("Anvil", "84,21"), "can be read in two ways"),
        (("Anvil", "-5"), "never shows less than nought"),
        (("Anvil", "-113300"), "never shows less than nought"),
        (("Anvil", "--", "-5"), "never shows less than nought"),
        (("Anvil", "NaN"), "not a number"),
        (("Anvil", "1e6"), "not a number"),
        (("Anvil", "٤٢"), "not a number"),
        (("Anvil", "1000000"), "Anvil: "),
        (("Anvil", "9999999999999"), "longer than any dial"),
        (("Anvil", "113300", "--on", "2190-01-01"), "still to come"),
        (("Anvil", "113300", "--on", "yesterday"), "not a day"),
        (("Anvil", "113300", "--on", "2026-02-30"), "February 2026 has 28 days"),
        (("Anvil", "113300", "--on", "3/4/2026"), "can be read in two ways"),
        (("Anvil", "113300", "--unit", "miles"), "km, mi, h"),
        (("Anvil", "113300", "--hours"), "no meter on Anvil"),
        (("Plank", "100"), "no meter on Plank"),
        (("Anvil", "113300", "--split", "towin=300"), "Did you mean towing?"),
        (("Anvil", "113300", "--split", "towing=9000,daily=rest"), "more than the"),
        (("Anvil", "113300", "--split", "towing=-3"), "duty split"),
        (("Anvil", "113300", "--really", "yes"), "as-read, changed, wrong-last"),
    ],
)
def test_what_cannot_be_taken_is_refused_in_one_sentence_and_changes_nothing(
    run: Run, home: Path, words: tuple[str, ...], part: str
) -> None:
    version = version_of(home)
    # `--on` before `--`: the last one given counts, so a case's own wins.
    assert part in run("reading", "--on", NEAR, *words).sentence
    assert version_of(home) == version


def test_a_doubtful_reading_is_asked_about_with_a_guess_and_the_ways_on(run: Run, home: Path) -> None:
    version = version_of(home)
    sentence = run("reading", "Anvil", "131300", "--on", NEAR).sentence
    assert "113 300" in sentence, "two digits exchanged are guessed"
    assert "--really changed (the meter) or wrong-last." in sentence, "nobody drives 18 660 miles in two weeks"
    assert version_of(home) == version
    sentence = run("reading", "Anvil", "118300", "--on", NEAR).sentence
    assert "113 300" in sentence
    assert "--really as-read, changed (the meter) or wrong-last." in sentence
    assert version_of(home) == version


def test_a_vehicle_that_really_ran_far_is_believed(run: Run) -> None:
    day = NEAR
    assert "were expected" in run("reading", "Anvil", "118000", "--on", day).sentence
    answer = run("reading", "Anvil", "118000", "--on", day, "--really", "as-read")
    assert (answer.status, answer.err) == (0, "")
    assert "Saved: Anvil, 118 000 mi" in answer.out


def test_a_held_reading_is_settled_by_its_value(run: Run, home: Path) -> None:
    """The demo's one held reading: Lantern's 173 250 for 137 250."""
    answer = run("reading", "Lantern", "173250", "--held", "guess", "--by", "teo")
    assert (answer.status, answer.err) == (0, "")
    assert answer.out.startswith("Settled: Lantern, 137 250 mi in place of 173 250 mi.\n")
    version = version_of(home)
    assert "There is no held reading" in run("reading", "Lantern", "173250", "--held", "wrong").sentence
    assert version_of(home) == version


def test_a_held_reading_can_be_set_aside_and_told_as_data(run: Run, home: Path) -> None:
    assert "right, wrong, guess" in run("reading", "Lantern", "173250", "--held", "perhaps").sentence
    assert "does not lie between" in run("reading", "Lantern", "173250", "--held", "right").sentence
    data = run("reading", "LA", "173,250", "--held", "wrong", "--json").data
    assert (data["reading"]["state"], data["instead"]) == ("superseded", None)


def test_no_word_makes_a_dial_run_backwards(run: Run, home: Path) -> None:
    version = version_of(home)
    assert "lower than last time" in run("reading", "Anvil", "100000", "--on", NEAR, "--really", "as-read").sentence
    assert version_of(home) == version


def test_a_changed_meter_counts_on_from_the_new_dial(run: Run) -> None:
    answer = run("reading", "Anvil", "20", "--on", NEAR, "--really", "changed")
    assert (answer.status, answer.err) == (0, "")
    share = {line["service"]: line["wear_by_reading"] for line in run("due", "--vehicle", "AN", "--json").data}
    assert share["engine-oil"] > 0.3, "the distance before the change still counts"


def test_a_wrong_last_reading_is_set_aside_for_the_new_one(run: Run) -> None:
    answer = run("reading", "Anvil", "112000", "--on", NEAR, "--really", "wrong-last", "--json")
    assert answer.status == 0, answer.err
    assert answer.data["reading"]["value"] == "112000"
    assert run("check").status == 0


def test_a_past_reading_that_fits_between_two_is_taken(run: Run) -> None:
    # 111 380 mi on 28 February and 112 640 mi on 31 March of the files.
    answer = run("reading", "Anvil", "112000", "--on", demo_day("2026-03-15"))
    assert (answer.status, answer.err) == (0, "")


@pytest.mark.parametrize("value", ["111000", "112700"])
def test_a_past_reading_that_does_not_fit_between_two_names_both(run: Run, value: str) -> None:
    sentence = run("reading", "Anvil", value, "--on", demo_day("2026-03-15")).sentence
    assert "111 380" in sentence
    assert "112 640" in sentence
