"""The numbers of the calendars from their file."""

from __future__ import annotations

import re
import tomllib
from dataclasses import fields
from datetime import timedelta
from pathlib import Path
from typing import Any

from fleetcare.calendar_feed.rules import FeedRules
from fleetcare.errors import BadFile, BadInput, Fault, shown
from fleetcare.fleet.feed_choice import FeedAlarm
from fleetcare.language import saying
from fleetcare.settings.reading_files import text_of
from fleetcare.settings.toml_text import TomlText

ALARM = "alarm"
_ALARM_KEYS = {"name", "days_before", "at"}
_KINDS = {f.name: int if f.type == "int" else float for f in fields(FeedRules) if f.name != "alarms"}


def load_feed_rules(shipped: Path, own: Path | None = None) -> FeedRules:
    """The numbers feeds go by: those of `shipped`, and over them those of `own` if that file is there.

    own: may hold only the keys it changes; alarms in it replace the shipped ones. Raises BadFile, with the line of the
    key, for one that is unknown or cannot be.
    """
    given = _numbers(shipped)
    if own is not None and own.is_file():
        given |= _numbers(own)
    return FeedRules(**given)


def _numbers(path: Path) -> dict[str, Any]:
    """Key to figure of one file, tables taken away; checked by itself, so that a fault is found in its own file."""
    document = TomlText(text_of(path), path.name)
    found: dict[str, Any] = {}
    for name, value in tomllib.loads(document.text).items():
        if name == ALARM and isinstance(value, list):
            found["alarms"] = tuple(_alarm(document, path.name, each, place) for place, each in enumerate(value))
            continue
        for key, figure in (value if isinstance(value, dict) else {name: value}).items():
            line = document.line(name, key) if isinstance(value, dict) else document.line(name)
            found[key] = _figure(path.name, line, key, figure)
    try:
        FeedRules(**found)
    except BadInput as bad:
        raise _fault(path.name, _line_of(document, bad.field), bad.what, bad.remedy) from None
    return found


def _figure(file: str, line: int, key: str, figure: object) -> float:
    kind = _KINDS.get(key)
    if kind is None:
        raise _fault(file, line, saying("There is no number called {key}.", key=shown(key)), "Take it out.")
    if isinstance(figure, bool) or not isinstance(figure, (int, kind)):
        raise _fault(file, line, saying("{key} is {figure}.", key=key, figure=shown(str(figure))), "Write a number.")
    return figure


def _alarm(document: TomlText, file: str, given: object, place: int) -> FeedAlarm:
    line = document.line(ALARM, place)
    if not isinstance(given, dict) or set(given) != _ALARM_KEYS:
        raise _fault(file, line, "An alarm has a name, days_before and at.", "Write these three and no others.")
    time = re.fullmatch(r"([01]\d|2[0-3]):([0-5]\d)", str(given["at"]))
    days = given["days_before"]
    if time is None or not isinstance(days, int) or isinstance(days, bool):
        raise _fault(
            file, line, "An alarm rings so many days before, at a time.", 'Write days_before = 1, at = "18:00".'
        )
    name = str(given["name"]).strip()
    if not name or "," in name or name == "off":
        raise _fault(
            file, line, saying("An alarm cannot be called {name}.", name=shown(name)), "Give it a word of its own."
        )
    try:
        return FeedAlarm(name, days, timedelta(hours=int(time[1]), minutes=int(time[2])))
    except BadInput as bad:
        raise _fault(file, line, bad.what, bad.remedy) from None


def _line_of(document: TomlText, key: str) -> int:
    """The line of that key in whatever table it stands; 0 if it is not there."""
    inside = [name for name, value in document.tables.items() if isinstance(value, dict) and key in value]
    return document.line(inside[-1], key) if inside else 0


def _fault(file: str, line: int, what: str, remedy: str) -> BadFile:
    return BadFile([Fault(file, line, what, remedy)])
