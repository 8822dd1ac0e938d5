"""From cards to the two twins of a letter: plain text that is complete by itself, and HTML."""

from __future__ import annotations

import re
import textwrap
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from markupsafe import Markup, escape

from fleetcare.digest.cards import ButtonCard, LetterCard
from fleetcare.language import in_force
from fleetcare.language.templates import say_in_language
from fleetcare.wording import THIN_SPACE

PLAIN_COLUMNS = 72

_TO_PLAIN = str.maketrans({THIN_SPACE: " ", "’": "'", "“": '"', "”": '"', "…": "..."})


@cache
def _figures_in(months: tuple[str, ...], days: str) -> re.Pattern[str]:
    """Figures with their unit, days with their month. days: the noun after a count of days, as a pattern."""
    month = "|".join(re.escape(each) for each in months)
    unit = rf"(?: (?:%|mi|km|h|{days}|(?:{month}))(?!\w))?"
    return re.compile(rf"\d+ h \d\d(?!\d)|\d(?:[\d.{THIN_SPACE}]|,(?=\d))*{unit}(?: \d{{4}}(?!\d))?")


def _held() -> re.Pattern[str]:
    names = in_force().names
    return _figures_in((*names.months, *names.months_short), in_force().said_of("day", "days", 2).rstrip("s") + "s?")


def plain_twin(card: LetterCard) -> str:
    """The letter as plain text, wrapped at 72 columns; addresses stand alone on their line, however long."""
    text = _templates().get_template("letter.txt").render(card=card)
    lines = [line if line == "-- " else line.rstrip() for line in text.split("\n")]
    return re.sub(r"\n{4,}", "\n\n\n", "\n".join(lines)).strip("\n") + "\n"


def html_twin(card: LetterCard) -> str:
    """The letter as HTML: tables and inline styles, nothing that is fetched from anywhere."""
    return _templates().get_template("letter.html").render(card=card)


@cache
def _templates() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=select_autoescape(("html",)),
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        undefined=StrictUndefined,
        auto_reload=False,
        extensions=["jinja2.ext.i18n"],
    )
    say_in_language(environment)
    environment.filters |= {"fold": _fold, "figures": _figures, "full_stop": _full_stop, "pressed": _pressed}
    return environment


def _fold(text: str, indent: int = 0) -> str:
    """Wrapped; a figure is never parted from its unit, nor a day from its month."""
    margin = " " * indent
    held_together = _held().sub(lambda match: match[0].replace(" ", "\N{NO-BREAK SPACE}"), text)
    wrapped = textwrap.fill(
        held_together,
        PLAIN_COLUMNS,
        initial_indent=margin,
        subsequent_indent=margin,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return wrapped.replace("\N{NO-BREAK SPACE}", " ").translate(_TO_PLAIN)


def _figures(text: str) -> Markup:
    """Escaped, with each figure held together with its unit or month."""
    pieces, at = [], 0
    for match in _held().finditer(text):
        if " " in match[0] or THIN_SPACE in match[0]:
            pieces += [escape(text[at : match.start()]), _NOWRAP.format(match[0])]
            at = match.end()
    return Markup("").join([*pieces, escape(text[at:])])


_NOWRAP = Markup('<span style="white-space:nowrap">{}</span>')


def _full_stop(text: str) -> str:
    return text if text.endswith(".") else f"{text}."


def _pressed(button: ButtonCard) -> str:
    """The words of a button as a line of text that is followed by its address."""
    return f"{button.words}:"
