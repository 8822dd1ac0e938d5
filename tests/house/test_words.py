"""Words: the repository stands by itself, and templates use the words of the garage."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.house.tree import PACKAGE, ROOT, repository_files
from tests.house.words import LABELS, seen_text, traces_in, wrong_labels_in

TEMPLATE_ROOMS = ("page", "digest")


def text_of(path: Path) -> str | None:
    """The text of a file, or None if it is not text."""
    raw = path.read_bytes()
    return None if b"\0" in raw else raw.decode("utf-8", "replace")


def templates() -> list[Path]:
    """Everything in the template folders of the rooms that show things, but styles, drawings and scripts."""
    known = {".html", ".txt", ".j2", ".jinja", ".jinja2", ".xml"}
    found = (path for room in TEMPLATE_ROOMS for path in (PACKAGE / room).glob("templates/**/*"))
    return sorted(path for path in found if path.suffix in known)


def test_no_file_knows_the_machine_it_was_written_on() -> None:
    found = [
        f"{path.relative_to(ROOT)}:{line}: {kind}: {word}"
        for path in repository_files()
        for line, kind, word in traces_in(text_of(path) or "")
    ]
    assert found == []


@pytest.mark.parametrize(
    "line",
    [
        "see " + "/wo" + "rk/main/README.md",
        "cd " + "/ho" + "me/ines/fleetcare",
        "as " + "sha" + "red/notes.md says",
        "pip install --extra-index" + "-url https://packages.example/simple x",
        "host = '192.168" + ".0.7'",
    ],
)
def test_a_trace_of_a_machine_is_found(line: str) -> None:
    assert list(traces_in(line))


@pytest.mark.parametrize(
    "line",
    [
        "tests/work/test_record.py and fleetcare/work/record.py",
        "GET /vehicles/AN, /work/12, /work-orders, https://karst.example/work/12",
        "a table shared by two vehicles",
        "http://127.0.0.1:8000/ and 10.4 litres in 192 days",
        "/homecoming and ~/home",
    ],
)
def test_what_only_looks_like_a_trace_passes(line: str) -> None:
    assert list(traces_in(line)) == []


def test_every_document_that_is_named_is_there() -> None:
    """A reader who is sent to a document finds it in the repository."""
    names = {path.name for path in repository_files() if path.suffix == ".md"}
    tests_of_words = ROOT / "tests" / "house"
    sent = {
        (path.relative_to(ROOT).as_posix(), name)
        for path in repository_files()
        if not path.is_relative_to(tests_of_words)
        for name in re.findall(r"(?<![\w*.\"-])\w[\w-]*\.md\b", text_of(path) or "")
    }
    assert {(path, name) for path, name in sent if name not in names} == set()


@pytest.mark.parametrize("room", TEMPLATE_ROOMS)
def test_there_are_templates_to_look_at(room: str) -> None:
    assert any(path.is_relative_to(PACKAGE / room) for path in templates())


def test_templates_use_the_words_of_the_garage() -> None:
    found = {
        path.relative_to(PACKAGE).as_posix(): wrong_labels_in(path.read_text(encoding="utf-8")) for path in templates()
    }
    assert {path: words for path, words in found.items() if words} == {}


@pytest.mark.parametrize("word", LABELS)
def test_a_wrong_label_is_found(word: str) -> None:
    """As text, in any case, and where only a screen reader says it."""
    assert word in wrong_labels_in(f"<h1>{word.capitalize()}</h1>")
    assert word in wrong_labels_in(f'<button aria-label="the {word}">x</button>')
    assert word in wrong_labels_in(f"Plain letter: {word}.")


def test_shouting_is_found() -> None:
    assert wrong_labels_in("<p>Saved!</p>") == ["!"]


def test_what_no_reader_sees_passes() -> None:
    template = """<!doctype html><style>.status { color: red !important }</style>
    <p class="status overdue" id="login">{% if user %}{{ account.error }}{% endif %}{# dashboard #}Past late</p>
    <input type="hidden" value="submit"><p>Healthy, accounted for, fleetcare</p>"""
    assert wrong_labels_in(template) == []
    assert seen_text(template) == "Past late Healthy, accounted for, fleetcare"
