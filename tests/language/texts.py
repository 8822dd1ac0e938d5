"""Every text that is looked up, from calls, templates and shipped books; `python -m tests.language.texts` adds them.

The command writes what the German catalogue lacks into it, without a translation, and takes out what nobody looks up.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po, write_po
from jinja2 import Environment

from fleetcare.language import BOOK
from fleetcare.settings.catalogues import catalogue_path
from tests.house.tree import PACKAGE, python_files
from tests.language.books import book_texts

ONE = ("tr", "later", "saying", "from_books")
PAIRS = {"tr_count": (0, 1), "later_count": (0, 1), "counted": (1, 2), "counted_words": (1, 2)}

SENTENCES = {
    **dict.fromkeys(
        (
            *("BadInput", "BadReading", "BadSettings", "BadBook", "BadStep", "BadFinding", "BadPhoto", "Clash"),
            *("NotAllowed", "StoreTrouble", "StoreBusy", "StoreFull", "StoreDamaged", "CalendarTrouble"),
            *("MailboxTrouble", "wrong", "fault", "warning", "bad", "_said"),
        ),
        ((0, 1), ("what", "remedy")),
    ),
    "NotFound": ((0,), ("kind",)),
    "sender_of": ((), ("not_in",)),
    "TagDoubt": ((1, 2), ("what", "instead")),
    "Fault": ((2, 3), ("what", "instead")),
    "_fault": ((2, 3), ()),
    "blame": ((1, 2), ()),
}
"""What says that something is wrong, and which of its arguments are texts: by place, and by name."""

STAY_ENGLISH = (
    *("bayplan/problem", "intake/json_entries", "intake/vehicle_lines", "intake/schedule_files"),  # files of programs
    *("usage/priors", "settings/forecast_file", "settings/tag_band_file", "settings/gear_oil_file"),  # files of figures
    *("settings/job_files", "settings/duty_files", "settings/finding_files", "book/jobs"),
    "web/api",  # what programs are answered
)
"""Files whose sentences on what is wrong reach programs and who writes files of figures for them, and no page."""


@dataclass(frozen=True, slots=True, order=True)
class Text:
    """One text. more: the form for several, empty if it has none. context: for `tr_in`."""

    one: str
    more: str = ""
    context: str = ""


def texts() -> dict[Text, str]:
    """Every text, with the place of its first use."""
    found: dict[Text, str] = {}
    for file in python_files(PACKAGE):
        place = file.relative_to(PACKAGE.parent).as_posix()
        stays = place.removeprefix("fleetcare/").startswith(STAY_ENGLISH)
        for text in _in_python(ast.parse(file.read_text(encoding="utf-8")), with_sentences=not stays):
            found.setdefault(text, place)
    for file in sorted(PACKAGE.rglob("templates/*.html")):
        place = file.relative_to(PACKAGE.parent).as_posix()
        for text in in_template(file.read_text(encoding="utf-8")):
            found.setdefault(text, place)
    for said, place in book_texts().items():
        found.setdefault(Text(said, context=BOOK), place)
    return found


def _in_python(tree: ast.Module, *, with_sentences: bool = True) -> Iterator[Text]:
    """The texts of one file. with_sentences: also those that say what is wrong."""
    named = _named(tree)
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        said = [
            arg.value if isinstance(arg, ast.Constant) and isinstance(arg.value, str) else None for arg in node.args
        ]
        if name in ONE and said and isinstance(said[0], str) and (with_sentences or name != "saying"):
            yield Text(said[0])
        elif name == "tr_in" and len(said) > 1 and isinstance(said[0], str) and isinstance(said[1], str):
            yield Text(said[1], context=said[0])
        elif name in PAIRS and len(said) > PAIRS[name][0]:
            one = said[PAIRS[name][0]]
            more = said[PAIRS[name][1]] if len(said) > PAIRS[name][1] else (one or "") + "s"
            if one is not None and more is not None:
                yield Text(one, more)
        elif with_sentences and name in SENTENCES and getattr(getattr(node.func, "value", None), "id", "") != "log":
            places, names = SENTENCES[name]
            arguments = [node.args[place] for place in places if place < len(node.args)]
            arguments += [given.value for given in node.keywords if given.arg in names]
            for argument in arguments:
                yield from (Text(one) for one in _sentences(argument, named) if name == "NotFound" or " " in one)


def _named(tree: ast.Module) -> dict[str, list[ast.expr]]:
    """Everything that names of a module stand for, by name."""
    found: dict[str, list[ast.expr]] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign):
            for target in node.targets:
                if isinstance(target, ast.Name):
                    found.setdefault(target.id, []).append(node.value)
    return found


def _sentences(argument: ast.expr, named: dict[str, list[ast.expr]]) -> Iterator[str]:
    """What is written out in an argument, in either branch of it, or under the name that is given."""
    if isinstance(argument, ast.Constant) and isinstance(argument.value, str) and argument.value:
        yield argument.value
    elif isinstance(argument, ast.IfExp):
        yield from _sentences(argument.body, named)
        yield from _sentences(argument.orelse, named)
    elif isinstance(argument, ast.Name):
        for value in named.get(argument.id, ()):
            if not isinstance(value, ast.Name):
                yield from _sentences(value, named)


def in_template(source: str) -> Iterator[Text]:
    """The texts of one template."""
    environment: Any = Environment(extensions=["jinja2.ext.i18n"], autoescape=True)
    for _, function, said in environment.extract_translations(source):
        first = said[0] if isinstance(said, tuple) else said
        if function in ("_", "gettext") and isinstance(first, str) and first:
            yield Text(first)
        elif function == "ngettext" and isinstance(said, tuple):
            yield Text(str(said[0]), str(said[1]))


def german() -> Catalog:
    """The German catalogue as it lies in its file."""
    with catalogue_path("de").open("rb") as file:
        return read_po(file, locale="de")


def bring_up_to_date(path: Path) -> tuple[int, int]:
    """Adds the texts that the German catalogue lacks; how many lack a translation, and how many were taken out."""
    old, new, lacking = german(), Catalog(locale="de", project="fleetcare", charset="utf-8", fuzzy=False), 0
    there = texts()
    for text in sorted(there, key=lambda each: (there[each], each)):
        was = old.get(text.one, text.context or None)
        string = was.string if was else ""
        if text.more and not isinstance(string, tuple):
            string = tuple(string) if isinstance(string, list) else ("", "")
        lacking += not (all(string) if isinstance(string, tuple) else string)
        new.add(
            (text.one, text.more) if text.more else text.one,
            string,
            locations=[(there[text], 0)],
            context=text.context or None,
        )
    with path.open("wb") as file:
        write_po(file, new, width=110, omit_header=False, include_lineno=False)
    gone = [m for m in old if m.id and new.get(m.id if isinstance(m.id, str) else m.id[0], m.context) is None]
    return lacking, len(gone)


if __name__ == "__main__":
    lacking, gone = bring_up_to_date(catalogue_path("de"))
    print(f"{lacking} without a translation, {gone} taken out")
