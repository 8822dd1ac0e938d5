"""In which language a command answers: as asked, else as the machine is set, else as the garage has it."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from fleetcare.cli.spoken import answering, ask_for, machine_language, speak_as_asked
from fleetcare.errors import BadInput
from fleetcare.language import ENGLISH, Tongues, in_force
from fleetcare.settings.catalogues import LANGUAGES, tongue_of
from fleetcare.settings.new_home import write_new_home
from fleetcare.settings.places import SETTINGS_FILE
from tests.cli.conftest import demo_day, run_in

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


ENGLISH_WORDS = re.compile(
    r"\b(?:the|is|was|are|no|not|and|of|early|likely|late|by|saved|done|date|dates|moved|sheet|for|until|with|nothing)\b",
    re.IGNORECASE,
)


def left_english(out: str) -> list[str]:
    """Lines of an answer that hold words of English, beside commands and what the invented garage wrote itself."""
    own = re.compile(
        r"fleetcare [\w ./-]+|“[^”]*”|„[^“]*“|https?://\S+|Ghost of|by hand|Brake fluid, spring and autumn"
    )
    return [line for line in out.splitlines() if ENGLISH_WORDS.search(own.sub("", line))]


def test_what_keepers_do_by_command_is_told_in_german(home: Path) -> None:
    """One command after another on one home; no line of what they answer holds a word of English."""
    day = demo_day("2026-04-14")
    steps = (
        (("reading", "Bellows", "84210", "--split", "towing=300,daily=rest"), "Gespeichert: Bellows, 84 210 mi, "),
        (("reading", "Bellows", "84210"), "Diese Ablesung steht schon hier."),
        (("done", "Anvil", "rear axle fluid", "--at", "113040"), "Gemacht: Anvil, Hinterachsöl, Deckel neu abdichten."),
        (("event", "Bellows", "immersion"), "Aufgeschrieben: Bellows, Eintauchen."),
        (("layup", "Pocket", "--from", day), "Pocket: steht von "),
        (("find", "anv"), "Fahrzeuge:"),
        (("find", "xyzzy"), "Nichts beginnt wie „xyzzy“."),
        (("look", "Marit", "--light", "night"), "Seiten dunkel."),
        (("letters", "Teo", "--day", "friday", "--hour", "18"), "Teo Lindqvist: freitags um 18:00"),
        (("work", "open", "Anvil", "engine oil", "--on", day), "Angelegt: Blatt "),
        (("work", "list"), "Geplant für "),
        (("shelf",), "75W-140 GL-5: "),
        (("vehicle", "edit", "Anvil", "--name", "Hammer"), "Name: war Anvil, ist Hammer."),
        (("vehicle", "sell", "Plank"), "Plank ist seit "),
        (("token", "Teo", "--list"), "Es gibt keinen Schlüssel."),
        (("calendar", "list"), "Noch wird kein Kalender über seine Adresse gelesen."),
        (("refresh",), "durchgesehen"),
        (("bay", "ink", "PO", "1"), "Pocket: Besuch 1 fest, "),
        (("bay", "rub-out", "PO", "1"), "Pocket: Besuch 1 ist gestrichen."),
        (("bay", "list"), ", vorgemerkt: Lantern, Motoröl"),
        (("plan", "--steps", "5", "--horizon", "60"), "Noch ist nichts eingetragen. Merk es vor mit: fleetcare plan"),
        (("plan", "--steps", "5", "--horizon", "60", "--accept"), "Vorgemerkt: "),
        (("bay", "why", "LA", "1"), ", spätestens "),
    )
    for words, told in steps:
        answer = run_in(home, "--language", "de", *words)
        assert told in answer.out, (words, answer)
        assert left_english(answer.out) == [], words
    # Its values are the garage's own words.
    assert "Übersetzung, gestempelt: 4.10" in run_in(home, "--language", "de", "tag", "AN", "rear-axle").out


def test_english_left_in_an_answer_would_be_seen() -> None:
    assert left_english("Gespeichert: Bellows\n  Motoröl: no date") == ["  Motoröl: no date"]
    assert left_english("Sag es mit: fleetcare layup AN --out DAY") == []


def test_what_is_written_into_files_is_the_same_in_every_language(home: Path, tmp_path: Path) -> None:
    for code in LANGUAGES:
        assert run_in(home, "--language", code, "export", str(tmp_path / code)).status == 0
    english, german = (
        {path.name: path.read_bytes() for path in sorted((tmp_path / code).glob("*.*"))} for code in LANGUAGES
    )
    assert english
    assert english == german
