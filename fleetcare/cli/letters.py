"""Command that says when a person's letters come: letters."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Annotated

import typer

from fleetcare.cli.frame import AsJson, Home, command, parts_of, say, show_data
from fleetcare.errors import BadInput, shown
from fleetcare.language import saying

_DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
NEVER = "never"


@command("letters")
def letters(
    person: Annotated[str, typer.Argument(help="A person, by name or key.")],
    day: Annotated[str, typer.Option("--day", help="The weekday of the garage letter, or never.")] = "",
    hour: Annotated[str, typer.Option("--hour", help="The hour of that day, 0 to 23, in the person's own zone.")] = "",
    zone: Annotated[str, typer.Option("--zone", help="The person's time zone, such as Europe/Berlin.")] = "",
    quiet: Annotated[
        str, typer.Option("--quiet", help="Hours in which nothing is begun that has no hour of its own: 21-7, or off.")
    ] = "",
    language: Annotated[
        str, typer.Option("--language", help="The language of pages, letters and calendar: en, de, or none.")
    ] = "",
    by: Annotated[str, typer.Option("--by", help="Who says so, by name or key.")] = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Shows when a person's letters come, or changes it."""
    from fleetcare.actions.choose_letters import LetterChoice, choose_letters, letters_in_words
    from fleetcare.intake.text import clean_text

    wanted = day.strip().casefold()
    if wanted and wanted != NEVER and wanted not in _DAYS:
        raise BadInput(
            saying("{day} is no weekday.", day=shown(day, 40)), remedy="Write out tuesday, say; or never.", field="day"
        )
    choice = LetterChoice(
        weekday=_DAYS.index(wanted) if wanted in _DAYS else None,
        hour=_hour(hour, "hour") if hour else None,
        zone=zone or None,
        quiet=_hours(quiet) if quiet else None,
        never=wanted == NEVER,
    )
    with parts_of(home) as parts:
        if language:
            choice = replace(choice, language=_language(language, parts.tongues.offered))
        now = parts.clock.now()
        who = clean_text(by, field="by")
        came = choose_letters(parts.store, parts.rules, person, choice, now=now, who=who, base_url=parts.base_url)
    if as_json:
        show_data(
            {
                "person": came.key,
                "day": NEVER if came.letter_weekday is None else _DAYS[came.letter_weekday],
                "hour": came.letter_hour,
                "zone": came.zone,
                "language": came.language or None,
                "quiet": None if came.quiet_from == came.quiet_until else [came.quiet_from, came.quiet_until],
            }
        )
    else:
        say(f"{came.name}: {letters_in_words(came)}.")


def _language(text: str, offered: tuple[str, ...]) -> str:
    code = text.strip().casefold()
    if code in ("", "none"):
        return ""
    if code not in offered:
        raise BadInput(
            saying("The language {text_} is not offered here.", text_=shown(text, 20)),
            remedy=saying(
                "There are: {offered}; others by offered in [language] of settings.toml.", offered=", ".join(offered)
            ),
            field="language",
        )
    return code


def _hour(text: str, field: str) -> int:
    if not re.fullmatch("[0-9]{1,2}", text) or int(text) > 23:
        raise BadInput(
            saying("{text_} is no hour of the day.", text_=shown(text, 20)),
            remedy="Give one from 0 to 23.",
            field=field,
        )
    return int(text)


def _hours(text: str) -> tuple[int, int]:
    if text.strip().casefold() == "off":
        return (0, 0)
    first, stroke, last = text.partition("-")
    if not stroke:
        raise BadInput(
            saying("{text_} is no span of hours.", text_=shown(text, 20)),
            remedy="Write it as 21-7, or off.",
            field="quiet",
        )
    return _hour(first.strip(), "quiet"), _hour(last.strip(), "quiet")
