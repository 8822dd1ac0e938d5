"""In which language a command answers: as asked, else as the machine is set, else as the garage has it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from fleetcare.cli.spoken import answering, ask_for, machine_language, speak_as_asked
from fleetcare.errors import BadInput
from fleetcare.language import ENGLISH, Tongues, in_force
from fleetcare.settings.catalogues import LANGUAGES, tongue_of
from fleetcare.settings.new_home import write_new_home
from fleetcare.settings.places import SETTINGS_FILE
from tests.cli.conftest import run_in

ENGLISH_GARAGE = Tongues("en", LANGUAGES, tongue_of)
GERMAN_GARAGE = Tongues("de", ("de", "en"), tongue_of)
ENGLISH_ALONE = Tongues("en", ("en",), tongue_of)


# Which variable wins: POSIX.1-2017, Base Definitions, 8.2: LC_ALL, then LC_MESSAGES, then LANG; an empty one is none.
@pytest.mark.parametrize(
    ("environ", "code"),
    [
        ({}, ""),
        ({"LANG": "de_DE.UTF-8"}, "de-DE"),
        ({"LANG": "de_DE@euro"}, "de-DE"),
        ({"LANG": "C.UTF-8"}, ""),
        ({"LANG": "POSIX"}, ""),
        ({"LANG": "de_DE.UTF-8", "LC_MESSAGES": "en_GB.UTF-8"}, "en-GB"),
        ({"LANG": "de_DE.UTF-8", "LC_MESSAGES": "en_GB.UTF-8", "LC_ALL": ""}, "en-GB"),
        ({"LANG": "en_GB.UTF-8", "LC_MESSAGES": "en_GB.UTF-8", "LC_ALL": "de_AT.UTF-8"}, "de-AT"),
        ({"LANG": "de_DE.UTF-8", "LC_ALL": "C"}, ""),
    ],
)
def test_the_language_of_the_machine(environ: dict[str, str], code: str) -> None:
    assert machine_language(environ) == code


@pytest.mark.parametrize(
    ("tongues", "machine", "code"),
    [
        (ENGLISH_GARAGE, "de_DE.UTF-8", "de"),
        (ENGLISH_GARAGE, "fr_FR.UTF-8", "en"),
        (ENGLISH_GARAGE, "C.UTF-8", "en"),
        (ENGLISH_ALONE, "de_DE.UTF-8", "en"),
        (GERMAN_GARAGE, "C.UTF-8", "de"),
        (GERMAN_GARAGE, "en_US.UTF-8", "en"),
    ],
)
def test_a_command_speaks_as_the_machine_if_that_is_offered_else_as_the_garage(
    tongues: Tongues, machine: str, code: str
) -> None:
    with answering(is_data=False):
        assert in_force() is ENGLISH
        speak_as_asked(tongues, {"LANG": machine})
        assert in_force().code == code
    assert in_force() is ENGLISH


def test_data_are_english_whatever_is_asked() -> None:
    with answering(is_data=True):
        speak_as_asked(GERMAN_GARAGE, {"LANG": "de_DE.UTF-8"})
        assert in_force() is ENGLISH


def test_outside_of_a_command_nothing_changes() -> None:
    speak_as_asked(GERMAN_GARAGE, {"LANG": "de_DE.UTF-8"})
    assert in_force() is ENGLISH


def test_due_is_told_in_german_and_its_data_are_not(home: Path) -> None:
    told = run_in(home, "--language", "de", "due", "--vehicle", "Anvil")
    assert (told.status, told.err) == (0, "")
    assert "AN     Anvil: Hinterachsöl, Deckel neu abdichten" in told.out
    assert "früh " in told.out
    assert "early" not in told.out
    by_machine = run_in(home, "due", "--vehicle", "Anvil", env={"LC_ALL": "de_DE.UTF-8"})
    assert by_machine.out == told.out
    asked, plain = (run_in(home, *words, "due", "--json").data for words in (("--language", "de"), ()))
    assert asked == plain
    assert {row["state"] for row in asked} <= {"window ahead", "window open", "past late", "no event recorded"} | {
        row["no_date"] for row in asked
    }


def test_a_language_that_is_not_offered_is_refused_by_name(tmp_path: Path) -> None:
    write_new_home(tmp_path)
    assert (
        "The language “fr” is not offered here. There are: en, de"
        in run_in(tmp_path, "--language", "fr", "check").sentence
    )
    ask_for("de")
    try:
        with answering(is_data=False), pytest.raises(BadInput):
            speak_as_asked(ENGLISH_ALONE, {})
    finally:
        ask_for("")


def test_what_is_wrong_is_told_in_german_also_before_a_home_is_open(home: Path, tmp_path: Path) -> None:
    unknown = run_in(home, "--language", "de", "due", "--vehicle", "Anvyl").sentence
    assert unknown == "Fahrzeug „Anvyl“ gibt es nicht. Meinst du Anvil?"
    before = run_in(tmp_path, "--language", "de", "letters", "Ines", "--day", "someday").sentence
    assert before == "„someday“ ist kein Wochentag. Schreib etwa tuesday aus; oder never."
    write_new_home(tmp_path)
    settings = tmp_path / SETTINGS_FILE
    german = settings.read_text(encoding="utf-8").replace('# garage = "en"', 'garage = "de"')
    settings.write_text(german, encoding="utf-8")
    assert "Wochentag" in run_in(tmp_path, "letters", "Ines", "--day", "someday").sentence
    assert "weekday" in run_in(tmp_path, "letters", "Ines", "--day", "someday", env={"LC_ALL": "en_GB"}).sentence


def test_help_and_the_words_of_data_stay_english(home: Path) -> None:
    assert "Due windows" in run_in(home, "--language", "de", "due", "--help").out
    proof = run_in(home, "--language", "de", "check", "--json")
    assert json.loads(proof.out)["broken"] == []
    assert "every date has its cause in the log" in json.loads(proof.out)["held"]
    assert "jeder Termin hat seine Ursache im Protokoll" in run_in(home, "--language", "de", "check").out
